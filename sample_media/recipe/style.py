"""How the driver takes each corner on each lap: where the line differs, how much grip is used, what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .circuit import Circuit
from .line import Pull

LAPS = 3
FIRST_LAP, LAST_LAP = 0, LAPS + 1
"""Lap 0 is the end of the out-lap, lap LAPS + 1 the beginning of the run-out."""


@dataclass(frozen=True, slots=True)
class Manner:
    """One corner on one lap, as deviations from the driver's habit."""

    grip: float = 0.955
    """Share of the tyres' grip used in the corner."""
    braking: float = 0.90
    """Share of the grip used under braking; less means earlier."""
    apex_shift_m: float | None = None
    """The apex is pulled this far along the lap (minus: early); None leaves the smoothest line."""
    slide_rad: float = 0.0
    """A slide of the tail at the exit: extra nose-in angle, caught by opposite lock."""


MANNERS: dict[tuple[int, int], Manner] = {
    (1, 1): Manner(0.95, 0.82),
    (1, 2): Manner(0.93, 0.90),
    (1, 3): Manner(0.95, 0.84),
    (1, 5): Manner(0.92, 0.86),
    (1, 7): Manner(0.945, 0.90),
    (1, 9): Manner(0.93, 0.90, 4.0),
    (1, 10): Manner(0.94, 0.86),
    (2, 1): Manner(0.965, 0.93),
    (2, 3): Manner(0.965, 0.93, 2.0),
    (2, 5): Manner(0.96, 0.94),
    (2, 6): Manner(0.965, 0.92),
    (2, 8): Manner(0.965, 0.92),
    (2, 10): Manner(0.965, 0.93),
    (3, 1): Manner(0.945, 0.95, -9.0),
    (3, 3): Manner(0.95, 0.88),
    (3, 5): Manner(0.945, 0.92),
    (3, 8): Manner(0.95, 0.90, None, 0.11),
    (3, 9): Manner(0.94, 0.88),
    (3, 10): Manner(0.955, 0.89),
}
"""(lap, corner) -> manner; others are the habit."""


def manner(lap: int, corner: int) -> Manner:
    """The manner of a corner on a lap; where none is set, the habit with a little scatter."""
    if (lap, corner) in MANNERS:
        return MANNERS[lap, corner]
    grip, braking, shift = np.random.default_rng((7, lap, corner)).uniform(-1.0, 1.0, 3)
    return Manner(0.955 + 0.007 * grip, 0.90 + 0.025 * braking, 1.5 * shift)


def pulls(track: Circuit, limit_m: float) -> tuple[Pull, ...]:
    """The line's wishes: moved apexes."""
    wishes = []
    for lap in range(FIRST_LAP, LAST_LAP + 1):
        start_m = (lap - 1) * track.length_m
        for corner in track.corners:
            inside = limit_m if corner.side == "left" else -limit_m
            how = manner(lap, corner.number)
            if how.apex_shift_m is not None:
                wishes.append(
                    Pull(
                        start_m + corner.apex_m + how.apex_shift_m, inside, 1.0 if abs(how.apex_shift_m) > 3.0 else 0.01
                    )
                )
    return tuple(wishes)
