"""Frame times against ffprobe -show_frames, and the index's own promises."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.errors import Cancelled
from syncview.media.frame_index import FrameIndex, index_from_stamps
from syncview.media.indexing import index_by_decoding
from syncview.media.recording import open_recording
from tests.media.ffmpeg_tools import ffmpeg, ffprobe_frames


@pytest.mark.parametrize("name", ["steady", "variable", "cut_by_edit_list", "transport_stream", "late_matroska"])
def test_stamps_are_ffprobes(name: str, request: pytest.FixtureRequest) -> None:
    path = request.getfixturevalue(name)
    assert open_recording(path).frames.pts.tolist() == ffprobe_frames(path)


@pytest.mark.parametrize("name", ["bigbuckbunny.mp4", "bikes.mp4"])
def test_stamps_of_real_clips_are_ffprobes(name: str, real_clips: Path) -> None:
    assert open_recording(real_clips / name).frames.pts.tolist() == ffprobe_frames(real_clips / name)


def test_mpeg4_in_avi(tmp_path: Path, steady: Path) -> None:
    path = tmp_path / "old.avi"
    ffmpeg("-i", steady, "-an", "-c:v", "mpeg4", "-bf", "2", path)
    recording = open_recording(path)
    assert recording.frames.pts[:-1].tolist() == ffprobe_frames(path)  # ffprobe gives the last one no stamp
    assert len(recording.frames) == 60


def test_stream_cut_inside_a_group(tmp_path: Path, transport_stream: Path) -> None:
    """Frames before the first decodable one are never seen: their packets are not in the index."""
    data = transport_stream.read_bytes()
    begin = len(data) // 4 // 188 * 188
    (tmp_path / "cut.ts").write_bytes(data[begin:])
    recording = open_recording(tmp_path / "cut.ts")
    assert recording.frames.pts.tolist() == ffprobe_frames(tmp_path / "cut.ts")


@pytest.mark.parametrize("name", ["steady", "variable", "cut_by_edit_list"])
def test_decoding_everything_gives_the_same_index(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    decoded = index_by_decoding(recording.path, recording.stream_index)
    assert decoded.pts.tolist() == recording.frames.pts.tolist()
    assert decoded.duration[:-1].tolist() == recording.frames.duration[:-1].tolist()


def test_frames_before_zero_are_hidden(tmp_path: Path, steady: Path) -> None:
    """Moving a film to 0.4 s before zero hides its beginning (MP4 does it by an edit list)."""
    path = tmp_path / "early.mp4"
    ffmpeg("-i", steady, "-c", "copy", "-output_ts_offset", "-0.4", "-avoid_negative_ts", "disabled", path)
    recording = open_recording(path)
    assert recording.frames.pts.tolist() == ffprobe_frames(path)
    assert len(recording.frames) == 60 - 12
    assert recording.frames.media_s(2) == Fraction(2, 30)


def test_repeated_stamps_leave_the_frame_that_stays_on_screen(repeated: Path) -> None:
    recording = open_recording(repeated)
    assert recording.frames.pts.tolist() == sorted(set(ffprobe_frames(repeated)))
    assert recording.frames.repeated_stamps == 1
    assert any("share the stamp" in note for note in recording.notes)


def test_pause_stays_on_the_frame_before_it(variable: Path) -> None:
    frames = open_recording(variable).frames
    assert frames.duration[40] == 15000
    assert frames.index_at(frames.media_s(40) + Fraction(1, 4)) == 40


def test_cancelling_stops_the_scan(steady: Path) -> None:
    def stop(_share: float, _what: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        open_recording(steady, progress=stop)


def test_progress_ends_at_one_and_never_falls(steady: Path) -> None:
    shares: list[float] = []
    open_recording(steady, progress=lambda share, _what: shares.append(share))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def _index(steps: list[int], time_base: Fraction, start: int = 0) -> FrameIndex:
    pts = start + np.cumsum([0, *steps]).astype(np.int64)
    return index_from_stamps(
        pts, np.full(len(pts), 7, dtype=np.int64), np.arange(len(pts)) % 4 == 0, time_base=time_base
    )


@given(
    steps=st.lists(st.integers(1, 10**6), min_size=1, max_size=30),
    time_base=st.sampled_from([Fraction(1, 90000), Fraction(1001, 30000), Fraction(1, 1000), Fraction(1, 15360)]),
    start=st.integers(-(10**6), 10**12),
)
def test_every_frame_is_found_at_its_own_time(steps: list[int], time_base: Fraction, start: int) -> None:
    index = _index(steps, time_base, start)
    for number in range(len(index)):
        exact = index.media_s(number)
        assert index.times_s[number] == float(exact)
        assert index.index_at(exact) == number
        assert index.index_at(float(index.times_s[number])) == number
        assert index.first_from(exact) == number
        assert index.first_from(float(exact)) == number
        if number:
            assert index.index_at(exact - time_base / 2) == number - 1
            assert index.first_from(exact - time_base / 2) == number


def test_outside_is_an_error_not_the_nearest_frame() -> None:
    index = _index([10, 10], Fraction(1, 100))
    assert index.end_s == Fraction(27, 100)
    for media_s in (-0.001, Fraction(-1, 1000), Fraction(27, 100), 0.27, 5):
        with pytest.raises(ValueError, match="outside the recording"):
            index.index_at(media_s)
    with pytest.raises(IndexError):
        index.media_s(3)
    with pytest.raises(IndexError):
        index.media_s(-1)


def test_key_before() -> None:
    index = _index([1] * 9, Fraction(1, 10))
    assert [index.key_before(number) for number in range(9)] == [0, 0, 0, 0, 4, 4, 4, 4, 8]


@pytest.mark.slow
def test_hours_are_indexed_in_seconds(tmp_path: Path, steady: Path) -> None:
    """At most about a second per 100 000 packets (here three times as much is let pass, for busy machines)."""
    import time

    path = tmp_path / "long.mkv"
    ffmpeg("-stream_loop", "1699", "-i", steady, "-map", "0:v", "-c", "copy", path)
    begin = time.process_time()
    recording = open_recording(path)
    spent_s = time.process_time() - begin
    assert len(recording.frames) == 60 * 1700
    assert spent_s < 3
