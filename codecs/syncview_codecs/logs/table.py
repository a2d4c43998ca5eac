"""What every log reader returns: channels as arrays in SI units, beside what was written and what was skipped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One logged quantity."""

    name: str
    """The heading's words, without the unit."""
    values: FloatArray
    """Shape (n,), in `unit`; NaN where the log has no value."""
    unit: str | None
    """SI unit of `values` (`m/s`, `rad`, `1`, ...); None when the log states no unit or one that is unknown."""
    written_unit: str
    """The unit's text in the log, or empty."""


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something in the file that was passed over, so that a person can be told."""

    line: int | None
    """1-based line in the file, or None when it concerns a whole column."""
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class LogTable:
    """A log on its own clock."""

    name: str
    """File name, for messages."""
    time_s: FloatArray
    """Shape (n,), strictly ascending, the log's own clock as written, in seconds."""
    channels: tuple[Channel, ...]
    """Every numeric column but time, in file order."""
    skipped: tuple[Skipped, ...] = ()
    """Lines, cells and columns that were not used, in file order."""
    warnings: tuple[str, ...] = ()
    """What the reader had to assume."""

    def channel(self, name: str) -> Channel | None:
        """The channel of that name (exact, then regardless of case), or None."""
        for candidate in self.channels:
            if candidate.name == name:
                return candidate
        folded = name.casefold()
        return next((c for c in self.channels if c.name.casefold() == folded), None)
