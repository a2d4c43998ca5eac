"""The local plane against geodesics; curvature of known curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from scipy.special import fresnel

from syncview.track.geometry import (
    LocalPlane,
    arc_length_m,
    path_curvature_1pm,
    path_heading_rad,
    plane_around,
    smooth_path,
    top_centre,
)

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


@pytest.mark.parametrize("way", [1, -1])
def test_circle(way: int) -> None:
    """Curvature of a circle is 1/R, positive to the left; its length is 2πR (textbook)."""
    angle = way * np.linspace(0, 2 * np.pi, 315)[:-1]
    x, y = 50 * np.cos(angle), 50 * np.sin(angle)
    assert path_curvature_1pm(x, y, closed=True) == pytest.approx(way / 50, rel=2e-4)
    assert arc_length_m(x, y)[-1] == pytest.approx(2 * np.pi * 50 * 313 / 314, rel=1e-4)
    assert np.diff(path_heading_rad(x, y, closed=True)).sum() == pytest.approx(way * 2 * np.pi * 313 / 314, rel=1e-6)


def test_clothoid() -> None:
    """Curvature of a clothoid, the road designer's transition, grows as s/A²; points by scipy's Fresnel integrals."""
    a_m = 80.0
    s = np.arange(0.0, 120.0, 1.0)
    scale = a_m * math.sqrt(math.pi)
    sine, cosine = fresnel(s / scale)
    curvature = path_curvature_1pm(scale * cosine, scale * sine)
    assert curvature[2:-2] == pytest.approx((s / a_m**2)[2:-2], abs=2e-6)


def test_smoothing_hardly_cuts_a_bend() -> None:
    """A plain Gaussian of 4 m pulls a 16 m circle inwards by σ²/2R = 0.5 m; the path smoothing stays within 2 cm."""
    angle = np.arange(0, 2 * np.pi, 0.25 / 16)
    x, y = 16 * np.cos(angle), 16 * np.sin(angle)
    radius = np.hypot(smooth_path(x, 16, closed=True), smooth_path(y, 16, closed=True))
    assert radius == pytest.approx(16, abs=0.02)


def test_top_centre() -> None:
    places = np.arange(101.0)
    single = np.exp(-0.5 * ((places - 40.3) / 8) ** 2)
    assert top_centre(single, int(np.argmax(single)), 0.8) == pytest.approx(40.3, abs=0.1)
    arc = np.clip(np.minimum(places - 20, 70 - places) / 10, 0, 1)  # constant between 30 and 60
    assert top_centre(arc, 30, 0.9) == pytest.approx(45, abs=0.1)
