"""Decoded pictures against ffmpeg's framemd5; seeks against a straight decode."""

from __future__ import annotations

import hashlib
import random
from fractions import Fraction
from pathlib import Path

import av
import pytest

from syncview.errors import MediaError
from syncview.media.reading import FrameReader, read_frame_at, read_frames
from syncview.media.recording import Recording, open_recording
from tests.media.ffmpeg_tools import frame_digests
from tests.media_samples import make_clip, read_bar_code


def _digest(frame: av.VideoFrame) -> str:
    return hashlib.md5(frame.to_ndarray().tobytes()).hexdigest()


def _all(recording: Recording) -> list[tuple[int, str]]:
    frames = read_frames(recording, Fraction(0), recording.frames.end_s)
    return [(frame.pts or 0, _digest(frame)) for _media_s, frame in frames]


@pytest.mark.parametrize("name", ["steady", "variable", "cut_by_edit_list", "transport_stream", "late_matroska"])
def test_pictures_are_ffmpegs(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    expected = frame_digests(recording.path)
    assert [digest for _pts, digest in _all(recording)] == [digest for _pts, digest in expected]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["bigbuckbunny.mp4", "bikes.mp4"])
def test_pictures_of_real_clips_are_ffmpegs(name: str, real_clips: Path) -> None:
    recording = open_recording(real_clips / name)
    expected = frame_digests(recording.path)
    assert _all(recording) == expected
    chosen = random.Random(5).sample(range(len(expected)), 12)
    with FrameReader(recording) as reader:
        assert [_digest(reader.frame(index)) for index in chosen] == [expected[index][1] for index in chosen]


@pytest.mark.parametrize("name", ["steady", "variable", "cut_by_edit_list", "transport_stream", "late_matroska"])
def test_any_frame_is_found_by_its_time(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    expected = _all(recording)
    order = random.Random(2).sample(range(len(expected)), 15)
    with FrameReader(recording) as reader:
        for index in order:
            assert _digest(reader.frame(index)) == expected[index][1]
    last = len(expected) - 1
    for index in (0, 1, last):
        assert _digest(read_frame_at(recording, recording.frames.media_s(index))) == expected[index][1]
        assert _digest(read_frame_at(recording, float(recording.frames.times_s[index]))) == expected[index][1]


def test_frame_on_screen_between_stamps(variable: Path) -> None:
    recording = open_recording(variable)
    middle = (recording.frames.media_s(40) + recording.frames.media_s(41)) / 2
    assert read_bar_code(read_frame_at(recording, middle)) == 40


@pytest.mark.parametrize("name", ["steady", "variable", "cut_by_edit_list", "transport_stream"])
def test_spans_hold_just_their_frames(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    index = recording.frames
    times = [index.media_s(number) for number in range(len(index))]
    draw = random.Random(4)
    for _ in range(6):
        begin, end = sorted(Fraction(draw.randrange(0, 2000), 1000) for _ in range(2))
        read = [media_s for media_s, _frame in read_frames(recording, begin, end)]
        assert read == [media_s for media_s in times if begin <= media_s < end]
    on_stamp = [media_s for media_s, _frame in read_frames(recording, times[10], times[12])]
    assert on_stamp == times[10:12]


def test_repeated_stamp_shows_the_later_frame(repeated: Path) -> None:
    recording = open_recording(repeated)
    codes = [read_bar_code(frame) for _media_s, frame in read_frames(recording, 0, 1)]
    assert codes == [0, 1, 2, 4, 5, 6, 7]


def test_reading_may_be_left_and_begun_anew(steady: Path) -> None:
    recording = open_recording(steady)
    with FrameReader(recording) as reader:
        next(reader.frames(40, 60))
        assert read_bar_code(reader.frame(3)) == 3
        assert [read_bar_code(frame) for _index, frame in reader.frames(58, 99)] == [58, 59]
        assert read_bar_code(reader.frame(31)) == 31


def test_outside_is_an_error(steady: Path) -> None:
    recording = open_recording(steady)
    with pytest.raises(ValueError, match="outside"):
        read_frame_at(recording, 2.0)
    assert list(read_frames(recording, 2.0, 3.0)) == []


def test_damaged_frames_are_named(tmp_path: Path) -> None:
    """All-intra, with the picture data of frame 5 overwritten: that frame is lost, and only that one."""
    path = make_clip(tmp_path / "whole.mov", frame_count=12, codec="mjpeg", pixel_format="yuvj420p", b_frames=0)
    with av.open(str(path)) as container:
        packets = [(packet.pos, packet.size) for packet in container.demux(video=0) if packet.size]
    data = bytearray(path.read_bytes())
    position, size = packets[5]
    assert position is not None
    data[position : position + size] = bytes(size)
    (tmp_path / "damaged.mov").write_bytes(data)
    recording = open_recording(tmp_path / "damaged.mov")
    lost: list[Fraction] = []
    codes = [read_bar_code(frame) for _media_s, frame in read_frames(recording, 0, 1, missing=lost)]
    assert codes == [0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11]
    assert lost == [Fraction(5, 30)]
    with pytest.raises(MediaError, match=r"cannot be decoded, the first at 0\.167 s"):
        list(read_frames(recording, 0, 1))
    with pytest.raises(MediaError, match=r"frame at 0\.167 s"):
        read_frame_at(recording, Fraction(5, 30))
