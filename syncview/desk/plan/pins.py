"""Pins: the project with a speed or a hold set by the coach, or left to the plan again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.desk.plan.pieces import Piece, overlaps
from syncview.desk.plan.values import exact_speed_text
from syncview.notes.note import hold
from syncview.plan.lesson_choices import ChoiceError, PinnedPace, checked_choices

if TYPE_CHECKING:
    from syncview.project import Project

LEAST_REST_M = 0.5
"""What an earlier pin keeps beside a new one is dropped when it is shorter."""


def with_speed(project: Project, begin_m: float, end_m: float, speed: Fraction) -> Project:
    """The project with a stretch pinned to a speed; earlier pins keep only what lies outside it.

    Raises `ChoiceError` when it cannot be.
    """
    rest = [part for pin in project.lesson.pinned for part in _outside(pin, begin_m, end_m)]
    pins = sorted((*rest, PinnedPace(begin_m, end_m, exact_speed_text(speed))), key=lambda pin: pin.begin_m)
    return replace(project, lesson=checked_choices(replace(project.lesson, pinned=tuple(pins))))


def _outside(pin: PinnedPace, begin_m: float, end_m: float) -> Iterator[PinnedPace]:
    if not overlaps(pin, begin_m, end_m):
        yield pin
        return
    for low, high in ((pin.begin_m, begin_m), (end_m, pin.end_m)):
        if high - low >= LEAST_REST_M:
            yield replace(pin, begin_m=low, end_m=high)


def with_hold(project: Project, key: str, length_s: Fraction | None) -> Project:
    """The project with the hold at a note pinned, or left to the plan; raises `NoteError` when it cannot be."""
    return replace(project, notes=hold(project.notes, key, None if length_s is None else float(length_s)))


def pinned(project: Project, piece: Piece, value: Fraction) -> Project:
    """The project with a piece pinned: to a speed, or a hold to seconds. Raises `ChoiceError` or `NoteError`."""
    if piece.kind == "hold" and piece.note_key is not None:
        return with_hold(project, piece.note_key, value)
    if piece.begin_m is None or piece.end_m is None:
        raise ChoiceError(*why_not(piece))
    return with_speed(project, piece.begin_m, piece.end_m, value)


def freed(project: Project, piece: Piece) -> Project:
    """The project with the pins of a piece taken back; the same when it has none."""
    if piece.kind == "hold":
        return project if piece.note_key is None else with_hold(project, piece.note_key, None)
    if piece.begin_m is None or piece.end_m is None:
        return project
    kept = tuple(pin for pin in project.lesson.pinned if not overlaps(pin, piece.begin_m, piece.end_m))
    return replace(project, lesson=replace(project.lesson, pinned=kept))


def all_freed(project: Project) -> Project:
    """The project without any pin."""
    notes = tuple(replace(note, hold_s=None) for note in project.notes)
    return replace(project, notes=notes, lesson=replace(project.lesson, pinned=()))


def why_not(piece: Piece) -> tuple[str, str]:
    """Why a piece cannot be pinned, and the remedy."""
    if not piece.in_breakdown:
        return "the hot lap runs at full speed", "Set speeds in the breakdown, or leave the hot lap out."
    if piece.kind == "hold":
        return "this hold belongs to no note", "Drop a note where the picture should stand."
    return "this lies outside the lap", "Speeds are set by lap distance; before and after the lap the plan decides."
