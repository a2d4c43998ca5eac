"""Drafts of notes for the corners of a lap, placed where the driver's work for the corner begins."""

from __future__ import annotations

from dataclasses import replace

from syncview.errors import SyncviewError
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.session import Session
from syncview.notes.drafts import draft_note
from syncview.notes.note import Note, add
from syncview.project import Project
from syncview.track.corners import Corner
from syncview.track.laps import Lap


def draft_missing(session: Session, lap: Lap) -> tuple[Project, tuple[Note, ...]]:
    """The project with a fresh draft for every corner without a note of the coach's, and the drafts made.

    Drafts made earlier are replaced; what a person wrote, edited or imported stays.
    """
    project = session.project
    kept = tuple(note for note in project.notes if note.origin != "draft")
    spoken_for = {corner.number for note in kept if (corner := corner_at(session, note.lap_distance_m)) is not None}
    notes, number = kept, project.notes_made
    for span in corner_spans(session, lap):
        if span.corner.number in spoken_for:
            continue
        text = draft_note(span.facts, span.corner, units=project.units)
        if text:
            number += 1
            notes = add(notes, number, lap_distance_m=_begin_m(session, span), text=text, origin="draft")
    made = tuple(note for note in notes if note.origin == "draft")
    return replace(project, notes=notes, notes_made=number), made


def begin_distance_m(session: Session, lap: Lap, corner_number: int) -> float:
    """Lap distance at which a lap begins a corner: its braking, or its entry. Raises `SyncviewError`."""
    for span in corner_spans(session, lap):
        if span.corner.number == corner_number:
            return _begin_m(session, span)
    known = ", ".join(str(corner.number) for corner in session.corners) or "none"
    raise SyncviewError(f"there is no corner {corner_number} on lap {lap.number}", f"Corners are: {known}.")


def _begin_m(session: Session, span: CornerSpan) -> float:
    onset = span.facts.brake.distance_m.value
    begin = span.corner.entry_m if onset is None else _earlier(session, onset, span.corner)
    return begin % session.track.lap_length_m


def _earlier(session: Session, onset_m: float, corner: Corner) -> float:
    """The braking point or the entry, whichever comes first on the way to the apex."""
    length = session.track.lap_length_m
    return max(onset_m, corner.entry_m, key=lambda place_m: (corner.apex_m - place_m) % length)


APPROACH_M = 200.0
"""A note this far before a corner's entry, or nearer, is about that corner. Common practice, no source."""


def corner_at(session: Session, lap_distance_m: float) -> Corner | None:
    """The corner that a note at that place is about: the one being driven, else the next one not far ahead."""
    length = session.track.lap_length_m
    for corner in session.corners:
        if (lap_distance_m - corner.entry_m) % length <= (corner.exit_m - corner.entry_m) % length:
            return corner
    ahead = min(session.corners, key=lambda c: (c.entry_m - lap_distance_m) % length, default=None)
    if ahead is None or (ahead.entry_m - lap_distance_m) % length > APPROACH_M:
        return None
    return ahead
