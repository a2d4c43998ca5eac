"""Lap starts by position alone."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import FloatArray
from syncview.clock.log_lap_starts import find_lap_starts
from syncview.errors import LogError
from tests.clock.test_log_lap_starts import make_log

LATITUDE, LONGITUDE = np.radians(52.0), np.radians(-1.0)
RADIUS_M = 6_378_137.0


def oval(rate_hz: float, seed: int, noise_m: float = 0.2) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Time, latitude, longitude and the exact crossings of the middle of the long straight, on an oval.

    Two straights of 600 m joined by half circles of 80 m radius, at a speed that swings between 20 and 50 m/s.
    """
    fine = np.arange(0, 240, 1e-3)
    speed = 35 - 15 * np.cos(2 * np.pi * fine / 37)
    along = 250 + np.concatenate(([0], np.cumsum((speed[1:] + speed[:-1]) / 2 * 1e-3)))
    lap_m = 1200 + 2 * np.pi * 80
    crossings = np.interp(np.arange(1, along[-1] // lap_m + 1) * lap_m + 300, along, fine)
    crossings = np.concatenate(([np.interp(300, along, fine)], crossings))
    time_s = np.arange(0, 240, 1 / rate_hz)
    at = np.interp(time_s, fine, along) % lap_m
    half = np.pi * 80
    east = np.select(
        [at < 600, at < 600 + half, at < 1200 + half],
        [at, 600 + 80 * np.sin((at - 600) / 80), 1200 + half - at],
        -80 * np.sin((at - 1200 - half) / 80),
    )
    north = np.select(
        [at < 600, at < 600 + half, at < 1200 + half],
        [0 * at, 80 - 80 * np.cos((at - 600) / 80), 160 + 0 * at],
        80 + 80 * np.cos((at - 1200 - half) / 80),
    )
    rng = np.random.default_rng(seed)
    north = north + rng.normal(0, noise_m, north.size)
    east = east + rng.normal(0, noise_m, east.size)
    curve = 1 - 6.69437999014e-3 * np.sin(LATITUDE) ** 2
    meridian, prime = RADIUS_M * (1 - 6.69437999014e-3) / curve**1.5, RADIUS_M / curve**0.5
    return time_s, LATITUDE + north / meridian, LONGITUDE + east / (prime * np.cos(LATITUDE)), crossings


@pytest.mark.parametrize(("rate_hz", "within_s"), [(100, 0.004), (20, 0.008), (10, 0.012)])
def test_crossings_of_a_given_line(rate_hz: float, within_s: float) -> None:
    time_s, latitude, longitude, crossings = oval(rate_hz, 1)
    log = make_log(time_s, latitude=latitude, longitude=longitude)
    line = (
        LATITUDE,
        LONGITUDE + 300 / (RADIUS_M * np.cos(LATITUDE) / np.sqrt(1 - 6.69437999014e-3 * np.sin(LATITUDE) ** 2)),
    )
    laps = find_lap_starts(log, start_line_rad=line)
    assert laps.starts_s == pytest.approx(crossings[crossings < time_s[-1]], abs=within_s)
    assert "given start line" in laps.source


@pytest.mark.parametrize("rate_hz", [100, 10])
def test_a_line_is_found_where_the_car_comes_round_again(rate_hz: float) -> None:
    time_s, latitude, longitude, _ = oval(rate_hz, 2)
    laps = find_lap_starts(make_log(time_s, latitude=latitude, longitude=longitude))
    lap_m = 1200 + 2 * np.pi * 80
    assert "found on the fastest straight" in laps.source
    assert len(laps.starts) >= 4
    # Lap times of the same place, wherever it is: distance driven between the crossings is one lap each.
    fine = np.arange(0, 240, 1e-3)
    driven = np.concatenate(([0], np.cumsum(35 - 15 * np.cos(2 * np.pi * fine / 37))[:-1] * 1e-3))
    between = np.diff(np.interp(laps.starts_s, fine, driven))
    assert between == pytest.approx(np.full(between.size, lap_m), abs=0.5)


def test_a_line_elsewhere_is_refused() -> None:
    time_s, latitude, longitude, _ = oval(20, 3)
    log = make_log(time_s, latitude=latitude, longitude=longitude)
    with pytest.raises(LogError, match="never crosses that start line"):
        find_lap_starts(log, start_line_rad=(LATITUDE + 0.01, LONGITUDE))


def test_a_drive_that_never_comes_round_has_no_laps() -> None:
    time_s = np.arange(0, 60, 0.1)
    log = make_log(time_s, latitude=LATITUDE + time_s * 5e-6, longitude=np.full(time_s.size, LONGITUDE))
    with pytest.raises(LogError, match="comes round again"):
        find_lap_starts(log)
