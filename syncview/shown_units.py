"""The units that people are shown: converted once, at the edge, from SI (factors: NIST SP 811, exact)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Units = Literal["metric", "imperial"]

MPH_MPS = 0.44704
YARD_M = 0.9144


@dataclass(frozen=True, slots=True)
class ShownUnit:
    """One shown unit: its value is the SI value divided by `si`."""

    label: str
    si: float

    def of(self, si_value: float) -> float:
        """The value in this unit."""
        return si_value / self.si


SPEED: dict[Units, ShownUnit] = {"metric": ShownUnit("km/h", 1 / 3.6), "imperial": ShownUnit("mph", MPH_MPS)}
LENGTH: dict[Units, ShownUnit] = {"metric": ShownUnit("m", 1.0), "imperial": ShownUnit("yd", YARD_M)}
