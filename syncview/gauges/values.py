"""What the gauges show at one moment."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class CornerLabel:
    """Which corner the car is in."""

    number: int
    name: str | None
    """None or empty for a corner without a name."""
    side: Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class GaugeValues:
    """One moment's values; None (or a value that is not finite) is drawn as missing, never as zero."""

    speed_mps: float | None = None
    gear: int | None = None
    """0 is neutral, -1 is reverse."""
    throttle: float | None = None
    """Fraction of full travel; the bar is full from 1 on."""
    brake: float | None = None
    """Fraction of the hardest braking; the bar is full from 1 on."""
    steering_rad: float | None = None
    """Wheel angle, positive to the left; the tick runs to the left for a left turn."""
    lap_time_s: float | None = None
    """Time since the lap start; not negative."""
    corner: CornerLabel | None = None
    """None between corners: no card is shown."""
    note: str | None = None
    """What is said at the moment, broken into lines; None or empty shows nothing."""
