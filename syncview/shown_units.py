"""The units that people are shown: converted once, at the edge, from SI (factors: NIST SP 811, exact)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Units = Literal["metric", "imperial"]

KMH_MPS = 1 / 3.6
MPH_MPS = 0.44704
YARD_M = 0.9144
FOOT_M = 0.3048
BAR_PA = 100_000.0
PSI_PA = 6894.757293168
"""NIST SP 811, Appendix B.8 and B.9; all but the last are exact."""


@dataclass(frozen=True, slots=True)
class ShownUnit:
    """One shown unit: its value is the SI value divided by `si`."""

    label: str
    si: float

    def of(self, si_value: float) -> float:
        """The value in this unit."""
        return si_value / self.si


SPEED: dict[Units, ShownUnit] = {"metric": ShownUnit("km/h", KMH_MPS), "imperial": ShownUnit("mph", MPH_MPS)}
LENGTH: dict[Units, ShownUnit] = {"metric": ShownUnit("m", 1.0), "imperial": ShownUnit("yd", YARD_M)}
