"""Generated sessions with their basis of facts, worked out once for all test modules."""

from __future__ import annotations

from functools import cache

from syncview.track.distance import build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from tests.track.generator import Session, drive


@cache
def prepared(seed: int, rate_hz: float) -> tuple[Session, FactBasis]:
    """A drive with all channels and usual noise."""
    session = drive(seed, rate_hz=rate_hz)
    return session, prepare_facts(build_track(session.log, session.lap_starts_s), session.log)
