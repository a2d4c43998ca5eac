"""The local plane against geodesics."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from syncview.local_plane import LocalPlane, plane_around

WGS84 = Geodesic.WGS84


@pytest.mark.parametrize(
    ("lat1", "lon1", "lat2", "lon2", "length_m"),
    [  # Project's standards sheet, section 7, lines F and G (computed there with geographiclib 2.1).
        (52.0, -1.0, 52.0001, -1.0, 11.126735),
        (52.0, -1.0, 52.0, -0.9999, 6.867802),
    ],
)
def test_track_scale_lengths(lat1: float, lon1: float, lat2: float, lon2: float, length_m: float) -> None:
    lat, lon = np.radians([lat1, lat2]), np.radians([lon1, lon2])
    x, y = plane_around(lat, lon).to_plane(lat, lon)
    assert math.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(length_m, abs=1e-6)


@pytest.mark.parametrize(("lat0", "lon0"), [(0.0, 0.0), (45.0, -30.0), (-37.0, 179.99), (68.0, 20.0)])
def test_plane_keeps_lengths_over_a_circuit(lat0: float, lon0: float) -> None:
    """Pairs within 4 km of the middle: lengths as geographiclib gives them, to a millionth."""
    random = np.random.default_rng(3)
    places = [WGS84.Direct(lat0, lon0, float(a), float(s)) for a, s in
              zip(random.uniform(0, 360, 40), random.uniform(0, 4000, 40), strict=True)]  # fmt: skip
    lat, lon = np.array([p["lat2"] for p in places]), np.array([p["lon2"] for p in places])
    plane = plane_around(np.radians(lat), np.radians(lon))
    x, y = plane.to_plane(np.radians(lat), np.radians(lon))
    for i in range(39):
        true_m = WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])["s12"]
        assert math.hypot(x[i + 1] - x[i], y[i + 1] - y[i]) == pytest.approx(true_m, rel=1e-6, abs=1e-5)


def test_plane_there_and_back() -> None:
    plane = LocalPlane(math.radians(45), math.radians(179.999))
    x, y = np.array([-500.0, 0.0, 800.0]), np.array([100.0, 0.0, -900.0])
    back_x, back_y = plane.to_plane(*plane.to_geodetic(x, y))
    assert back_x == pytest.approx(x, abs=1e-6)
    assert back_y == pytest.approx(y, abs=1e-6)


def test_missing_positions_stay_missing() -> None:
    x, y = LocalPlane(0.7, 0.1).to_plane(np.array([0.7, np.nan]), np.array([0.1, 0.1]))
    assert np.isfinite(x[0])
    assert np.isnan(x[1])
    assert np.isnan(y[1])
