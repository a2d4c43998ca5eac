"""The lap from above, fitted to a plot: line and speed, corners, where it brakes and where the throttle is full."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview.channels import FloatArray
from syncview.lesson.corner_span import corner_spans
from syncview.lesson.pictures.lap_map import ground_line

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.track.corners import Corner
    from syncview.track.laps import Lap

WORTH_TURNING = 1.15
"""The map is turned only when it can be drawn this much larger; else north stays up."""


@dataclass(frozen=True, slots=True)
class CornerPlace:
    """A corner on the map, with what this lap did there."""

    corner: Corner
    slowest_mps: float | None
    brake_m: float | None
    """Lap distance at which the brakes go on, from the start line."""
    full_m: float | None
    """Lap distance at which the throttle is full again."""


@dataclass(frozen=True, slots=True, eq=False)
class LapCourse:
    """A lap from above; arrays have shape (n,), at even steps of lap distance, the start line first and last."""

    lap: Lap
    lap_m: FloatArray
    x_m: FloatArray
    """To the east."""
    y_m: FloatArray
    """To the north."""
    speed_mps: FloatArray
    """NaN where it is not known."""
    corners: tuple[CornerPlace, ...]
    made_from: str
    """What the line was drawn from."""

    @property
    def lap_length_m(self) -> float:
        """From the start line to itself."""
        return float(self.lap_m[-1])

    @property
    def speed_range_mps(self) -> tuple[float, float] | None:
        """Lowest and highest speed on the line; None when none is known."""
        known = self.speed_mps[np.isfinite(self.speed_mps)]
        return (float(known.min()), float(known.max())) if known.size else None


def lap_course(session: Session, lap: Lap) -> LapCourse:
    """Read a lap's line, speed and facts. Costs some milliseconds a corner: not for each move."""
    lap_m, x_m, y_m, words = ground_line(session)
    track, length_m = session.track, session.track.lap_length_m
    log_s = track.log_s_at_course(track.lap_begin_m(lap) + lap_m)
    speed_mps = np.interp(log_s, track.motion.log_s, track.motion.speed_mps)
    corners = []
    spans = {span.corner.number: span.facts for span in corner_spans(session, lap)}
    for corner in session.corners:
        facts = spans.get(corner.number)
        brake = None if facts is None else facts.brake.distance_m.value
        full = None if facts is None else facts.full.distance_m.value
        slowest = None if facts is None else facts.slowest.speed_mps.value
        corners.append(
            CornerPlace(
                corner,
                slowest,
                None if brake is None else brake % length_m,
                None if full is None else full % length_m,
            )
        )
    return LapCourse(lap, lap_m, x_m, y_m, speed_mps, tuple(corners), words)


@dataclass(frozen=True, slots=True, eq=False)
class FittedCourse:
    """A lap's line on a plot, in logical pixels from the left top; arrays have shape (n,)."""

    course: LapCourse
    px: FloatArray
    py: FloatArray
    turned_rad: float
    """Counter-clockwise; north is up at 0."""

    def at(self, lap_m: float) -> tuple[float, float]:
        """Where a lap distance lies; those beyond the lap wrap."""
        here_m = lap_m % self.course.lap_length_m
        lap_m_at = self.course.lap_m
        return float(np.interp(here_m, lap_m_at, self.px)), float(np.interp(here_m, lap_m_at, self.py))

    def way(self, lap_m: float) -> tuple[float, float]:
        """Direction of travel there, a unit vector on the plot."""
        reach_m = 1.5 * float(self.course.lap_m[1])
        (x0, y0), (x1, y1) = self.at(lap_m - reach_m), self.at(lap_m + reach_m)
        length = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-9)
        return (x1 - x0) / length, (y1 - y0) / length

    def nearest(self, px: float, py: float) -> tuple[float, float]:
        """Lap distance of the place on the line that is nearest to a point of the plot, and how far off that is."""
        x0, y0 = self.px[:-1], self.py[:-1]
        dx, dy = np.diff(self.px), np.diff(self.py)
        squared = np.maximum(dx * dx + dy * dy, 1e-12)
        share = np.clip(((px - x0) * dx + (py - y0) * dy) / squared, 0.0, 1.0)
        off = np.hypot(x0 + share * dx - px, y0 + share * dy - py)
        best = int(np.argmin(off))
        lap_m = self.course.lap_m
        return float(lap_m[best] + share[best] * (lap_m[best + 1] - lap_m[best])), float(off[best])


def fitted(course: LapCourse, box: tuple[float, float, float, float]) -> FittedCourse:
    """Fit the line into a box (left, top, width, height), as large as it can be and in its middle."""
    left, top, width, height = box
    line = course.x_m - 1j * course.y_m
    turn = _best_turn(line, width, height)
    line = line * np.exp(-1j * turn)
    spans = max(float(np.ptp(line.real)), 1e-6), max(float(np.ptp(line.imag)), 1e-6)
    scale = min(width / spans[0], height / spans[1])
    px = left + width / 2 + (line.real - line.real.min() - spans[0] / 2) * scale
    py = top + height / 2 + (line.imag - line.imag.min() - spans[1] / 2) * scale
    return FittedCourse(course, px, py, turn)


def _best_turn(line: np.ndarray[tuple[int, ...], np.dtype[np.complex128]], width: float, height: float) -> float:
    """The counter-clockwise turn that lets the map be largest; none where it gains little."""
    turns = np.radians(np.arange(-90, 91, 5))
    turned = line[:, None] * np.exp(-1j * turns)[None, :]
    scale = np.minimum(
        width / np.maximum(np.ptp(turned.real, axis=0), 1e-6), height / np.maximum(np.ptp(turned.imag, axis=0), 1e-6)
    )
    upright = scale[turns.size // 2]
    return float(turns[np.argmax(scale)]) if scale.max() >= WORTH_TURNING * upright else 0.0


def pace_shares(speed_mps: FloatArray) -> FloatArray:
    """Each speed's place between the slowest (0) and the fastest (1); NaN stays, and all is 1 when all are alike."""
    known = speed_mps[np.isfinite(speed_mps)]
    if not known.size:
        return np.full(speed_mps.shape, np.nan)
    low, high = float(known.min()), float(known.max())
    return np.where(np.isfinite(speed_mps), 1.0 if high - low < 1e-6 else (speed_mps - low) / (high - low), np.nan)
