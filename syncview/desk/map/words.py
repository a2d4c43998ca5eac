"""The words of the map in the person's language."""

from __future__ import annotations

import math

import numpy as np
from PyQt6.QtCore import QCoreApplication

from syncview.desk.map.course import LapCourse
from syncview.shown_units import LENGTH, SPEED, Units


def tr(text: str) -> str:
    """The text in the person's language."""
    return QCoreApplication.translate("map", text)


def legend_words(speeds_mps: tuple[float, float] | None, units: Units) -> tuple[str, str]:
    """What stands before and behind the colours of speed."""
    if speeds_mps is None:
        return tr("speed unknown"), ""
    unit = SPEED[units]
    slow, fast = (f"{unit.of(speed):.0f}" for speed in speeds_mps)
    return tr("slow, wide: %s") % slow, tr("fast, narrow: %s %s") % (fast, unit.label)


def place_words(course: LapCourse, lap_m: float, units: Units) -> str:
    """A place of the lap in words: corner, distance, speed."""
    length, parts = LENGTH[units], []
    for place in course.corners:
        corner = place.corner
        if (lap_m - corner.entry_m) % course.lap_length_m <= (corner.exit_m - corner.entry_m) % course.lap_length_m:
            name = f" {corner.name}" if corner.name else ""
            parts.append(tr("corner %s") % f"{corner.number}{name}")
            break
    parts.append(f"{length.of(lap_m):.0f} {length.label}")
    speed_mps = float(np.interp(lap_m, course.lap_m, course.speed_mps))
    if math.isfinite(speed_mps):
        parts.append(f"{SPEED[units].of(speed_mps):.0f} {SPEED[units].label}")
    return ", ".join(parts)
