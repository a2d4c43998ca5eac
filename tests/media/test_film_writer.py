"""Writing films: all or nothing, read back by ffprobe."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from syncview.errors import Cancelled, OutputError
from syncview.media.colour_tags import ColourTags
from syncview.media.film_writer import DRAFT, FilmWriter, PictureShape, SoundShape
from syncview.media.recording import open_recording
from syncview_codecs.chapters.chapter import Chapter
from tests.media.ffmpeg_tools import ffprobe_frames, ffprobe_value

SHAPE = PictureShape(64, 36, "yuv420p", Fraction(1, 30000), Fraction(30), ColourTags(1, 1, 1, 1), Fraction(4, 3))


def _grey(pixel_format: str) -> av.VideoFrame:
    """A picture of known content: a new frame's memory is not cleared, and x264 aborts on ten-bit samples over 1023."""
    frame = av.VideoFrame(64, 36, pixel_format)
    sample = np.array([512], np.uint16) if pixel_format.endswith("10le") else np.array([128], np.uint8)
    for plane in frame.planes:
        plane.update(np.tile(sample, plane.buffer_size // sample.itemsize).tobytes())
    return frame


def _write(output: Path, *, frame_count: int = 10, sound: SoundShape | None = None, **options: object) -> None:
    with FilmWriter(output, picture=SHAPE, sound=sound, settings=DRAFT, **options) as writer:  # type: ignore[arg-type]
        for number in range(frame_count):
            writer.write_picture(_grey("yuv420p"), pts=number * 1001 + number % 2, duration=1001)
        if sound is not None:
            writer.write_sound(np.zeros((sound.channels, 16000), dtype=np.float32))


@pytest.mark.parametrize("suffix", [".mp4", ".mov", ".mkv"])
def test_stamps_tags_and_chapters_are_kept(tmp_path: Path, suffix: str) -> None:
    output = tmp_path / f"film{suffix}"
    chapters = [Chapter(0, 150, "Anfahrt ↗"), Chapter(150, 300, "Kurve 1 · Kübel")]
    _write(output, sound=SoundShape(48000, 2), chapters=chapters, title="Lesson – one")
    wanted = [Fraction(number * 1001 + number % 2, 30000) for number in range(10)]
    recording = open_recording(output)
    tick = recording.frames.time_base
    assert all(abs(recording.frames.media_s(n) - wanted[n]) <= (tick / 2 if suffix == ".mkv" else 0) for n in range(10))
    assert ffprobe_frames(output) == recording.frames.pts.tolist()
    assert ffprobe_value(output, "stream=sample_aspect_ratio,color_space") == ["4:3", "bt709"]
    command = ["ffprobe", "-v", "error", "-show_chapters", "-show_format", "-of", "json", str(output)]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    assert [(c["start_time"], c["end_time"], c["tags"]["title"]) for c in told["chapters"]] == [
        ("0.000000", "0.150000", "Anfahrt ↗"),
        ("0.150000", "0.300000", "Kurve 1 · Kübel"),
    ]
    assert told["format"]["tags"]["title"] == "Lesson – one"


def test_index_comes_first_for_the_web(tmp_path: Path) -> None:
    _write(tmp_path / "film.mp4")
    data = (tmp_path / "film.mp4").read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")


def test_ten_bits_stay(tmp_path: Path) -> None:
    shape = PictureShape(64, 36, "yuv420p10le", Fraction(1, 30), Fraction(30), ColourTags(2, 0, 2, 2))
    with FilmWriter(tmp_path / "deep.mp4", picture=shape, settings=DRAFT) as writer:
        for number in range(5):
            writer.write_picture(_grey("yuv420p10le"), pts=number, duration=1)
    assert ffprobe_value(tmp_path / "deep.mp4", "stream=pix_fmt") == ["yuv420p10le"]


def test_odd_sound_rates_are_resampled(tmp_path: Path) -> None:
    _write(tmp_path / "film.mp4", sound=SoundShape(50000, 1))
    audio = open_recording(tmp_path / "film.mp4").audio
    assert audio is not None
    assert audio.rate_hz == 48000


@pytest.mark.parametrize("error", [Cancelled(), KeyboardInterrupt(), ZeroDivisionError()])
def test_nothing_is_left_after_a_stop(tmp_path: Path, error: BaseException) -> None:
    output = tmp_path / "film.mp4"
    with pytest.raises(type(error)), FilmWriter(output, picture=SHAPE) as writer:  # noqa: PT012
        writer.write_picture(_grey("yuv420p"), pts=0, duration=1001)
        raise error
    assert list(tmp_path.iterdir()) == []


def test_existing_film_survives_unless_replaced(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    output.write_bytes(b"dear")
    with pytest.raises(OutputError, match="exists already"):
        _write(output)
    with pytest.raises(ZeroDivisionError), FilmWriter(output, picture=SHAPE, overwrite=True):
        raise ZeroDivisionError
    assert output.read_bytes() == b"dear"
    _write(output, overwrite=True)
    assert len(open_recording(output).frames) == 10
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


def test_film_that_appears_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    output = tmp_path / "film.mp4"
    with pytest.raises(OutputError, match="meanwhile"), FilmWriter(output, picture=SHAPE) as writer:  # noqa: PT012
        writer.write_picture(_grey("yuv420p"), pts=0, duration=1001)
        output.write_bytes(b"dear")
    assert output.read_bytes() == b"dear"
    assert len(list(tmp_path.iterdir())) == 1


def test_source_is_never_replaced(tmp_path: Path) -> None:
    source = tmp_path / "onboard.mp4"
    source.write_bytes(b"dear")
    (tmp_path / "link.mp4").symlink_to(source)
    for output in (source, tmp_path / "link.mp4"):
        with pytest.raises(OutputError, match="own source"):
            _write(output, sources=[source], overwrite=True)
    assert source.read_bytes() == b"dear"


def test_bad_targets_say_why(tmp_path: Path) -> None:
    (tmp_path / "folder.mp4").mkdir()
    file = tmp_path / "file"
    file.write_text("x", "utf-8")
    for output, problem in {
        tmp_path / "film.gif": r"cannot be a \.gif",
        tmp_path / "film": "nameless",
        tmp_path / "folder.mp4": "folder of that name",
        tmp_path / "gone" / "film.mp4": "no such file or directory",
        file / "film.mp4": "not a directory",
    }.items():
        with pytest.raises(OutputError, match=problem) as caught:
            _write(output)
        assert caught.value.where == str(output)


def test_disk_that_fills_up_leaves_nothing(tmp_path: Path) -> None:
    """A limit on the file size stands for a full disk: both fail in the middle of a write."""
    script = f"""
import resource, sys
from pathlib import Path
import av, numpy as np
from syncview.errors import OutputError
from tests.media.test_film_writer import SHAPE
from syncview.media.film_writer import FilmWriter
resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
noise = np.random.default_rng(1)
try:
    with FilmWriter(Path({str(tmp_path / "film.mp4")!r}), picture=SHAPE) as writer:
        for number in range(200):
            frame = av.VideoFrame.from_ndarray(noise.integers(0, 255, (54, 64), dtype=np.uint8), format="yuv420p")
            writer.write_picture(frame, pts=number * 1001, duration=1001)
except OutputError as error:
    print(error)
    sys.exit(7)
"""
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": f"{root}:{root / 'codecs'}"}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, env=environment, cwd=root)
    assert done.returncode == 7, done.stderr
    assert "file too large" in done.stdout
    assert list(tmp_path.iterdir()) == []
