"""Where kerbs lie, for the picture, the shake and the sound alike."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .circuit import HALF_WIDTH_M, Circuit, Floats

WIDTH_M = 1.1
TOUCH_M = HALF_WIDTH_M - 1.15
"""From this offset on, the wheels on that side run on the kerb."""
EXIT_KERBS = (1, 2, 3, 6, 8, 9, 10)


def spans(track: Circuit) -> list[tuple[float, float, float]]:
    """Each kerb's first and last station and its side, +1 left or -1 right: apexes, and exits of most corners."""
    found = []
    for corner in track.corners:
        side = 1.0 if corner.side == "left" else -1.0
        half = max(0.30 * (corner.exit_m - corner.entry_m), 9.0)
        found.append((corner.apex_m - half, corner.apex_m + half, side))
        if corner.number in EXIT_KERBS:
            found.append((corner.exit_m - 4.0, corner.exit_m + 26.0, -side))
    return found


def ridden(track: Circuit, station_m: Floats, offset_m: Floats) -> NDArray[np.bool_]:
    """True where a car at unrolled stations and offsets, shape (n,), has wheels on a kerb."""
    local = np.mod(station_m, track.length_m)
    on = np.zeros(len(local), dtype=np.bool_)
    for first, last, side in spans(track):
        on |= (local > first) & (local < last) & (side * offset_m > TOUCH_M)
    return on
