from __future__ import annotations

import random
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.media.reading import FrameReader
from syncview.media.recording import Recording, open_recording
from syncview.media.scrub.key_decoder import KeyDecoder
from syncview.media.scrub.source_decoder import SourceDecoder
from tests.media_samples import read_bar_code


def never() -> bool:
    return False


def straight(recording: Recording) -> list[NDArray[np.uint8]]:
    """Luma of all frames, decoded in one go."""
    with FrameReader(recording) as reader:
        return [np.array(f.to_ndarray(), dtype=np.uint8) for _, f in reader.frames(0, len(recording.frames))]


@pytest.mark.parametrize(
    "name", ["steady", "variable", "cut_by_edit_list", "transport_stream", "late_matroska", "repeated"]
)
def test_frames_in_any_order_are_those_of_a_straight_decode(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    truth = straight(recording)
    order = list(range(len(truth)))
    random.Random(1).shuffle(order)
    decoder = SourceDecoder(recording)
    for number in [*order[:40], *range(len(truth))]:
        place, frame = next(decoder.frames_from(number, stop=never))
        assert place == number
        np.testing.assert_array_equal(frame.to_ndarray(), truth[number])
    decoder.close()


def test_a_stopped_decode_goes_on_to_a_later_frame(long_groups: Recording) -> None:
    decoder = SourceDecoder(long_groups)
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 8

    assert list(decoder.frames_from(50, stop=stop)) == []
    assert decoder.can_go_on(40)
    assert not decoder.can_go_on(2)  # fed already, and perhaps not decoded
    for number in (40, 41, 45, 30, 59, 60, 239):
        place, frame = next(decoder.frames_from(number, stop=never))
        assert (place, read_bar_code(frame)) == (number, number)
    decoder.close()


def test_wherever_a_decode_stops_the_next_frame_is_exact(long_groups: Recording) -> None:
    decoder = SourceDecoder(long_groups)
    draw = random.Random(3)
    for _ in range(80):
        given_up, packets = draw.randrange(240), draw.randrange(1, 20)
        polls = iter(range(packets))
        for _place, _frame in decoder.frames_from(given_up, stop=lambda p=polls: next(p, None) is None):  # type: ignore[misc]
            break
        number = min(max(given_up // 60 * 60 + draw.randrange(2 * packets), 0), 239)
        place, frame = next(decoder.frames_from(number, stop=never))
        assert (place, read_bar_code(frame)) == (number, number)
    decoder.close()


def test_a_decode_stopped_after_a_late_seek_finds_the_frame_all_the_same(transport_stream: Path) -> None:
    recording = open_recording(transport_stream)
    truth = straight(recording)
    decoder = SourceDecoder(recording)
    for number in (59, 45, 31, 33, 30, 58, 29, 2):
        assert list(decoder.frames_from(number, stop=lambda: True)) == []
        place, frame = next(decoder.frames_from(number, stop=never))
        assert place == number
        np.testing.assert_array_equal(frame.to_ndarray(), truth[number])
    decoder.close()


def test_frames_follow_in_order_over_groups(long_groups: Recording) -> None:
    decoder = SourceDecoder(long_groups)
    numbers = [place for place, _ in islice(decoder.frames_from(55, stop=never), 30)]
    assert numbers == list(range(55, 85))
    assert decoder.can_go_on(85)
    assert [place for place, _ in decoder.frames_from(230, stop=never)] == list(range(230, 240))
    assert not decoder.can_go_on(239)
    decoder.close()


def test_key_frames_come_alone(long_groups: Recording) -> None:
    keys = KeyDecoder(long_groups)
    for number in (120, 0, 180, 60):
        frame = keys.frame(number)
        assert frame is not None
        assert read_bar_code(frame) == number
    keys.close()


def test_damaged_frames_are_left_out(long_groups: Recording, tmp_path: Path) -> None:
    recording = damaged(long_groups, tmp_path, first=70, last=75)
    with FrameReader(recording) as reader:
        expected = [number for number, _ in reader.frames(60, 120)]
    assert len(expected) < 60
    decoder = SourceDecoder(recording)
    seen = [place for place, _ in decoder.frames_from(60, stop=never) if place < 120]
    decoder.close()
    assert seen == expected


def damaged(recording: Recording, folder: Path, *, first: int, last: int) -> Recording:
    """A copy whose packets of those frames are zeros."""
    import av

    path = folder / "damaged.mp4"
    data = bytearray(recording.path.read_bytes())
    pts = recording.frames.pts
    with av.open(str(recording.path)) as container:
        for packet in container.demux(video=0):
            if packet.pts is not None and pts[first] <= packet.pts <= pts[last] and packet.pos is not None:
                data[packet.pos : packet.pos + packet.size] = bytes(packet.size)
    path.write_bytes(bytes(data))
    return open_recording(path)
