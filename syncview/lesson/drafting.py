"""Drafts of notes for the corners of a lap, placed where the driver's work for the corner begins."""

from __future__ import annotations

from dataclasses import dataclass, replace

from syncview.errors import SyncviewError
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.session import Session
from syncview.notes.drafts import DETAILS, Draft, draft_note, fitting_draft
from syncview.notes.note import Note, add
from syncview.notes.templates import TemplateError
from syncview.plan.caption_breaks import reading_ms
from syncview.plan.caption_limits import CaptionLimits
from syncview.project import Project
from syncview.track.corners import Corner
from syncview.track.laps import Lap

LESSON_SPEED = 0.25
"""Share of full speed at which a corner is gone through unless the coach plans otherwise."""


@dataclass(frozen=True, slots=True)
class Drafted:
    """The drafts that were made, and what a person should know about them."""

    project: Project
    """With the drafts among its notes."""
    made: tuple[Note, ...]
    too_long: tuple[str, ...]
    """One sentence for each draft that cannot be read in its corner's time even at its shortest."""


def draft_missing(session: Session, lap: Lap, *, speed: float = LESSON_SPEED) -> Drafted:
    """A fresh draft for every corner without a note of the coach's, short enough to be read while the corner lasts.

    `speed` is the share of full speed at which the lesson will play. Drafts made earlier are replaced; what a person
    wrote, edited or imported stays. Raises `SyncviewError` for a speed that is none, and `TemplateError`.
    """
    if not 0 < speed <= 4:
        raise SyncviewError(f"a lesson cannot play at {speed:g} of full speed", "Give a share such as 0.25.")
    project = session.project
    kept = tuple(note for note in project.notes if note.origin != "draft")
    spoken_for = {corner.number for note in kept if (corner := corner_at(session, note.lap_distance_m)) is not None}
    notes, number, too_long = kept, project.notes_made, []
    for span in corner_spans(session, lap):
        if span.corner.number in spoken_for:
            continue
        draft = _draft(project, span, speed)
        number += 1
        notes = add(notes, number, lap_distance_m=_begin_m(session, span), text=draft.text, origin="draft")
        if not draft.fits:
            too_long.append(_too_long(f"n{number}", draft.text, span, speed))
    made = tuple(note for note in notes if note.origin == "draft")
    return Drafted(replace(project, notes=notes, notes_made=number), made, tuple(too_long))


def try_template(session: Session, lap: Lap, template: str) -> tuple[str, ...]:
    """Drafts of all corners at every length, as a template words them; raises `TemplateError` naming the corner."""
    drafts = []
    for span in corner_spans(session, lap):
        for detail in DETAILS:
            try:
                text = draft_note(
                    span.facts, span.corner, units=session.project.units, template=template, detail=detail
                )
            except TemplateError as error:
                problem = f"{error.problem} (corner {span.corner.number})"
                raise TemplateError(problem, error.remedy, where=error.where) from None
            if detail == max(DETAILS):
                drafts.append(text)
    return tuple(drafts)


def _draft(project: Project, span: CornerSpan, speed: float) -> Draft:
    limits = CaptionLimits()
    lasts_ms = _lasts_s(span, speed) * 1000
    return fitting_draft(
        span.facts,
        span.corner,
        lambda text: reading_ms(text, limits=limits) <= lasts_ms,
        units=project.units,
        template=project.draft_template or None,
    )


def _lasts_s(span: CornerSpan, speed: float) -> float:
    return (span.end_log_s - span.begin_log_s) / speed


def _too_long(key: str, text: str, span: CornerSpan, speed: float) -> str:
    needed_s = reading_ms(text, limits=CaptionLimits()) / 1000
    return (
        f"{key} takes {needed_s:.1f} s to read; corner {span.corner.number} lasts {_lasts_s(span, speed):.1f} s at "
        f"{speed:g} of full speed"
    )


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
