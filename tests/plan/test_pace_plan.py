"""The pace plan as a converter: exact, monotonic, invertible."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.plan.pace_plan import PacePlan, PaceSpan

F = Fraction
bases = st.sampled_from((1, 1001, 90_000))
times = st.builds(F, st.integers(0, 9_000_000), bases)
lengths = st.builds(F, st.integers(1, 5_000_000), bases)


@st.composite
def plans(draw: st.DrawFn) -> PacePlan:
    media_s, spans = draw(times), []
    for is_hold, lesson_s in draw(st.lists(st.tuples(st.booleans(), lengths), min_size=1, max_size=8)):
        end_s = media_s if is_hold else media_s + draw(lengths)
        spans.append(PaceSpan(media_s, end_s, lesson_s, "drawn"))
        media_s = end_s
    return PacePlan(tuple(spans))


def share(plan: PacePlan, part: Fraction) -> Fraction:
    return plan.length_s * part


parts = st.integers(0, 9973).map(lambda count: F(count, 9973))


def example() -> PacePlan:
    # 10 s at full speed, held 3 s, 2 s of media at 1/4 speed, 5 s at full speed: 10 + 3 + 8 + 5 = 26 s.
    return PacePlan(
        (
            PaceSpan(F(100), F(110), F(10), "full"),
            PaceSpan(F(110), F(110), F(3), "held"),
            PaceSpan(F(110), F(112), F(8), "slow"),
            PaceSpan(F(112), F(117), F(5), "full"),
        )
    )


def test_a_worked_plan_converts_both_ways() -> None:
    plan = example()
    assert plan.length_s == 26
    assert [plan.to_media_s(F(t)) for t in (0, 5, 10, 12, 13, 17, 21, 26)] == [100, 105, 110, 110, 110, 111, 112, 117]
    assert [plan.to_lesson_s(F(m)) for m in (100, 105, 110, 111, 112, 117)] == [0, 5, 10, 17, 21, 26]
    assert plan.to_lesson_s(F(110), after_hold=True) == 13
    assert [plan.span_at(F(t)).why for t in (0, 10, 13, 21, 26)] == ["full", "held", "slow", "full", "full"]
    assert [span.speed for span in plan.spans] == [1, 0, F(1, 4), 1]


def test_full_speed_runs_alike() -> None:
    plan = PacePlan.at_full_speed(F(3), F(8))
    assert [plan.length_s, plan.to_media_s(F(1, 3)), plan.to_lesson_s(F(8))] == [5, F(10, 3), 5]


def test_a_hold_at_the_end_and_the_begin_is_left_and_reached() -> None:
    plan = PacePlan((PaceSpan(F(5), F(5), F(2), "a"), PaceSpan(F(5), F(6), F(1), "b"), PaceSpan(F(6), F(6), F(4), "c")))
    assert [plan.to_lesson_s(F(5)), plan.to_lesson_s(F(5), after_hold=True)] == [0, 2]
    assert [plan.to_lesson_s(F(6)), plan.to_lesson_s(F(6), after_hold=True)] == [3, 7]


@pytest.mark.parametrize("lesson_s", [F(-1, 1000), F(26001, 1000)])
def test_lesson_times_outside_are_refused(lesson_s: Fraction) -> None:
    with pytest.raises(ValueError, match="is not in the pace plan"):
        example().to_media_s(lesson_s)
    with pytest.raises(ValueError, match="is not in the pace plan"):
        example().span_at(lesson_s)


@pytest.mark.parametrize("media_s", [F(99), F(118)])
def test_media_times_outside_are_refused(media_s: Fraction) -> None:
    with pytest.raises(ValueError, match="is not in the pace plan"):
        example().to_lesson_s(media_s)


def test_spans_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="needs a span"):
        PacePlan(())
    with pytest.raises(ValueError, match="cannot play in"):
        PaceSpan(F(1), F(2), F(0), "in no time")
    with pytest.raises(ValueError, match="cannot play in"):
        PaceSpan(F(2), F(1), F(1), "backwards")
    with pytest.raises(ValueError, match=r"ends at 1\.0 s of media time and the next begins at 2\.0 s"):
        PacePlan((PaceSpan(F(0), F(1), F(1), "a"), PaceSpan(F(2), F(3), F(1), "b")))


@given(plans(), parts)
def test_lesson_time_comes_back(plan: PacePlan, part: Fraction) -> None:
    lesson_s = share(plan, part)
    media_s = plan.to_media_s(lesson_s)
    assert plan.begin_media_s <= media_s <= plan.end_media_s
    first_s, last_s = plan.to_lesson_s(media_s), plan.to_lesson_s(media_s, after_hold=True)
    assert first_s <= lesson_s <= last_s
    holds_s = sum(span.lesson_s for span in plan.spans if span.is_hold and span.begin_media_s == media_s)
    assert last_s - first_s == holds_s


@given(plans(), parts, st.booleans())
def test_media_time_comes_back(plan: PacePlan, part: Fraction, after_hold: bool) -> None:
    media_s = plan.begin_media_s + (plan.end_media_s - plan.begin_media_s) * part
    assert plan.to_media_s(plan.to_lesson_s(media_s, after_hold=after_hold)) == media_s


@given(plans(), st.lists(parts, min_size=2, max_size=10))
def test_media_time_never_goes_back(plan: PacePlan, some: list[Fraction]) -> None:
    shown = [plan.to_media_s(share(plan, part)) for part in sorted(some)]
    assert all(before <= after for before, after in pairwise(shown))


@given(plans())
def test_spans_begin_where_the_plan_says(plan: PacePlan) -> None:
    for index, span in enumerate(plan.spans):
        begin_s = plan.begin_lesson_s(index)
        assert plan.to_media_s(begin_s) == span.begin_media_s
        assert plan.span_at(begin_s) is span
        assert plan.begin_lesson_s(index + 1) - begin_s == span.lesson_s
