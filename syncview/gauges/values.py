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
class MarkerAhead:
    """The next thing that the driver can see and name, and how far it is."""

    words: str
    """What a coach calls it: “100 board”."""
    distance_m: float
    """Along the lap, from the car to it; not negative, below 1000."""


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
    gap_s: float | None = None
    """Against the reference lap at the same place: positive when this lap is behind. None shows no plate."""
    lap_distance_m: float | None = None
    """Where the dot stands on the map; None shows the map without it."""
    marker: MarkerAhead | None = None
    """None when no marker is near: no plate is shown."""
