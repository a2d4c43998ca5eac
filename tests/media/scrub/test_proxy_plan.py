from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from syncview.media.frame_index import FrameIndex
from syncview.media.scrub.proxy_plan import KEY_STEP_S, MOST_FRAMES, MOST_S, by_urgency, plan_of

TIME_BASE = Fraction(1, 1000)


def index_of(steps_ms: list[int], key_every: int) -> FrameIndex:
    pts = np.concatenate([[0], np.cumsum(steps_ms)]).astype(np.int64)
    keys = np.arange(len(pts)) % key_every == 0
    return FrameIndex(pts=pts, duration=np.append(np.diff(pts), 33), is_key=keys, time_base=TIME_BASE)


@given(st.lists(st.integers(1, 40_000), max_size=400), st.integers(1, 300))
def test_every_frame_is_in_one_file(steps_ms: list[int], key_every: int) -> None:
    index = index_of(steps_ms, key_every)
    plan = plan_of(index)
    assert [n for chunk in plan.frames for n in chunk.numbers()] == list(range(len(index)))
    for number in range(0, len(index), 7):
        assert number in plan.chunk_of(number).numbers()
        keys = plan.key_chunk_of(number)
        assert keys is not None
        assert keys.begin <= number < keys.end
        nearest = max(n for n in keys.numbers() if n <= number)
        between = [k for k in np.flatnonzero(index.is_key) if nearest < k <= number]
        assert all(index.times_s[k] - index.times_s[nearest] < KEY_STEP_S for k in between)


@given(st.lists(st.integers(8, 100), min_size=1, max_size=2000), st.integers(1, 900))
def test_files_are_of_a_few_seconds(steps_ms: list[int], key_every: int) -> None:
    index = index_of(steps_ms, key_every)
    for chunk in plan_of(index).frames:
        length_s = index.times_s[chunk.end - 1] - index.times_s[chunk.begin]
        assert length_s <= MOST_S
        assert len(chunk.numbers()) <= MOST_FRAMES


def test_files_begin_at_key_frames_where_they_can() -> None:
    index = index_of([17] * 3599, 250)
    begins = [chunk.begin for chunk in plan_of(index).frames]
    assert begins == list(range(0, 3600, 250))[: len(begins)]


def test_what_is_near_comes_first_and_key_frames_reach_further() -> None:
    index = index_of([17] * 60_000, 250)
    plan = plan_of(index)
    order = by_urgency(plan, index, 30_000)
    assert order[0] is plan.key_chunk_of(30_000)
    assert order[1] is plan.chunk_of(30_000)
    assert sorted(order, key=lambda c: c.name) == sorted(plan.all(), key=lambda c: c.name)
    frames_away = [abs(chunk.begin - 30_000) for chunk in order if chunk.kind == "frames"]
    assert all(b - a > -500 for a, b in pairwise(frames_away))
    last_keys = max(place for place, chunk in enumerate(order) if chunk.kind == "keys")
    assert last_keys < 20, "all key frames of a quarter of an hour come before frames half a minute away"


def test_one_frame_is_a_plan_too() -> None:
    plan = plan_of(index_of([], 1))
    assert [chunk.numbers() for chunk in plan.all()] == [(0,), (0,)]
