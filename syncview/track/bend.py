"""How one lap's path turns through one corner."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.fact_basis import FactBasis, Window

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """Curvature from entry to exit; arrays have shape (k,)."""

    places_m: FloatArray
    """Places of the course."""
    inward_1pm: FloatArray
    """Curvature into the corner; NaN where it was not measured."""
    turn_in_m: float
    """Where this lap begins to turn, in places of the course; NaN when the corner's beginning was not measured."""


def bend_of(basis: FactBasis, window: Window) -> Bend:
    """How a lap turns through a corner."""
    step_m = basis.curvature.step_m
    cells = np.arange(math.floor(window.entry_m / step_m), math.ceil(window.exit_m / step_m) + 1)
    places_m = np.asarray((cells + 0.5) * step_m, dtype=np.float64)
    index = cells - basis.curvature.first_cell
    inside = (index >= 0) & (index < basis.bend_1pm.size)
    bent = np.full(cells.size, np.nan)
    bent[inside] = basis.bend_1pm[index[inside]]
    inward = bent if window.corner.side == "left" else np.negative(bent)
    return Bend(places_m, inward, _turn_in_m(places_m, inward))


def _turn_in_m(places_m: FloatArray, inward_1pm: FloatArray) -> float:
    if not math.isfinite(inward_1pm[0]):
        return math.nan
    most = float(np.fmax.reduce(inward_1pm))
    return float(places_m[np.argmax(inward_1pm >= d.TURNING_SHARE * most)]) if most > 0 else math.nan
