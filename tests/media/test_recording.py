"""What a recording says about itself, and what is refused."""

from __future__ import annotations

import shutil
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from syncview.errors import MediaError
from syncview.media.planes import plane_rows
from syncview.media.reading import read_frame_at
from syncview.media.recording import open_recording
from syncview.media.turning import Turn, turned_format, upright
from tests.media.ffmpeg_tools import ffmpeg, ffprobe_value
from tests.media_samples import SoundTrack, make_clip


def test_plain_facts(steady: Path) -> None:
    recording = open_recording(steady)
    assert (recording.width, recording.height) == (320, 180)
    assert (recording.display_width, recording.display_height) == (320, 180)
    assert recording.nominal_rate == 30
    assert not recording.is_variable_rate
    assert recording.duration_s == 2.0
    assert recording.container_start_s == 0.0
    assert recording.size_bytes == steady.stat().st_size
    assert recording.audio is not None
    assert (recording.audio.rate_hz, recording.audio.channels, recording.audio.codec) == (48000, 2, "aac")
    assert recording.audio.start_s == pytest.approx(0, abs=1e-3)
    assert recording.notes == ()


def test_start_stamp_is_kept_beside_media_time(late_matroska: Path) -> None:
    recording = open_recording(late_matroska)
    assert recording.container_start_s == 5.5
    assert recording.frames.media_s(0) == 0


def test_variable_rate_is_seen(variable: Path) -> None:
    assert open_recording(variable).is_variable_rate


@pytest.mark.parametrize("rate", [Fraction(30), Fraction(30000, 1001), Fraction(60), Fraction(25)])
def test_millisecond_ticks_do_not_hide_the_rate(tmp_path: Path, rate: Fraction) -> None:
    path = make_clip(tmp_path / "coarse.mkv", rate=rate, time_base=Fraction(1, 1000), frame_count=200, size=(64, 36))
    recording = open_recording(path)
    assert recording.nominal_rate == rate
    assert not recording.is_variable_rate


def test_colour_tags(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "tagged.mp4", colour=(1, 1, 1, 1), frame_count=5)
    recording = open_recording(path)
    assert ffprobe_value(path, "stream=color_space,color_range,color_primaries,color_transfer") == [
        "tv", "bt709", "bt709", "bt709",
    ]  # fmt: skip
    colour = recording.colour
    assert (colour.matrix, colour.range, colour.primaries, colour.transfer) == ("bt709", "limited", "bt709", "bt709")
    untagged = open_recording(make_clip(tmp_path / "untagged.mp4", frame_count=5)).colour
    assert (untagged.matrix, untagged.range, untagged.primaries, untagged.transfer) == (None, None, None, None)


def test_sample_aspect_widens_the_display(tmp_path: Path) -> None:
    recording = open_recording(make_clip(tmp_path / "wide.mp4", sample_aspect=Fraction(4, 3), frame_count=5))
    assert (recording.display_width, recording.display_height) == (427, 180)


@pytest.mark.parametrize("ccw_deg", [90, 180, -90])
def test_upright_is_what_ffmpeg_shows(tmp_path: Path, ccw_deg: int) -> None:
    path = make_clip(tmp_path / "turned.mp4", rotation_ccw_deg=ccw_deg, frame_count=5)
    recording = open_recording(path)
    frame = upright(read_frame_at(recording, 0), recording.turn)
    shown = np.frombuffer(ffmpeg("-i", path, "-frames:v", "1", "-f", "rawvideo", "-"), dtype=np.uint8)
    assert recording.rotation_deg == -ccw_deg % 360
    assert np.array_equal(np.asarray(frame.to_ndarray()).ravel(), shown)
    assert (frame.width, frame.height) == (recording.display_width, recording.display_height)


_FILTERS = {
    Turn(90): [("transpose", "clock")],
    Turn(180): [("hflip", ""), ("vflip", "")],
    Turn(270): [("transpose", "cclock")],
    Turn(0, is_mirrored=True): [("hflip", "")],
    Turn(90, is_mirrored=True): [("transpose", "clock"), ("hflip", "")],
}


@pytest.mark.parametrize("pixel_format", ["nv12", "yuv422p", "yuv420p10le", "yuv444p"])
@pytest.mark.parametrize("turn", _FILTERS)
def test_turning_is_what_ffmpegs_filters_do(pixel_format: str, turn: Turn) -> None:
    picture = np.random.default_rng(3).integers(0, 255, (36, 64, 3), dtype=np.uint8)
    frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format=pixel_format)
    made = upright(frame, turn)
    expected = _filtered(frame, _FILTERS[turn])
    assert made.format.name == turned_format(pixel_format, turn)
    pairs = list(zip(plane_rows(made), plane_rows(expected.reformat(format=made.format.name)), strict=True))
    compared = pairs if made.format.name == pixel_format else pairs[:1]
    assert all(np.array_equal(ours, theirs) for ours, theirs in compared)


def _filtered(frame: av.VideoFrame, filters: list[tuple[str, str]]) -> av.VideoFrame:
    graph = av.filter.Graph()
    nodes = [graph.add_buffer(width=frame.width, height=frame.height, format=frame.format, time_base=Fraction(1, 30))]
    nodes += [graph.add(name, arguments) for name, arguments in filters]
    graph.link_nodes(*nodes, graph.add("buffersink")).configure()
    graph.push(frame)
    result = graph.pull()
    assert isinstance(result, av.VideoFrame)
    return result


def test_no_sound(variable: Path) -> None:
    assert open_recording(variable).audio is None


def test_late_sound(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "late.mkv", sound=SoundTrack(beeps_s=(1.0,), start_s=0.5, codec="flac"))
    audio = open_recording(path).audio
    assert audio is not None
    assert audio.start_s == pytest.approx(0.5, abs=2e-3)


def test_cover_art_is_not_the_picture(tmp_path: Path, steady: Path) -> None:
    ffmpeg("-f", "lavfi", "-i", "color=red:s=64x64", "-frames:v", "1", tmp_path / "cover.png")
    ffmpeg(
        "-i", tmp_path / "cover.png", "-i", steady, "-map", "0", "-map", "1", "-c", "copy",
        "-disposition:v:0", "attached_pic", tmp_path / "covered.mp4",
    )  # fmt: skip
    recording = open_recording(tmp_path / "covered.mp4")
    assert (recording.width, len(recording.frames)) == (320, 60)
    ffmpeg(
        "-i", tmp_path / "cover.png", "-i", steady, "-map", "0", "-map", "1:a", "-c", "copy",
        "-disposition:v:0", "attached_pic", tmp_path / "song.m4a",
    )  # fmt: skip
    with pytest.raises(MediaError, match="no moving picture"):
        open_recording(tmp_path / "song.m4a")


def test_files_that_are_no_recordings(tmp_path: Path, steady: Path) -> None:
    (tmp_path / "text.mp4").write_text("Lap 1 1:23.456\n" * 50)
    (tmp_path / "empty.mp4").write_bytes(b"")
    ffmpeg("-i", steady, "-vn", "-c", "copy", tmp_path / "sound.m4a")
    problems = {
        tmp_path / "gone.mp4": "no such file",
        tmp_path: "folder",
        tmp_path / "text.mp4": "not a video file",
        tmp_path / "empty.mp4": "not a video file",
        tmp_path / "sound.m4a": "no moving picture",
    }
    for path, problem in problems.items():
        with pytest.raises(MediaError, match=problem) as caught:
            open_recording(path)
        assert caught.value.where == str(path)
        assert caught.value.remedy


def test_recording_that_was_not_finished(tmp_path: Path, steady: Path) -> None:
    data = steady.read_bytes()
    (tmp_path / "cut.mp4").write_bytes(data[: len(data) // 2])
    with pytest.raises(MediaError, match="table of contents"):
        open_recording(tmp_path / "cut.mp4")


def test_copy_that_broke_off_is_noted(tmp_path: Path) -> None:
    whole = make_clip(tmp_path / "whole.mp4", frame_count=240, options={"movflags": "+faststart"})
    data = whole.read_bytes()
    (tmp_path / "part.mp4").write_bytes(data[: len(data) * 6 // 10])
    recording = open_recording(tmp_path / "part.mp4")
    assert len(recording.frames) < 240
    assert any("cut short" in note for note in recording.notes)


def test_stamps_out_of_order_are_refused(tmp_path: Path, steady: Path) -> None:
    """AVI holds no presentation stamps; with H.264's B frames the order cannot be known from it."""
    ffmpeg("-i", steady, "-an", "-c", "copy", tmp_path / "reordered.avi")
    with pytest.raises(MediaError, match="order of the pictures"):
        open_recording(tmp_path / "reordered.avi")


def test_bare_stream_without_stamps_is_refused(tmp_path: Path, steady: Path) -> None:
    ffmpeg("-i", steady, "-an", "-c", "copy", "-f", "h264", tmp_path / "bare.h264")
    with pytest.raises(MediaError, match="no time stamps"):
        open_recording(tmp_path / "bare.h264")


def test_name_with_unusual_signs(tmp_path: Path, steady: Path) -> None:
    path = tmp_path / "Rundę 3 · 100% #1 %d.mp4"
    shutil.copy(steady, path)
    assert len(open_recording(path).frames) == 60
