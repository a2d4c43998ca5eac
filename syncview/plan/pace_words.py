"""Why a span of a pace plan is as it is, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from syncview.plan.pace_pieces import Piece
from syncview.plan.pace_rules import SaidNote

_PLAIN_DENOMINATORS = (2, 3, 4, 5, 8, 16)
"""Shares of full speed that read well as a fraction."""


def speed_words(speed: Fraction) -> str:
    """`1/4 speed`, `0.86 speed`, `full speed`."""
    if speed == 1:
        return "full speed"
    return f"{speed if speed.denominator in _PLAIN_DENOMINATORS else format(float(speed), '.2f')} speed"


def seconds_words(time_s: Fraction) -> str:
    """`2.4 s`; as many decimals as it takes to show that there is something."""
    return f"{float(time_s):.1f} s" if time_s >= Fraction(1, 20) else f"{float(time_s):.3f} s"


def notes_words(notes: Sequence[SaidNote]) -> str:
    """`note n3 (6.2 s)`, `notes n3 (6.2 s) and n4 (3.0 s)`."""
    each = [f"{note.key} ({seconds_words(note.need_s)})" for note in notes]
    return f"note {each[0]}" if len(each) == 1 else f"notes {', '.join(each[:-1])} and {each[-1]}"


@dataclass(frozen=True, slots=True)
class Hearing:
    """What is heard on the way from one place to the next."""

    notes: Sequence[SaidNote]
    """Of the place itself and those before it."""
    coming: SaidNote | None
    """The first of the next place, when it begins before the picture gets there."""
    before: str
    """What comes after the way: `the place of n4`, `the end`."""
    floor: Fraction
    """The slowest speed that may be used."""


def played_why(piece: Piece, speed: Fraction, hearing: Hearing, *, slowed: bool) -> str:
    """Why a piece plays at a speed; ``slowed`` says whether a piece before it on the way plays slower than it could."""
    words, heard = speed_words(speed), hearing.notes
    if piece.kind == "pinned":
        return f"{words}: set by the coach"
    if piece.kind == "rhythm":
        return f"full speed: room to feel the rhythm between {piece.name}"
    if piece.kind == "corner" and speed == piece.fastest:
        return f"{words}: {piece.name} plays no faster"
    if speed == 1:
        until = f" until note {hearing.coming.key} begins, just before its place" if hearing.coming else ""
        reason = f"{notes_words(heard)} {_has(heard)} time enough" if heard else f"nothing is said here{until}"
        return f"full speed again: {reason}" if slowed else f"full speed: {reason}"
    if not heard:
        return f"{words} so that there is a pause before {hearing.before}"
    lowest = ", the slowest allowed," if speed == hearing.floor else ""
    return f"{words}{lowest} so that {notes_words(heard)} {_is(heard)} heard before {hearing.before}"


def hold_why(held_s: Fraction, here: Sequence[SaidNote], heard: Sequence[SaidNote], *, room: str) -> str:
    """Why the picture stands so long at a place.

    ``here`` are the notes of the place, ``heard`` those that are heard while it stands, longer than the ``room``.
    """
    words, drawn = f"held {seconds_words(held_s)}", [note for note in here if note.least_hold_s]
    shown = f"something is drawn for {' and '.join(note.key for note in drawn)}"
    if drawn and held_s <= sum((note.least_hold_s for note in drawn), Fraction(0)):
        return f"{words}: {shown}"
    if not heard:
        return f"{words}: a pause before the next note"
    if len(here) > 1:
        longer = f"the notes {' and '.join(note.key for note in here)} belong to the same place"
    else:
        longer = f"{notes_words(heard)} {_is(heard)} longer than {room}"
    return f"{words}: {shown}, and {longer}" if drawn else f"{words}: {longer}"


def pinned_hold_why(held_s: Fraction) -> str:
    """Why the picture stands where the coach said so."""
    return f"held {seconds_words(held_s)}: set by the coach"


def _is(notes: Sequence[SaidNote]) -> str:
    return "is" if len(notes) == 1 else "are"


def _has(notes: Sequence[SaidNote]) -> str:
    return "has" if len(notes) == 1 else "have"
