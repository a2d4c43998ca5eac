"""Limits: BBC Subtitle Guidelines (lines, words a minute, windows) and common practice (characters a second, least
and most time). That no smaller stretch would do is checked with SciPy's linear programming (HiGHS)."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from syncview.errors import OutputError
from syncview.plan.caption_breaks import split_words
from syncview.plan.caption_limits import CaptionLimits, needed_ms, width, words_width
from syncview.plan.caption_timing import CaptionPlan, Spoken, TimedCue, plan_captions

LIMITS = CaptionLimits()
BOARD = "Brake ten metres later at the board"  # 7 words, 35 characters: 2.334 s at 180 words/min
NINE = "a b c d e f g h i"  # 9 words: 3.000 s at 180 words/min

texts = st.lists(st.sampled_from(["brake", "later,", "and", "wait.", "kerb", "x" * 50, "🏁"]), max_size=25).map(
    " ".join
)
plans = st.integers(5_000, 60_000).flatmap(
    lambda film_ms: st.tuples(st.just(film_ms), st.lists(st.tuples(st.integers(0, film_ms), texts), max_size=8))
)


def spoken(notes: list[tuple[int, str]]) -> list[Spoken]:
    return [Spoken(place_ms, text, str(index)) for index, (place_ms, text) in enumerate(notes)]


def times(plan: CaptionPlan) -> list[tuple[int, int]]:
    return [(cue.start_ms, cue.end_ms) for cue in plan.cues]


def test_a_caption_starts_at_its_place_and_stays_for_its_reading_time() -> None:
    plan = plan_captions([Spoken(10_000, BOARD, "c3")], film_ms=60_000)
    assert plan.cues == (TimedCue(10_000, 12_334, BOARD, "c3", 10_000, continues=False),)
    assert plan.unmet == ()


def test_a_caption_with_one_second_is_flagged_with_its_numbers() -> None:
    # 35 characters and 7 words in 1.0 s: 35 characters/s and 420 words/min.
    plan = plan_captions([Spoken(0, BOARD, "c3")], film_ms=1000)
    assert [(item.limit, item.actual, item.allowed) for item in plan.unmet] == [
        ("chars_per_s", 35.0, 17.0),
        ("words_per_minute", 420.0, 180.0),
    ]
    assert plan.unmet[0].words == f"“{BOARD}”: needs 2.1 s, has 1.0 s: 35.0 characters/s, 17 are comfortable"


def test_the_next_caption_waits_within_its_window() -> None:
    plan = plan_captions(spoken([(10_000, NINE), (12_000, NINE)]), film_ms=60_000)
    assert times(plan) == [(10_000, 13_000), (13_000, 16_000)]
    assert plan.unmet == ()


def test_a_caption_comes_early_so_that_those_after_it_are_not_late() -> None:
    # 10.0 and 11.0 s: the second may start at 12.5 s at the latest, so the first starts at 9.5 s.
    plan = plan_captions(spoken([(10_000, NINE), (11_000, NINE)]), film_ms=60_000)
    assert times(plan) == [(9500, 12_500), (12_500, 15_500)]
    assert plan.unmet == ()


def test_a_crowded_place_stretches_every_limit_by_the_same_share() -> None:
    # Three times 3 s at one place, windows of 1.5 s: 2 * 3 / k = 2 * 1.5 * k, so k = sqrt(2): 41.4 % over each limit.
    plan = plan_captions(spoken([(20_000, NINE)] * 3 + [(40_000, NINE)]), film_ms=60_000)
    share = 2**0.5
    expected = [20_000 - 1500 * share, 20_000, 20_000 + 1500 * share, 40_000]
    assert [cue.start_ms for cue in plan.cues] == pytest.approx(expected, abs=4)
    found = {(item.cue, item.limit): item.actual for item in plan.unmet}
    assert found == {
        (0, "words_per_minute"): pytest.approx(180 * share, rel=0.002),
        (0, "earliest_before_ms"): pytest.approx(1500 * share, abs=4),
        (1, "words_per_minute"): pytest.approx(180 * share, rel=0.002),
        (2, "latest_after_ms"): pytest.approx(1500 * share, abs=4),
    }  # the third has its full time after it, and the fourth is not touched


def test_a_note_at_the_very_end_starts_early() -> None:
    plan = plan_captions([Spoken(60_000, "Wait here", "end")], film_ms=60_000)
    assert times(plan) == [(59_000, 60_000)]
    assert plan.unmet == ()


def test_parts_of_a_long_note_follow_each_other() -> None:
    text = " ".join([BOARD + "."] * 4)
    plan = plan_captions([Spoken(5000, text, "long")], film_ms=60_000)
    assert [cue.continues for cue in plan.cues] == [False, *[True] * (len(plan.cues) - 1)]
    assert len(plan.cues) > 1
    assert all(before.end_ms == after.start_ms for before, after in pairwise(plan.cues))
    assert plan.unmet == ()


def test_short_pauses_are_closed() -> None:
    # BBC 4.5: no pause, or 1 s and more.
    plan = plan_captions(spoken([(0, "Wait"), (1900, "Turn"), (4000, "Go")]), film_ms=60_000)
    assert times(plan) == [(0, 1900), (1900, 2900), (4000, 5000)]


def test_a_pause_below_two_frames_is_closed_even_past_the_most_time() -> None:
    # 118 characters need 6.942 s; the 68 ms until 7.010 s are fewer than two frames of 25 frames/s.
    plan = plan_captions(spoken([(0, "x" * 118), (7010, "Wait")]), film_ms=60_000)
    assert times(plan) == [(0, 7010), (7010, 8010)]
    assert [item.limit for item in plan.unmet] == ["chars_per_line", "most_ms"]


def test_a_word_longer_than_a_line_is_kept_and_said() -> None:
    plan = plan_captions([Spoken(0, "x" * 130, "w")], film_ms=60_000)
    assert plan.cues[0].text == "x" * 130
    assert [item.limit for item in plan.unmet] == ["chars_per_line", "most_ms"]  # 130/17 = 7.65 s


def test_notes_without_words_have_no_caption() -> None:
    assert plan_captions([Spoken(5, " \n", "x")], film_ms=10).cues == ()


@pytest.mark.parametrize("place_ms", [-1, 60_001])
def test_a_place_outside_the_film_is_refused(place_ms: int) -> None:
    with pytest.raises(OutputError, match="caption c9"):
        plan_captions([Spoken(place_ms, BOARD, "c9")], film_ms=60_000)


def test_a_film_without_room_for_a_millisecond_each_is_refused() -> None:
    with pytest.raises(OutputError, match="3 captions"):
        plan_captions(spoken([(0, "a")] * 3), film_ms=2)


@given(plans)
def test_words_order_and_film_are_kept(case: tuple[int, list[tuple[int, str]]]) -> None:
    film_ms, notes = case
    plan = plan_captions(spoken(notes), film_ms=film_ms)
    ordered = sorted(notes, key=lambda note: note[0])
    assert " ".join(cue.text for cue in plan.cues).split() == " ".join(text for _, text in ordered).split()
    assert all(0 <= cue.start_ms < cue.end_ms <= film_ms for cue in plan.cues)
    gaps = [after.start_ms - before.end_ms for before, after in pairwise(plan.cues)]
    assert all(gap == 0 or gap >= LIMITS.gap_ms for gap in gaps)
    assert plan == plan_captions(spoken(notes), film_ms=film_ms)


@given(plans)
def test_every_broken_limit_is_said_and_no_other(case: tuple[int, list[tuple[int, str]]]) -> None:
    film_ms, notes = case
    plan = plan_captions(spoken(notes), film_ms=film_ms)
    broken = set()
    for index, cue in enumerate(plan.cues):
        has_s = (cue.end_ms - cue.start_ms) / 1000
        opens = index == 0 or plan.cues[index - 1].key != cue.key
        tests = {
            "chars_per_line": any(width(line) > 37 for line in cue.text.split("\n")),
            "lines": cue.text.count("\n") > 1,
            "chars_per_s": width(cue.text.replace("\n", " ")) / has_s > 17 + 1e-9,
            "words_per_minute": len(cue.text.split()) / has_s * 60 > 180 + 1e-9,
            "least_ms": has_s < 1.0,
            "most_ms": has_s > 7.0,
            "earliest_before_ms": opens and cue.start_ms < cue.place_ms - 1500,
            "latest_after_ms": opens and cue.start_ms > cue.place_ms + 1500,
        }
        broken |= {(index, limit) for limit, is_broken in tests.items() if is_broken}
    assert {(item.cue, item.limit) for item in plan.unmet} == broken
    assert len(plan.unmet) == len(broken)


@settings(max_examples=60)
@given(plans)
def test_no_smaller_stretch_would_do(case: tuple[int, list[tuple[int, str]]]) -> None:
    film_ms, notes = case
    plan = plan_captions(spoken(notes), film_ms=film_ms)
    worst = max((stretch(cue) for cue in plan.cues), default=0.0)
    if worst > 0.01:
        assert not fits(plan, film_ms, worst - 0.005 * (1 + worst))
    else:
        assert fits(plan, film_ms, 0.01)


def stretch(cue: TimedCue) -> float:
    """By what share a cue exceeds its limits."""
    reading = needed_ms(split_words(cue.text), limits=LIMITS) / (cue.end_ms - cue.start_ms) - 1
    window = 0.0 if cue.continues else abs(cue.start_ms - cue.place_ms) / 1500 - 1
    return max(reading, window, 0.0)


def fits(plan: CaptionPlan, film_ms: int, share: float) -> bool:
    """Whether any starts at all keep the limits stretched by a share: a linear programme without a goal."""
    count = len(plan.cues)
    needs = np.array([needed_ms(split_words(cue.text), limits=LIMITS) / (1 + share) for cue in plan.cues])
    order = np.eye(count) - np.eye(count, k=1)  # start_i - start_(i+1) <= -need_i; the last ends with the film
    limits = -needs
    limits[-1:] += film_ms
    window_ms = 1500 * (1 + share)
    bounds = [
        (0.0, film_ms) if cue.continues else (max(cue.place_ms - window_ms, 0.0), cue.place_ms + window_ms)
        for cue in plan.cues
    ]
    return count == 0 or bool(linprog(np.zeros(count), A_ub=order, b_ub=limits, bounds=bounds).status == 0)


def test_characters_count_with_blanks() -> None:
    assert words_width(split_words(BOARD)) == 35
