"""The strip's rows from top to bottom: time, sections, speeds, corners, voice, captions."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple


class Row(NamedTuple):
    """One row in pixels from the top."""

    top: float
    height: float

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.top + self.height

    def holds(self, y_px: float) -> bool:
        """Whether a pixel lies in it."""
        return self.top <= y_px < self.bottom


@dataclass(frozen=True, slots=True)
class Rows:
    """All rows."""

    axis: Row
    sections: Row
    speeds: Row
    corners: Row
    said: Row
    captions: Row

    def speed_y(self, speed: Fraction | float) -> float:
        """Where the top edge of a stretch at that speed lies; full speed at the top of the row."""
        return self.speeds.bottom - float(speed) * self.speeds.height

    def speed_at(self, y_px: float) -> float:
        """The share of full speed that a pixel means; below 0 and above 1 outside the row."""
        return (self.speeds.bottom - y_px) / self.speeds.height


def rows_of(height_px: float, text_px: float) -> Rows:
    """Rows for a strip of that height: all as high as their text needs, the speeds get the rest (at least twice that).

    `text_px` is the height of a line of text.
    """
    line, gap = text_px + 4, 3.0
    speeds = max(2 * line, height_px - 5 * line - 6 * gap)
    rows: list[Row] = []
    top = 0.0
    for height in (line, line, speeds, line, line, line):
        rows.append(Row(top, height))
        top += height + gap
    return Rows(*rows)


def needed_px(text_px: float) -> float:
    """The least height of a strip."""
    return 7 * (text_px + 4) + 18
