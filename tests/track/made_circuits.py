"""Circuits for tests: one drawn with compass and ruler, and those of generated sessions."""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from syncview.channels import SessionLog, Signal
from syncview.track.circuit import Circuit
from syncview.track.circuit_match import make_circuit
from syncview.track.distance import Track, build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from tests.track.generator import Session, drive
from tests.track.made import FloatArray

SENSORS = ("yaw_rate", "lateral_acceleration")
POSITION = ("latitude", "longitude")


@cache
def made(seed: int, *, without: tuple[str, ...] = (), rate_hz: float = 20) -> tuple[Session, FactBasis, Circuit]:
    """A drive, its basis, and the circuit made from it."""
    session = drive(seed, rate_hz=rate_hz, without=without)
    track = build_track(session.log, session.lap_starts_s)
    basis = prepare_facts(track, session.log)
    return session, basis, make_circuit(track, basis.curvature, basis.corners, name=f"Circuit {seed}")


def with_starts_moved(track: Track, by_m: float) -> FloatArray:
    """Log times at which laps pass a place this far behind the start line."""
    laps = np.arange(-1.0, len(track.timed) + 2.0)
    found = track.log_s_at_course(by_m + laps * track.lap_length_m)
    return np.asarray(found[np.isfinite(found)], dtype=np.float64)


def moved_east(log: SessionLog, by_rad: float) -> SessionLog:
    """The same drive elsewhere on the globe."""
    old = log.signals["longitude"]
    moved = Signal(old.role, old.source, old.values + by_rad, old.unit)
    return SessionLog(log.name, log.time_s, {**log.signals, "longitude": moved})


def backwards(log: SessionLog) -> SessionLog:
    """The same drive with time running the other way: round the circuit in the other direction."""
    signals = {name: Signal(s.role, s.source, (-1 if name == "yaw_rate" else 1) * s.values[::-1], s.unit)
               for name, s in log.signals.items() if name != "lateral_acceleration"}  # fmt: skip
    return SessionLog(log.name, log.time_s, signals)


def beside_m(a_m: float, b_m: float, length_m: float) -> float:
    return (a_m - b_m + length_m / 2) % length_m - length_m / 2


def stadium(straight_m: float = 300.0, radius_m: float = 50.0) -> FloatArray:
    """Curvature of two half circles joined by straights, in steps of a metre."""
    half = round(math.pi * radius_m)
    part = np.concatenate((np.zeros(round(straight_m)), np.full(half, 1 / radius_m)))
    return np.concatenate((part, part))
