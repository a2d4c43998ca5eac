"""That no plan is shorter, none as short holds less, and none of these keeps notes nearer to their places: checked
with SciPy's linear programming (HiGHS), and for given speeds by trying every plan there is."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from syncview.plan.pace_rules import PaceRules, PinnedHold, PinnedSpeed, PlanError, SaidNote
from syncview.plan.pace_solver import SolvedPace, solve_pace
from tests.plan.pace_cases import Case, cases, programme

F = Fraction


def keeps_the_rules(case: Case, solved: SolvedPace) -> None:
    """Every rule, asked of the finished plan through its own converter."""
    plan, rules, end_s = solved.plan, case.rules, F(0)
    pinned = {pin.media_s: pin.lesson_s for pin in case.pins if isinstance(pin, PinnedHold)}
    assert [plan.begin_media_s, plan.end_media_s] == [0, case.end_media_s]
    needs = {note.key: note for note in case.notes}
    assert sorted(needs) == sorted(time.key for time in solved.notes)
    for index, time in enumerate(solved.notes):
        note = needs[time.key]
        arrive_s, leave_s = (plan.to_lesson_s(note.media_s, after_hold=after) for after in (False, True))
        assert time.begin_lesson_s >= end_s
        assert time.end_lesson_s - time.begin_lesson_s >= max(note.speaking_s, note.reading_s)
        if note.least_hold_s:
            assert arrive_s <= time.begin_lesson_s <= leave_s - note.least_hold_s
        assert arrive_s - rules.most_early_s <= time.begin_lesson_s <= leave_s + rules.most_late_s
        end_s = time.end_lesson_s + (rules.pause_s if index + 1 < len(solved.notes) else 0)
    assert end_s <= plan.length_s
    allowed = None if rules.speeds is None else {*rules.speeds, F(1)}
    for span in plan.spans:
        covering = [
            pin.speed
            for pin in case.pins
            if isinstance(pin, PinnedSpeed) and pin.begin_media_s <= span.begin_media_s < pin.end_media_s
        ]
        if span.is_hold:
            here = [note for note in case.notes if note.media_s == span.begin_media_s]
            most_s = sum((max(rules.longest_hold_s, note.least_hold_s) for note in here), F(0))
            most_s += rules.longest_hold_s if span.begin_media_s == case.end_media_s else 0
            assert span.lesson_s <= pinned.get(span.begin_media_s, most_s)
        elif covering:
            assert span.speed == covering[0]
        else:
            assert (rules.slowest <= span.speed <= 1) if allowed is None else (span.speed in allowed)
            for corner in case.corners:
                if corner.begin_media_s <= span.begin_media_s < corner.end_media_s:
                    assert span.speed <= corner.highest_speed
    for media_s, held_s in pinned.items():
        assert plan.to_lesson_s(media_s, after_hold=True) - plan.to_lesson_s(media_s) == held_s


@settings(max_examples=60)
@given(cases())
def test_no_plan_is_better(case: Case) -> None:
    lp, length, held, off = programme(case)
    shortest_s = lp.minimum(length)
    if shortest_s is None:
        with pytest.raises(PlanError) as caught:
            case.solve()
        assert caught.value.misfits or "drawing needs" in str(caught.value)
        return
    solved = case.solve()
    keeps_the_rules(case, solved)
    assert float(solved.plan.length_s) == pytest.approx(shortest_s, abs=1e-6)
    pinned = {pin.media_s for pin in case.pins if isinstance(pin, PinnedHold)}
    least_held_s = lp.minimum(held, [(length, shortest_s)]) if held else 0.0
    assert least_held_s is not None
    held_s = sum(s.lesson_s for s in solved.plan.spans if s.is_hold and s.begin_media_s not in pinned)
    assert float(held_s) == pytest.approx(least_held_s, abs=1e-5)
    nearest_s = lp.minimum(off, [(length, shortest_s), (held, least_held_s)]) if off else 0.0
    assert nearest_s is not None
    assert float(off_s(solved)) <= nearest_s + 1e-4
    if len({note.media_s for note in case.notes}) == len(case.notes):
        assert float(off_s(solved)) == pytest.approx(nearest_s, abs=1e-4)


def off_s(solved: SolvedPace) -> Fraction:
    """How far in all the notes begin from the holds of their places; not more than from the holds of their own."""
    sum_s = F(0)
    for time in solved.notes:
        arrive_s, leave_s = (solved.plan.to_lesson_s(time.media_s, after_hold=after) for after in (False, True))
        sum_s += max(arrive_s - time.begin_lesson_s, time.begin_lesson_s - leave_s, F(0))
    return sum_s


def brute_length_s(
    notes: list[SaidNote], end_s: int, speeds: tuple[Fraction, ...], rules: PaceRules
) -> Fraction | None:
    """The shortest of all plans that give each second of media one of the speeds and each place a whole hold.

    All times are whole, so a shortest plan is among them: the bounds on differences are whole, and slow speeds whose
    inverses are neighbouring whole numbers give any whole time.
    """
    places = sorted({0, end_s, *(int(note.media_s) for note in notes)})
    said = {int(note.media_s) for note in notes} | {end_s}
    takes = [
        sorted({sum(units) for units in product([1 / speed for speed in speeds], repeat=after - before)})
        for before, after in pairwise(places)
    ]
    holds = [range(int(rules.longest_hold_s) + 1) if place in said else range(1) for place in places]
    best = None
    for held, taken in product(product(*holds), product(*takes)):
        arrive, leave, clock = list[Fraction](), list[Fraction](), F(0)
        for hold_s, take_s in zip(held, (*taken, F(0)), strict=True):
            arrive.append(clock)
            leave.append(clock + hold_s)
            clock += hold_s + take_s
        if (best is None or clock < best) and fits(notes, places, arrive, leave, rules):
            best = clock
    return best


def fits(
    notes: list[SaidNote], places: list[int], arrive: list[Fraction], leave: list[Fraction], rules: PaceRules
) -> bool:
    free = end = F(0)
    for note in notes:
        at = places.index(int(note.media_s))
        said = max(free, arrive[at] - rules.most_early_s)
        if said > leave[at] + rules.most_late_s:
            return False
        end = said + note.need_s
        free = end + rules.pause_s
    return end <= leave[-1]


@settings(max_examples=40)
@given(
    st.integers(2, 5),
    st.lists(st.tuples(st.integers(0, 4), st.integers(0, 7)), max_size=2, unique_by=lambda pair: pair[0]),
    st.sampled_from([(F(1, 2), F(1)), (F(1, 3), F(1, 2), F(1))]),
    st.integers(0, 3),
    st.integers(0, 1),
)
def test_no_plan_of_given_speeds_is_shorter(
    end_s: int, drawn: list[tuple[int, int]], speeds: tuple[Fraction, ...], longest_s: int, window_s: int
) -> None:
    notes = [SaidNote(f"n{m}", F(m), F(need), F(0)) for m, need in sorted(drawn) if m < end_s]
    rules = PaceRules(
        speeds=speeds,
        longest_hold_s=F(longest_s),
        least_full_speed_s=F(0),
        pause_s=F(1),
        most_early_s=F(window_s),
        most_late_s=F(1 - window_s),
    )
    shortest_s = brute_length_s(notes, end_s, speeds, rules)
    if shortest_s is None:
        with pytest.raises(PlanError):
            solve_pace(F(0), F(end_s), notes, rules=rules)
    else:
        assert solve_pace(F(0), F(end_s), notes, rules=rules).plan.length_s == shortest_s
