"""Headings of known motion: a circle driven at constant speed, by position, by sensor, and by both."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import SessionLog
from syncview.track.curvature_grid import LapCurvature
from syncview.track.curvature_noise import left_by_smoothing, path_noise_1pm
from syncview.track.geometry import smooth
from syncview.track.headings import Heading, heading_by_sensor, heading_of_positions, joined
from syncview.track.motion import read_motion
from tests.track.made import make_log

RADIUS_M, SPEED_MPS, RATE_HZ = 50.0, 20.0, 50.0
EARTH_M = 6378137.0


def circle() -> SessionLog:
    """Anticlockwise on the equator at longitude 0, where a degree is as long both ways to 0.7 %."""
    log_s = np.arange(0, 30, 1 / RATE_HZ)
    at = SPEED_MPS / RADIUS_M * log_s
    return make_log(
        log_s,
        speed=np.full(log_s.size, SPEED_MPS),
        latitude=RADIUS_M * np.sin(at) / 6335439.0,
        longitude=RADIUS_M * np.cos(at) / EARTH_M,
        yaw_rate=np.full(log_s.size, SPEED_MPS / RADIUS_M),
        lateral_acceleration=np.full(log_s.size, SPEED_MPS**2 / RADIUS_M),
    )


def turned_per_s(heading: Heading | None) -> float:
    assert heading is not None
    inner = slice(heading.rad.size // 10, -heading.rad.size // 10)
    return float(np.polyfit(heading.log_s[inner], heading.rad[inner], 1)[0])


def test_every_source_turns_by_v_over_r() -> None:
    """v/R = 0.4 rad/s (kinematics of a circle)."""
    log = circle()
    motion = read_motion(log)
    for heading in (
        heading_by_sensor(motion, log, "yaw_rate"),
        heading_by_sensor(motion, log, "lateral_acceleration"),
        heading_of_positions(motion, 5.0),
    ):
        assert turned_per_s(heading) == pytest.approx(0.4, rel=1e-3)
    assert heading_by_sensor(motion, log, "steering") is None


def test_joined_takes_the_slow_from_the_path_and_the_quick_from_the_sensor() -> None:
    log_s = np.arange(0, 60, 0.02)
    slow, quick = 0.5 * np.sin(2 * np.pi * log_s / 20), 0.05 * np.sin(2 * np.pi * log_s / 0.5)
    path = Heading(log_s, slow + 0.02 * np.sin(2 * np.pi * log_s / 0.2), "path")
    sensor = Heading(log_s, slow + quick + 0.03 * log_s, "sensor")
    both = joined(path, sensor, 0.6)
    inner = slice(200, -200)
    assert both.rad[inner] == pytest.approx((slow + quick)[inner], abs=2e-4)
    assert both.source == "path; sensor"


def test_joined_keeps_the_holes_of_the_path() -> None:
    log_s = np.arange(0, 20, 0.02)
    rad = np.where((log_s > 8) & (log_s < 12), np.nan, 0.1 * log_s)
    both = joined(Heading(log_s, rad, "path"), Heading(log_s, 0.1 * log_s + 0.4, "sensor"), 0.5)
    assert np.array_equal(np.isnan(both.rad), np.isnan(rad))
    assert np.nanmax(np.abs(both.rad - 0.1 * log_s)) < 1e-9


def test_noise_of_cells_is_measured_beside_real_bends() -> None:
    """White noise of known size on a lap of straights and bends (NumPy's generator; scipy smooths it)."""
    random = np.random.default_rng(3)
    bend = 0.01 * np.exp(-0.5 * ((np.arange(2000) % 500 - 250) / 25.0) ** 2)
    noise = random.normal(0, 2e-4, (3, 2000))
    by_lap = dict(enumerate(bend + noise, start=1))
    found = LapCurvature(1.0, 0, np.concatenate(list(by_lap.values())), by_lap, np.median(bend + noise, axis=0), "made")
    assert path_noise_1pm(found, 5.0) == pytest.approx(2e-4, rel=0.15)
    assert left_by_smoothing(3.0, 1.0) * 2e-4 == pytest.approx(float(smooth(noise, 3.0).std()), rel=0.1)
