"""Cases for the pace solver: random ones, and the rules written out once more as a linear programme and as checks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from hypothesis import strategies as st
from scipy.optimize import linprog

from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed, SaidNote
from syncview.plan.pace_solver import SolvedPace, solve_pace

F = Fraction


@dataclass(frozen=True)
class Case:
    """What is given to `solve_pace`. Full-speed stretches are off, so that every rule is a bound on a difference."""

    end_media_s: Fraction
    notes: tuple[SaidNote, ...] = ()
    corners: tuple[PacedCorner, ...] = ()
    rules: PaceRules = field(default_factory=PaceRules)
    pins: tuple[PinnedSpeed | PinnedHold, ...] = ()

    def solve(self) -> SolvedPace:
        return solve_pace(F(0), self.end_media_s, self.notes, corners=self.corners, rules=self.rules, pins=self.pins)


def halves(least: int, most: int) -> st.SearchStrategy[Fraction]:
    return st.integers(2 * least, 2 * most).map(lambda count: F(count, 2))


SPEEDS = (None, (F(1, 4), F(1, 2), F(1)), (F(1, 2),), (F(1, 3), F(3, 4)))


@st.composite
def cases(draw: st.DrawFn, *, most_notes: int = 6) -> Case:
    end_s = draw(st.integers(1, 20))
    rules = PaceRules(
        slowest=F(1, 4),
        speeds=draw(st.sampled_from(SPEEDS)),
        longest_hold_s=draw(halves(0, 6)),
        least_full_speed_s=F(0),
        pause_s=draw(halves(0, 1)),
        most_early_s=draw(halves(0, 2)),
        most_late_s=draw(halves(0, 2)),
    )
    places = draw(st.lists(halves(0, end_s), max_size=most_notes))
    notes = tuple(
        SaidNote(f"n{at}", place_s, draw(halves(0, 7)), draw(halves(0, 5)), draw(st.sampled_from((F(0), F(0), F(2)))))
        for at, place_s in enumerate(places)
    )
    corners, pins = list[PacedCorner](), list[PinnedSpeed | PinnedHold]()
    for first_s in draw(st.lists(st.integers(0, end_s - 1), max_size=2)):
        highest = draw(st.sampled_from((F(1), F(1, 2))))
        corners.append(PacedCorner(F(first_s), F(first_s + draw(st.integers(1, 5))), "corner", highest))
    if draw(st.booleans()):
        first_s = draw(st.integers(0, end_s - 1))
        pins.append(PinnedSpeed(F(first_s), F(end_s), draw(st.sampled_from((F(1, 8), F(2, 3), F(1))))))
    if draw(st.booleans()):
        pins.append(PinnedHold(draw(st.sampled_from((*places, draw(halves(0, end_s))))), draw(halves(0, 5))))
    return Case(F(end_s), notes, tuple(corners), rules, tuple(pins))


@dataclass
class Programme:
    """Lesson times as variables, and bounds on their differences."""

    count: int = 0
    bounds: list[tuple[int, int, Fraction]] = field(default_factory=list)
    """(a, b, most): variable a less variable b is at most that."""

    def new(self) -> int:
        self.count += 1
        return self.count - 1

    def between(self, a: int, b: int, least: Fraction, most: Fraction | None = None) -> None:
        """Variable b comes from least to most after a."""
        self.bounds.append((a, b, -least))
        if most is not None:
            self.bounds.append((b, a, most))

    def minimum(self, weights: dict[int, float], fixed: Sequence[tuple[dict[int, float], float]] = ()) -> float | None:
        """The least weighted sum, by HiGHS; None when the bounds contradict each other."""
        rows = [({a: 1.0, b: -1.0}, float(most)) for a, b, most in self.bounds if a != b]
        rows += [(sums, most + 1e-6) for sums, most in fixed]
        left = np.zeros((len(rows), self.count))
        for at, (sums, _) in enumerate(rows):
            for variable, weight in sums.items():
                left[at, variable] += weight
        costs = np.zeros(self.count)
        for variable, weight in weights.items():
            costs[variable] = weight
        pins = [(0, 0), *[(None, None)] * (self.count - 1)]
        found = linprog(costs, A_ub=left, b_ub=[most for _, most in rows], bounds=pins, method="highs")
        return None if found.status == 2 else float(found.fun)


def passage(case: Case, begin_s: Fraction, end_s: Fraction) -> tuple[Fraction, Fraction]:
    """Least and most time from one place to another, summed over quarter seconds of media: all marks lie on them."""
    floor = case.rules.slowest if case.rules.speeds is None else min(case.rules.speeds)
    least, most, at = F(0), F(0), begin_s
    while at < end_s:
        upto = at + F(1, 4)
        low, high = floor, F(1)
        for corner in case.corners:
            if corner.begin_media_s <= at and upto <= corner.end_media_s and corner.highest_speed < 1:
                allowed = (*case.rules.speeds, F(1)) if case.rules.speeds else (corner.highest_speed,)
                high = min(high, max(speed for speed in allowed if speed <= corner.highest_speed))
        for pin in case.pins:
            if isinstance(pin, PinnedSpeed) and pin.begin_media_s <= at and upto <= pin.end_media_s:
                low = high = pin.speed
        least, most, at = least + F(1, 4) / high, most + F(1, 4) / low, upto
    return least, most


def programme(case: Case) -> tuple[Programme, dict[int, float], dict[int, float], dict[int, float]]:
    """The rules as a linear programme, and the sums to make least: length, hold time, distance of notes from holds."""
    lp, rules = Programme(), case.rules
    pinned = {pin.media_s: pin.lesson_s for pin in case.pins if isinstance(pin, PinnedHold)}
    held, off = dict[int, float](), dict[int, float]()
    notes = sorted(case.notes, key=lambda note: note.media_s)
    places = sorted({F(0), case.end_media_s, *pinned, *(note.media_s for note in notes)})
    begin = picture = lp.new()
    free, last_end = begin, begin
    for at, place_s in enumerate(places):
        if at:
            arrive = lp.new()
            lp.between(picture, arrive, *passage(case, places[at - 1], place_s))
            picture = arrive
        here = [note for note in notes if note.media_s == place_s]
        if place_s in pinned:
            arrive, leave = picture, lp.new()
            lp.between(arrive, leave, pinned[place_s], pinned[place_s])
            spans = [(arrive, leave)] * len(here)
            picture = leave
        else:
            spans = []
            for note in here:
                arrive, picture = picture, lp.new()
                lp.between(arrive, picture, F(0), max(rules.longest_hold_s, note.least_hold_s))
                spans.append((arrive, picture))
        for note, (arrive, leave) in zip(here, spans, strict=True):
            said, early, late = lp.new(), lp.new(), lp.new()
            lp.between(free, said, F(0))
            lp.between(arrive, said, F(0) if note.least_hold_s else -rules.most_early_s)
            lp.between(said, leave, note.least_hold_s if note.least_hold_s else -rules.most_late_s)
            for place, nearest in ((arrive, early), (leave, late)):  # early <= both, late >= both
                pair = ((nearest, said), (nearest, place)) if nearest == early else ((said, nearest), (place, nearest))
                for a, b in pair:
                    lp.between(a, b, F(0))
            off[arrive] = off.get(arrive, 0) + 1
            off[early] = off.get(early, 0) - 1
            off[late] = off.get(late, 0) + 1
            off[leave] = off.get(leave, 0) - 1
            last_end, free = lp.new(), lp.new()
            lp.between(said, last_end, note.need_s, note.need_s)
            lp.between(last_end, free, rules.pause_s, rules.pause_s)
            if place_s not in pinned:
                held[leave] = held.get(leave, 0) + 1
                held[arrive] = held.get(arrive, 0) - 1
    if case.end_media_s not in pinned:
        arrive, picture = picture, lp.new()
        lp.between(arrive, picture, F(0), rules.longest_hold_s)
        held[picture], held[arrive] = held.get(picture, 0) + 1, held.get(arrive, 0) - 1
    lp.between(last_end, picture, F(0))
    return lp, {picture: 1.0}, held, off
