"""When a lap is in each corner: from the braking for it (or its entry) to its exit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.lesson.session import Session
from syncview.track.corner_facts import CornerFacts
from syncview.track.corners import Corner
from syncview.track.fact_basis import window_of
from syncview.track.facts import corner_facts
from syncview.track.laps import Lap


@dataclass(frozen=True, slots=True)
class CornerSpan:
    """One corner on one lap, with its facts."""

    corner: Corner
    facts: CornerFacts
    begin_log_s: float
    """Braking for the corner, or its entry where there is none or it comes later."""
    end_log_s: float
    """Exit."""


def corner_spans(session: Session, lap: Lap) -> tuple[CornerSpan, ...]:
    """All corners of a lap in driving order; those whose entry or exit the log does not hold are left out."""
    spans = []
    for corner in session.corners:
        window = window_of(session.facts, lap, corner)
        entry, exit_ = session.track.log_s_at_course(np.array([window.entry_m, window.exit_m]))
        if not np.isfinite([entry, exit_]).all():
            continue
        facts = corner_facts(session.track, session.log, lap, corner, basis=session.facts)
        onset = facts.brake.log_s.value
        begin = float(entry) if onset is None else min(float(entry), onset)
        spans.append(CornerSpan(corner, facts, begin, float(exit_)))
    return tuple(spans)
