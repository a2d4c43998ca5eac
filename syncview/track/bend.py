"""How one lap's path turns through one corner."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.fact_basis import FactBasis, Window

FloatArray = NDArray[np.float64]


def bend_of(basis: FactBasis, window: Window) -> tuple[FloatArray, FloatArray]:
    """Places of the course and this lap's curvature into the corner there, from entry to exit."""
    step_m = basis.curvature.step_m
    cells = np.arange(math.floor(window.entry_m / step_m), math.ceil(window.exit_m / step_m) + 1)
    places_m = np.asarray((cells + 0.5) * step_m, dtype=np.float64)
    index = cells - basis.curvature.first_cell
    inside = (index >= 0) & (index < basis.bend_1pm.size)
    bent = np.full(cells.size, np.nan)
    bent[inside] = basis.bend_1pm[index[inside]]
    return places_m, bent if window.corner.side == "left" else np.negative(bent)


def turn_in_m(basis: FactBasis, window: Window) -> float:
    """Where this lap begins to turn, in places of the course; NaN when the corner's beginning was not measured."""
    places_m, bent = bend_of(basis, window)
    if not np.isfinite(bent[:1]).all() or not np.nanmax(bent) > 0:
        return math.nan
    return float(places_m[np.argmax(bent >= d.TURNING_SHARE * np.nanmax(bent))])
