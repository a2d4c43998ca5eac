"""The line of several laps, from a receiver that wanders, against the closed curve that was driven."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from pyproj import Proj

from syncview.channels import SessionLog, Signal
from syncview.track.distance import build_track
from syncview.track.reference_line import ReferenceLine
from tests.track.made import FloatArray, make_log

SPEED_MPS, RATE_HZ, LAPS = 30.0, 20.0, 8
TURN = np.linspace(0, 2 * np.pi, 20001)
RADIUS_M = 200 + 60 * np.cos(3 * TURN)
PATH_M = np.array([RADIUS_M * np.cos(TURN), RADIUS_M * np.sin(TURN)])
RUN_M = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(PATH_M)))))
LENGTH_M = float(RUN_M[-1])
LAP_S = LENGTH_M / SPEED_MPS
PLANE = Proj("+proj=tmerc +lat_0=20 +lon_0=-40 +k=1 +ellps=WGS84 +units=m")
SEEDS = range(10)


def wandering(random: np.random.Generator, log_s: FloatArray) -> FloatArray:
    """Half a metre that changes within ten seconds, and a decimetre from fix to fix."""
    knots_s = np.arange(-10, log_s[-1] + 20, 10)
    return np.interp(log_s, knots_s, random.normal(0, 0.5, knots_s.size)) + random.normal(0, 0.1, log_s.size)


@cache
def driven(seed: int) -> SessionLog:
    random = np.random.default_rng(seed)
    log_s = np.arange(-5, LAPS * LAP_S + 5, 1 / RATE_HZ)
    x_m, y_m = (np.interp(log_s * SPEED_MPS % LENGTH_M, RUN_M, p) + wandering(random, log_s - log_s[0]) for p in PATH_M)
    lon_deg, lat_deg = PLANE(x_m, y_m, inverse=True)
    return make_log(
        log_s,
        speed=np.full(log_s.size, SPEED_MPS),
        latitude=np.radians(lat_deg),
        longitude=np.radians(lon_deg),
    )


def line_of(log: SessionLog, laps: int) -> ReferenceLine:
    line = build_track(log, np.asarray(np.arange(laps + 1) * LAP_S, dtype=np.float64)).line
    assert line is not None
    return line


@cache
def lines() -> tuple[tuple[ReferenceLine, ReferenceLine], ...]:
    """Of the first lap alone and of all laps, seed by seed."""
    return tuple((line_of(driven(seed), 1), line_of(driven(seed), LAPS)) for seed in SEEDS)


def off_m(line: ReferenceLine) -> FloatArray:
    """How far the line lies beside the true path."""
    lon_deg, lat_deg = PLANE(PATH_M[0, ::20], PATH_M[1, ::20], inverse=True)
    return line.place_of(np.radians(lat_deg), np.radians(lon_deg))[1]


def rms(values: FloatArray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def test_more_laps_make_a_better_line() -> None:
    """The median of eight scatters 0.41 times as much as one (of normal values, by NumPy)."""
    expected = float(np.median(np.random.default_rng(0).normal(size=(20000, LAPS)), axis=1).std())
    assert expected == pytest.approx(0.41, abs=0.01)
    one, every = (np.concatenate([off_m(pair[i]) for pair in lines()]) for i in (0, 1))
    assert rms(every) < 1.1 * expected * rms(one)


def test_and_a_better_length() -> None:
    errors_m = np.array([[line.length_m - LENGTH_M for line in pair] for pair in lines()])
    assert rms(errors_m[:, 1]) < 0.5 * rms(errors_m[:, 0])
    assert np.abs(errors_m[:, 1]).max() < 1.5


def test_one_lap_beside_the_others_does_not_move_it() -> None:
    """12 m to the north for ten seconds of lap 3."""
    log = driven(0)
    old = log.signals["latitude"]
    wide = (log.time_s > 2 * LAP_S + 15) & (log.time_s < 2 * LAP_S + 25)
    moved = Signal(old.role, old.source, old.values + np.where(wide, 12 / 6.37e6, 0.0), old.unit)
    line = line_of(SessionLog("x", log.time_s, {**log.signals, "latitude": moved}), LAPS)
    assert np.abs(off_m(line)).max() < np.abs(off_m(lines()[0][1])).max() + 0.5
