"""The notes of a solved pace plan as what the captions are made from: each comes when its note is said, and stays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from syncview.plan.caption_breaks import reading_ms
from syncview.plan.caption_limits import CaptionLimits
from syncview.plan.caption_timing import Spoken
from syncview.plan.pace_solver import NoteTime


def note_reading_s(text: str, *, limits: CaptionLimits | None = None) -> Fraction:
    """Time that a note's captions need on screen: the ``reading_s`` of `SaidNote`."""
    return Fraction(reading_ms(text, limits=limits or CaptionLimits()), 1000)


def spoken_notes(
    notes: Sequence[NoteTime], texts: Mapping[str, str], *, section_begin_s: Fraction = Fraction(0)
) -> tuple[Spoken, ...]:
    """What `plan_captions` needs, for a plan that begins at a time of the film; notes without a text are left out.

    Times are rounded down to milliseconds, all the same way, so that captions that were given their reading time in
    the plan find it in the film, the last one too.
    """
    spoken = []
    for note in notes:
        begin_ms, end_ms = (_floor_ms(section_begin_s + s) for s in (note.begin_lesson_s, note.end_lesson_s))
        if note.key in texts:
            spoken.append(Spoken(begin_ms, texts[note.key], note.key, lasts_ms=end_ms - begin_ms))
    return tuple(spoken)


def _floor_ms(time_s: Fraction) -> int:
    return time_s.numerator * 1000 // time_s.denominator
