"""When each note is said, how long each stretch between two places takes and how long each hold lasts.

Everything asked of them is a difference of lesson times with a bound, so the shortest lesson is a linear programme
of a narrow kind: what is still to come depends on the past only through one number, the offset between words and
picture. It is solved exactly by dynamic programming over that offset, with one convex function a step. Of the shortest
lessons it takes one with the least hold time; of these, one whose notes begin nearest to their places; of these, the
one that takes its time as early as it can.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from syncview.plan.pace_offsets import OffsetCost
from syncview.plan.pace_rules import PaceRules, SaidNote

_ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Station:
    """A moment of the media at which something is said, or the section's begin or end."""

    media_s: Fraction
    notes: tuple[SaidNote, ...] = ()
    """In the order in which they are said."""
    pinned_hold_s: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Passage:
    """How long the media between two stations may take, lesson time."""

    least_s: Fraction
    most_s: Fraction


@dataclass(frozen=True, slots=True)
class PaceTimes:
    """The answer, all in lesson seconds."""

    holds_s: tuple[Fraction, ...]
    """For each station."""
    passages_s: tuple[Fraction, ...]
    """For each passage."""
    begins_s: tuple[Fraction, ...]
    """When each note is said, in order."""


@dataclass(frozen=True, slots=True)
class Crowd:
    """Consecutive notes for which there is too little time."""

    first: int
    """Index of the first of them, in the order in which notes are said."""
    after: int
    """Index of the note after them, whose time comes too soon; the count of notes when it is the end."""
    short_s: Fraction


def find_times(
    stations: Sequence[Station], passages: Sequence[Passage], rules: PaceRules
) -> PaceTimes | tuple[Crowd, ...]:
    """The times of the best plan, or else all crowds of notes that keep there from being one.

    A pinned hold must be as long as the longest ``least_hold_s`` of its place.
    """
    walk = _Walk(rules, sum(len(station.notes) for station in stations))
    for index, station in enumerate(stations):
        walk.visit(index, station)
        if index < len(passages):
            passage = passages[index]
            walk.wait("passage", index, passage.least_s, passage.most_s)
    walk.finish(len(stations) - 1, stations[-1])
    return tuple(walk.crowds) if walk.crowds else walk.back(len(stations), len(passages))


@dataclass(frozen=True, slots=True)
class _Step:
    """One step of the walk: what the cost was before it, and what it was."""

    before: OffsetCost
    kind: str
    index: int = 0
    least_s: Fraction = _ZERO
    most_s: Fraction = _ZERO
    cost: int = 0


class _Walk:
    """Goes from the section's begin to its end and remembers each step, then goes back along the cheapest way."""

    def __init__(self, rules: PaceRules, notes: int) -> None:
        self.rules = rules
        self.cost = OffsetCost(_ZERO, _ZERO)
        self.steps: list[_Step] = []
        self.crowds: list[Crowd] = []
        self.said = 0
        self.crowd_from = 0
        """The note from which on nothing keeps the next one waiting but words."""
        weight = 4 * notes + 4  # no slope ever counts more notes than that, so a dearer kind of cost always outranks
        self.costs = {"passage": weight**2, "hold": weight**2 + weight}

    def visit(self, index: int, station: Station) -> None:
        for note in station.notes:
            self._idle()
            self._low(_ZERO if note.least_hold_s else -self.rules.most_early_s)
            if station.pinned_hold_s is None:
                self._off_place(_ZERO, below=True)
                self._step("begin", self.said)
                self.wait("hold", index, _ZERO, max(self.rules.longest_hold_s, note.least_hold_s))
                self._high(-note.least_hold_s if note.least_hold_s else self.rules.most_late_s)
                self._off_place(_ZERO, below=False)
            else:
                held_s = station.pinned_hold_s
                self._high(held_s - note.least_hold_s if note.least_hold_s else held_s + self.rules.most_late_s)
                self._off_place(_ZERO, below=True)
                self._off_place(held_s, below=False)
                self._step("begin", self.said)
            self._move(note.need_s + self.rules.pause_s)
            self.said += 1
        if station.pinned_hold_s is not None:
            self.wait("hold", index, station.pinned_hold_s, station.pinned_hold_s)

    def finish(self, index: int, station: Station) -> None:
        if self.said:
            self._move(-self.rules.pause_s)
        if station.pinned_hold_s is None:
            self.wait("hold", index, _ZERO, self.rules.longest_hold_s)
        self._high(_ZERO)

    def wait(self, kind: str, index: int, least_s: Fraction, most_s: Fraction) -> None:
        cost = self.costs[kind]
        self._step(kind, index, least_s, most_s, cost)
        self.cost = self.cost.waited(least_s, most_s, cost=cost)

    def back(self, stations: int, passages: int) -> PaceTimes:
        """The times along the cheapest way."""
        offset_s = self.cost.cheapest(self.cost.low, self.cost.high)
        taken: list[tuple[str, int, Fraction]] = []
        for step in reversed(self.steps):
            before = step.before
            if step.kind == "move":
                offset_s -= step.least_s
            elif step.kind == "idle":
                offset_s = before.cheapest(before.low, offset_s)
            elif step.kind == "begin":
                taken.append((step.kind, step.index, offset_s))
            else:
                at_s = before.cheapest(offset_s + step.least_s, offset_s + step.most_s, extra=step.cost)
                taken.append((step.kind, step.index, at_s - offset_s))
                offset_s = at_s
        return _collected(taken[::-1], stations, passages)

    def _step(
        self, kind: str, index: int = 0, least_s: Fraction = _ZERO, most_s: Fraction = _ZERO, cost: int = 0
    ) -> None:
        self.steps.append(_Step(self.cost, kind, index, least_s, most_s, cost))

    def _idle(self) -> None:
        self._step("idle")
        self.cost = self.cost.or_later()

    def _move(self, by_s: Fraction) -> None:
        self._step("move", least_s=by_s)
        self.cost = self.cost.moved(by_s)

    def _low(self, low: Fraction) -> None:
        if self.cost.low < low:
            self.crowd_from = self.said
            self.cost = self.cost.from_low(low)

    def _high(self, high: Fraction) -> None:
        """Keep the offset from getting larger; a crowd that must is noted, and the walk goes on as if it had not."""
        kept = self.cost.up_to(high)
        if kept is None:
            self.crowds.append(Crowd(self.crowd_from, self.said, self.cost.low - high))
            self.crowd_from, kept = self.said, OffsetCost(high, _ZERO)
        self.cost = kept

    def _off_place(self, at_s: Fraction, *, below: bool) -> None:
        self.cost = self.cost.with_off_place(at_s, below=below)


def _collected(taken: Sequence[tuple[str, int, Fraction]], stations: int, passages: int) -> PaceTimes:
    """The choices of each step, put together on one clock."""
    holds_s, passages_s = [_ZERO] * stations, [_ZERO] * passages
    begins_s, picture_s = list[Fraction](), _ZERO
    for kind, index, value_s in taken:
        if kind == "begin":
            begins_s.append(picture_s + value_s)
            continue
        picture_s += value_s
        (holds_s if kind == "hold" else passages_s)[index] += value_s
    return PaceTimes(tuple(holds_s), tuple(passages_s), tuple(begins_s))
