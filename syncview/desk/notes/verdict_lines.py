"""The check of a note as lines: which words, what the data say to them, and by how much they are off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from syncview.lesson.checking import CheckedNote
from syncview.notes.check import Outcome, Verdict
from syncview.notes.note import Note
from syncview.shown_units import BAR_PA, LENGTH, PSI_PA, SPEED, Units

Measure = Literal["speed", "length", "share", "pressure", "time", "gears", "times"]


@dataclass(frozen=True, slots=True)
class OffBy:
    """How far what was measured lies from what was said, in shown units."""

    measure: Measure
    value: float
    """Measured minus said."""
    label: str
    """The unit; empty where the measure says it."""


@dataclass(frozen=True, slots=True)
class VerdictLine:
    """One claim of a note and its verdict."""

    outcome: Outcome
    said: str
    """The note's own words."""
    why: str
    off_by: OffBy | None
    begin: int
    end: int
    """The words are `note.text[begin:end]`."""


@dataclass(frozen=True, slots=True)
class NoteCheck:
    """What the data say to a note."""

    lines: tuple[VerdictLine, ...]
    """In the order in which the claims stand; empty when nothing in the note can be checked."""

    def count(self, outcome: Outcome) -> int:
        """How many claims have that outcome."""
        return sum(line.outcome == outcome for line in self.lines)

    @property
    def wrong(self) -> tuple[VerdictLine, ...]:
        """Claims that the data contradict."""
        return tuple(line for line in self.lines if line.outcome == "disagree")


def lines_of(checked: CheckedNote, units: Units) -> NoteCheck:
    """The check of one note, ready to be shown."""
    return NoteCheck(tuple(_line(checked.note, verdict, units) for verdict in checked.verdicts))


def _line(note: Note, verdict: Verdict, units: Units) -> VerdictLine:
    claim = verdict.claim
    said = " ".join(note.text[claim.begin : claim.end].split())
    return VerdictLine(verdict.outcome, said, verdict.why, off_by(verdict, units), claim.begin, claim.end)


_PLACES = ("board", "from_apex", "apex_timing", "throttle_place")
"""Claims whose verdict is about metres, with or without a number of them in the words."""


def off_by(verdict: Verdict, units: Units) -> OffBy | None:
    """By how much a claim is off; None where it is not, or where that is no number."""
    off, claim = verdict.off_by, verdict.claim
    if verdict.outcome != "disagree" or off is None:
        return None
    if claim.quantity in ("gear", "gears_down"):
        return OffBy("gears", off, "")
    if claim.quantity == "corrections":
        return OffBy("times", off, "")
    imperial = units == "imperial"
    if claim.unit == "m/s":
        return OffBy("speed", SPEED[units].of(off), SPEED[units].label)
    if claim.unit == "m" or claim.quantity in _PLACES:
        return OffBy("length", LENGTH[units].of(off), LENGTH[units].label)
    if claim.unit == "Pa":
        return OffBy("pressure", off / (PSI_PA if imperial else BAR_PA), "psi" if imperial else "bar")
    if claim.unit == "s":
        return OffBy("time", off, "s")
    return OffBy("share", off * 100, "%") if claim.unit == "1" else None


def still_fits(checked: CheckedNote, note: Note) -> bool:
    """Whether a check made earlier is about the note as it is now."""
    before = checked.note
    return (before.text, before.lap_distance_m, before.original) == (note.text, note.lap_distance_m, note.original)
