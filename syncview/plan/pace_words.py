"""Why a span of a pace plan is as it is, in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from syncview.plan.pace_pieces import Piece
from syncview.plan.pace_rules import PaceRules, SaidNote


def speed_words(speed: Fraction) -> str:
    """`1/4 speed`, `0.42 speed`, `full speed`."""
    if speed == 1:
        return "full speed"
    return f"{speed if speed.denominator <= 16 else format(float(speed), '.2f')} speed"


def seconds_words(time_s: Fraction) -> str:
    """`2.4 s`; as many decimals as it takes to show that there is something."""
    return f"{float(time_s):.1f} s" if time_s >= Fraction(1, 20) else f"{float(time_s):.3f} s"


def notes_words(notes: Sequence[SaidNote]) -> str:
    """`note n3 (6.2 s)`, `notes n3 (6.2 s) and n4 (3.0 s)`."""
    each = [f"{note.key} ({seconds_words(note.need_s)})" for note in notes]
    return f"note {each[0]}" if len(each) == 1 else f"notes {', '.join(each[:-1])} and {each[-1]}"


def played_why(piece: Piece, speed: Fraction, heard: Sequence[SaidNote], *, before: str, rules: PaceRules) -> str:
    """Why a piece plays at a speed while those notes are heard; ``before`` says what comes after it."""
    words = speed_words(speed)
    if piece.kind == "pinned":
        return f"{words}: set by the coach"
    if piece.kind == "rhythm":
        return f"full speed between {piece.name}: room to feel the rhythm"
    if piece.kind == "corner" and speed == piece.fastest:
        return f"{words}: {piece.name} plays no faster"
    if speed == 1:
        return f"full speed: {notes_words(heard)} has time enough here" if heard else "full speed: nothing is said here"
    if not heard:
        return f"{words} so that there is a pause before {before}"
    lowest = ", the slowest allowed," if speed == rules.floor else ""
    return f"{words}{lowest} so that {notes_words(heard)} {_verb(heard)} heard before {before}"


def hold_why(
    held_s: Fraction, drawn: Sequence[SaidNote], heard: Sequence[SaidNote], *, pinned: bool, rules: PaceRules
) -> str:
    """Why the picture stands so long at a place, where ``drawn`` are its notes with something drawn."""
    words = f"held {seconds_words(held_s)}"
    if pinned:
        return f"{words}: set by the coach"
    drawn_s = sum((note.least_hold_s for note in drawn), Fraction(0))
    shown = f"something is drawn for {' and '.join(note.key for note in drawn)}"
    if drawn and held_s <= drawn_s:
        return f"{words}: {shown}"
    if not heard:
        return f"{words}: a pause before the next note"
    longer = f"{notes_words(heard)} {_verb(heard)} longer than {speed_words(rules.floor)} allows"
    return f"{words}: {shown}, and {longer}" if drawn else f"{words}: {longer}"


def _verb(notes: Sequence[SaidNote]) -> str:
    return "is" if len(notes) == 1 else "are"
