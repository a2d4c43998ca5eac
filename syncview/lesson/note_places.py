"""Where a moment of the recording lies on the lap, and which corner a place is about."""

from __future__ import annotations

import math

import numpy as np

from syncview.lesson.chapters import corner_title
from syncview.lesson.drafting import corner_at
from syncview.lesson.session import Session
from syncview.notes.speech import Place


def place_at(session: Session, media_s: float) -> Place | None:
    """The lap and the lap distance at a media time; None outside the timed laps. Raises `UnsureError`."""
    log_s = session.clock().to_log_s(media_s)
    for lap in session.track.timed:
        if lap.start_s <= log_s < lap.end_s:
            distance = float(session.track.traces[lap.number].distance_at(np.array([log_s]))[0])
            return Place(lap.number, distance) if math.isfinite(distance) else None
    return None


def corner_words(session: Session, lap_distance_m: float) -> str:
    """The corner that a place is about, as lists call it; empty for none."""
    corner = corner_at(session, lap_distance_m)
    return "" if corner is None else corner_title(corner)


def corner_number(session: Session, lap_distance_m: float) -> int | None:
    """The number of the corner that a place is about."""
    corner = corner_at(session, lap_distance_m)
    return None if corner is None else corner.number
