"""From frame to frame, at steady and variable rates."""

from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.picture.stepping import Jog, number_at, stepped
from syncview.media.frame_index import FrameIndex, index_from_stamps

GAPS = st.lists(st.integers(1, 900), min_size=1, max_size=40)


def _frames(gaps: list[int]) -> FrameIndex:
    pts = np.concatenate([[7], 7 + np.cumsum(gaps)]).astype(np.int64)
    steps, keys = np.full(len(pts), 5, dtype=np.int64), np.zeros(len(pts), dtype=np.bool_)
    return index_from_stamps(pts, steps, keys, time_base=Fraction(1, 1001))


@given(GAPS, st.data())
def test_any_number_of_steps_on_and_back_comes_to_the_frame_it_began_at(gaps: list[int], data: st.DataObject) -> None:
    frames = _frames(gaps)
    begin = data.draw(st.integers(0, len(frames) - 1))
    on = data.draw(st.integers(0, len(frames) - 1 - begin))
    there_s = stepped(frames, frames.media_s(begin), on)
    assert number_at(frames, there_s) == begin + on
    assert stepped(frames, there_s, -on) == frames.media_s(begin)


@given(GAPS)
def test_steps_from_between_two_frames_count_from_the_one_on_screen(gaps: list[int]) -> None:
    frames = _frames(gaps)
    within_s = frames.media_s(0) + Fraction(1, 10**9)
    assert stepped(frames, within_s, 1) == frames.media_s(1)
    assert stepped(frames, within_s, 0) == frames.media_s(0)


def test_steps_end_at_the_first_and_the_last_frame() -> None:
    frames = _frames([10, 10])
    assert stepped(frames, frames.media_s(1), -5) == 0
    assert stepped(frames, frames.end_s + 3, 0) == frames.media_s(2)
    assert stepped(frames, Fraction(-4), 99) == frames.media_s(2)


def test_a_hand_that_comes_back_brings_the_first_frame_back() -> None:
    frames = _frames([10] * 30)
    jog = Jog(frames, frames.media_s(12), px_per_frame=4)
    assert [number_at(frames, jog.media_s(px)) for px in (0, 4, 9, -8, 4000, -4000, 0)] == [12, 13, 14, 10, 30, 0, 12]
