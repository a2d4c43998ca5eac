"""The encoders: what they take, what they keep, how they are told apart."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from syncview.errors import OutputError
from syncview.media.colour_tags import ColourTags
from syncview.media.encoders import (
    CODINGS,
    ENCODERS,
    QUALITIES,
    EncoderSettings,
    PictureShape,
    as_taken,
    encoder_of,
    fitted,
    settings_for,
)
from syncview.media.film_writer import FilmWriter
from syncview.media.planes import LAYOUTS, plane_rows
from tests.media.ffmpeg_tools import ffprobe_value

SIZE = (128, 96)
SHAPE = PictureShape(*SIZE, "yuv420p", Fraction(1, 25), Fraction(25), ColourTags(1, 1, 1, 1))


def ramp(pixel_format: str, *, full: bool = False) -> av.VideoFrame:
    """Luma from the lowest to the highest sample that the range allows, grey chroma."""
    frame = av.VideoFrame(*SIZE, pixel_format)
    layout = LAYOUTS[pixel_format]
    scale = 1 << (layout.bits - 8)
    low, high = (0, 255 * scale) if full else (16 * scale, 235 * scale)
    luma, *chroma = plane_rows(frame)
    luma[...] = np.linspace(low, high, luma.shape[1]).astype(luma.dtype)
    for plane in chroma:
        plane[...] = 128 * scale
    frame.color_range = 2 if full else 1
    frame.colorspace = 1
    return frame


def write(output: Path, shape: PictureShape, settings: EncoderSettings, frame: av.VideoFrame, count: int = 6) -> None:
    with FilmWriter(output, picture=shape, settings=settings) as writer:
        for number in range(count):
            writer.write_picture(frame, pts=number, duration=1)


def test_every_encoder_takes_what_the_registry_says() -> None:
    """FFmpeg's own lists of the encoders' formats are the outside check."""
    for encoder in ENCODERS:
        offered = [pixel_format.name for pixel_format in av.Codec(encoder.codec, "w").video_formats or []]
        assert set(encoder.pixel_formats) == set(offered) & set(LAYOUTS)


@pytest.mark.parametrize("quality", QUALITIES)
@pytest.mark.parametrize("coding", CODINGS)
@pytest.mark.parametrize(("pixel_format", "suffix"), [("yuv420p", ".mkv"), ("yuv420p10le", ".mp4")])
def test_depth_tags_and_count_are_kept(
    tmp_path: Path, quality: str, coding: str, pixel_format: str, suffix: str
) -> None:
    output = tmp_path / f"film{suffix}"
    colour = ColourTags(9, 1, 9, 16)
    shape = replace(SHAPE, pixel_format=pixel_format, colour=colour)
    write(output, shape, settings_for(quality, coding), ramp(pixel_format))
    entries = "stream=pix_fmt,color_range,color_space,color_transfer,color_primaries"
    assert ffprobe_value(output, entries) == [pixel_format, "tv", "bt2020nc", "smpte2084", "bt2020"]
    with av.open(str(output)) as container:
        frames = list(container.decode(video=0))
    assert len(frames) == 6
    wanted, got = (plane_rows(frame)[0].astype(int) for frame in (ramp(pixel_format), frames[3]))
    assert np.abs(wanted - got).mean() < 3 * (4 if "10" in pixel_format else 1)


@pytest.mark.parametrize("coding", CODINGS)
def test_full_range_stays_full(tmp_path: Path, coding: str) -> None:
    """Black stays 0 and white 255 where the recording is full range, under the newer or the older name."""
    settings = settings_for("archive", coding)
    for name in ("yuv420p", "yuvj420p"):
        output = tmp_path / f"{name}.mp4"
        shape, lost = fitted(replace(SHAPE, pixel_format=name, colour=ColourTags(1, 2, 1, 1)), settings)
        assert lost == ()
        write(output, shape, settings, ramp(name, full=True))
        assert ffprobe_value(output, "stream=color_range") == ["pc"]
        with av.open(str(output)) as container:
            luma = plane_rows(next(container.decode(video=0)))[0]
        assert luma[:, 0].mean() < 3
        assert luma[:, -1].mean() > 252


def test_phones_find_hevc_under_the_name_that_they_play(tmp_path: Path) -> None:
    for suffix, tag in ((".mp4", "hvc1"), (".mov", "hvc1"), (".m4v", "hvc1")):
        write(tmp_path / f"film{suffix}", SHAPE, settings_for("draft", "h265"), ramp("yuv420p"))
        command = ["ffprobe", "-v", "error", "-show_entries", "stream=codec_tag_string", "-of", "csv=p=0"]
        told = subprocess.check_output([*command, str(tmp_path / f"film{suffix}")], text=True)
        assert told.split() == [tag]


def test_nearest_format_says_what_is_lost() -> None:
    av1, h265 = settings_for("web", "av1"), settings_for("web", "h265")
    for given, settings, taken, loses in [
        ("yuv420p", av1, "yuv420p", False),
        ("yuvj420p", av1, "yuv420p", False),
        ("nv12", av1, "yuv420p", False),
        ("nv12", h265, "yuv420p", False),
        ("yuv422p10le", av1, "yuv420p10le", True),
        ("yuv444p", av1, "yuv420p", True),
        ("yuv422p10le", h265, "yuv422p10le", False),
    ]:
        shape, lost = fitted(replace(SHAPE, pixel_format=given), settings)
        assert shape.pixel_format == taken
        assert bool(lost) == loses, given
    assert fitted(replace(SHAPE, pixel_format="yuvj420p"), av1)[0].colour.range == "full"


def test_pictures_are_converted_to_what_the_encoder_takes(tmp_path: Path) -> None:
    """4:2:2 of ten bits and full range, halved to 4:2:0: luma unchanged (swscale does the chroma)."""
    settings = settings_for("archive", "av1")
    given = replace(SHAPE, pixel_format="yuv422p10le", colour=ColourTags(1, 2, 1, 1))
    shape, _lost = fitted(given, settings)
    frame = ramp("yuv422p10le", full=True)
    assert np.array_equal(plane_rows(as_taken(frame, shape.pixel_format))[0], plane_rows(frame)[0])
    write(tmp_path / "film.mp4", shape, settings, frame)
    assert ffprobe_value(tmp_path / "film.mp4", "stream=pix_fmt,color_range") == ["yuv420p10le", "pc"]


def test_last_picture_keeps_its_duration(tmp_path: Path) -> None:
    for coding in CODINGS:
        output = tmp_path / f"{coding}.mp4"
        with FilmWriter(output, picture=SHAPE, settings=settings_for("draft", coding)) as writer:
            for number in range(5):
                writer.write_picture(ramp("yuv420p"), pts=number, duration=50 if number == 4 else 1)
        assert float(ffprobe_value(output, "format=duration")[0]) == pytest.approx(54 / 25, abs=0.002)


def test_what_cannot_be_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no settings"):
        settings_for("best")
    with pytest.raises(ValueError, match="none of"):
        encoder_of(EncoderSettings(codec="libxvid"))
    shape = replace(SHAPE, pixel_format="yuv444p")
    with pytest.raises(ValueError, match="does not take"):
        write(tmp_path / "film.mp4", shape, settings_for("web", "av1"), ramp("yuv444p"))
    squeezed = replace(SHAPE, sample_aspect=Fraction(4, 3))
    with pytest.raises(OutputError, match="not square"):
        write(tmp_path / "film.mkv", squeezed, settings_for("web", "av1"), ramp("yuv420p"))
    write(tmp_path / "film.mp4", squeezed, settings_for("web", "av1"), ramp("yuv420p"))
    assert ffprobe_value(tmp_path / "film.mp4", "stream=sample_aspect_ratio") == ["4:3"]
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


def test_encoders_are_quiet(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """x265 and SVT-AV1 write their settings to the terminal unless told not to."""
    for coding in CODINGS:
        write(tmp_path / f"{coding}.mp4", SHAPE, settings_for("draft", coding), ramp("yuv420p"))
    assert capfd.readouterr() == ("", "")
