"""What a driver can see and name at a place of the lap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MarkerSide = Literal["left", "right", "across"]


@dataclass(frozen=True, slots=True)
class Marker:
    """Something that a driver can see and name."""

    key: str
    """Its name in the file, unique there."""
    kind: str
    """A free word: board, kerb, bridge, patch …"""
    at_m: float
    """Lap distance."""
    words: str
    """What a coach calls it: “100 board”."""
    side: MarkerSide | None = None
    """Beside which edge of the track it is; `across` for what spans or lies on it."""
    corner: int | None = None
    """Number of the corner that it belongs to; such a marker is used for that corner only."""
