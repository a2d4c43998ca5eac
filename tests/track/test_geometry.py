"""Curvature and length of known curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import fresnel

from syncview.track.geometry import (
    arc_length_m,
    path_curvature_1pm,
    path_heading_rad,
    smooth_path,
    top_centre,
)


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
