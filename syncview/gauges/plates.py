"""The ground that every gauge is drawn on."""

from __future__ import annotations

from syncview.gauges import palette
from syncview.gauges.sheet import Sheet

RADIUS = 18.0
SIDE = 22.0
"""Between a plate's edge and what stands on it."""
FIGURE_CAP = 44.0
LABEL_CAP = 27.5
NAME_CAP = 32.0
"""Heights of capitals. All in units of 1/1080 of the picture's height."""


def plate(width: int, height: int, unit: float) -> Sheet:
    """An empty plate; `unit` is the number of pixels for one design unit."""
    sheet = Sheet(width, height)
    sheet.rounded((0, 0, width, height), RADIUS * unit, palette.PLATE, opacity=palette.PLATE_OPACITY)
    return sheet
