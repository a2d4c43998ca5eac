"""Everything that the facts of all corners and laps share, worked out once per session."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.track import definitions as d
from syncview.track.corner_facts import Fact, unknown
from syncview.track.corners import Corner, corners_of_curvature
from syncview.track.curvature import lap_curvature
from syncview.track.curvature_grid import LapCurvature
from syncview.track.distance import Track
from syncview.track.geometry import smooth
from syncview.track.laps import Lap
from syncview.track.markers import Marker
from syncview.track.motion import filled
from syncview.track.pedal_levels import brake_level, throttle_level
from syncview.track.runs import runs_above, steepest_rise_per_s

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FactBasis:
    """A session prepared for facts; arrays at the log's samples, shape (n,)."""

    track: Track
    log: SessionLog
    corners: tuple[Corner, ...]
    course_m: FloatArray
    """See `Track.sample_course_m`."""
    brake: FloatArray | None
    """Level, see `definitions`."""
    foot_rise_per_s: float | None
    """How fast the brake level usually rises."""
    throttle: FloatArray | None
    steering_rad: FloatArray | None
    """Left positive, zero straight ahead."""
    gear: FloatArray | None
    deceleration_mps2: FloatArray | None
    deceleration_source: str
    curvature: LapCurvature
    bend_1pm: FloatArray
    """Curvature along the course, smoothed, from `curvature.first_cell` on; NaN in holes."""
    markers: tuple[Marker, ...] = ()
    """Of the circuit file in use."""

    @property
    def time_s(self) -> FloatArray:
        """The log's clock."""
        return self.log.time_s

    def source(self, role: str) -> str:
        """The column that a role was read from."""
        return self.log.signals[role].source


@dataclass(frozen=True, slots=True)
class Window:
    """Where one corner lies on one lap, in places of the course, with its neighbours that are not flat."""

    lap: Lap
    corner: Corner
    lap_begin_m: float
    before_apex_m: float
    """Apex of the corner before it."""
    before_exit_m: float
    entry_m: float
    apex_m: float
    exit_m: float
    after_entry_m: float
    after_apex_m: float


def prepare_facts(track: Track, log: SessionLog, corners: tuple[Corner, ...] | None = None, *,
                  markers: tuple[Marker, ...] = ()) -> FactBasis:  # fmt: skip
    """Read and clean the channels once; cost grows with the samples. Corners are found when not given."""
    curvature = lap_curvature(track, log)
    corners = corners_of_curvature(curvature, track, log) if corners is None else corners
    sigma = d.LAP_CURVATURE_SMOOTHING_M / curvature.step_m
    bend_1pm = smooth(np.nan_to_num(curvature.course_1pm), sigma)
    deceleration, source = _deceleration(track, log)
    brake = brake_level(track, log)
    return FactBasis(
        track=track,
        log=log,
        corners=corners,
        course_m=track.sample_course_m(),
        brake=brake,
        foot_rise_per_s=None if brake is None else _foot_rise_per_s(log.time_s, brake),
        throttle=throttle_level(track, log),
        steering_rad=_steering(track, log, curvature),
        gear=filled(log, "gear"),
        deceleration_mps2=deceleration,
        deceleration_source=source,
        curvature=curvature,
        bend_1pm=np.where(np.isfinite(curvature.course_1pm), bend_1pm, np.nan),
        markers=markers,
    )


def window_of(basis: FactBasis, lap: Lap, corner: Corner) -> Window:
    """Place a corner on a lap; the lap is the one in which its apex lies."""
    length_m = basis.track.lap_length_m
    begin_m = basis.track.lap_begin_m(lap)
    apex_m = begin_m + corner.apex_m
    entry_m = apex_m - (corner.apex_m - corner.entry_m) % length_m
    exit_m = apex_m + (corner.exit_m - corner.apex_m) % length_m
    others = [c for c in basis.corners if not c.flat and c.number != corner.number]
    before = min(others, key=lambda c: (corner.apex_m - c.apex_m) % length_m, default=corner)
    after = min(others, key=lambda c: (c.apex_m - corner.apex_m) % length_m, default=corner)
    before_apex_m = apex_m - ((corner.apex_m - before.apex_m) % length_m or length_m)
    after_apex_m = apex_m + ((after.apex_m - corner.apex_m) % length_m or length_m)
    return Window(
        lap, corner, begin_m, before_apex_m,
        before_apex_m + (before.exit_m - before.apex_m) % length_m,
        entry_m, apex_m, exit_m,
        after_apex_m - (after.apex_m - after.entry_m) % length_m,
        after_apex_m,
    )  # fmt: skip


def samples(basis: FactBasis, begin_m: float, end_m: float) -> slice:
    """The log's samples between two places of the course."""
    first, stop = np.searchsorted(basis.course_m, (begin_m, end_m))
    return slice(int(first), int(stop))


NO_SAMPLES = "the log has no samples there"


def course_place(basis: FactBasis, log_s: float) -> float:
    """The place of the course at a moment; NaN outside it."""
    return float(basis.track.course_at(np.array(log_s)))


def speed_at(basis: FactBasis, log_s: float) -> Fact:
    """Speed at a moment."""
    if not math.isfinite(log_s):
        return unknown("m/s", NO_SAMPLES)
    motion = basis.track.motion
    return Fact(float(np.interp(log_s, motion.log_s, motion.speed_mps)), "m/s", motion.speed_source)


def _foot_rise_per_s(time_s: FloatArray, brake: FloatArray) -> float | None:
    runs = runs_above(brake, on=d.BRAKE_REAL, off=d.BRAKE_OFF)
    return steepest_rise_per_s(time_s, brake, runs, quantile=d.FOOT_QUANTILE)


def _steering(track: Track, log: SessionLog, curvature: LapCurvature) -> FloatArray | None:
    """Steering with left positive and straight ahead at zero, both learnt from the curvature."""
    values = filled(log, "steering")
    if values is None:
        return None
    kappa = smooth(np.nan_to_num(curvature.median_1pm), 8.0 / curvature.step_m, closed=True)
    place = track.course_at(log.time_s) % track.lap_length_m
    good = np.isfinite(place) & np.isfinite(values)
    cell = np.minimum((place[good] / curvature.step_m).astype(np.int64), kappa.size - 1)
    bent, held = kappa[cell], values[good]
    straight = np.abs(bent) < d.STRAIGHT_1PM
    zero = float(np.median(held[straight])) if straight.any() else 0.0
    left = float(np.dot(held - zero, bent)) >= 0
    return (values - zero) if left else (zero - values)


def _deceleration(track: Track, log: SessionLog) -> tuple[FloatArray | None, str]:
    """How fast the car slows, for logs without a brake channel: by its sensor, else by the change of speed."""
    motion = track.motion
    slowing = -np.gradient(motion.speed_mps, motion.log_s)
    sensor = filled(log, "longitudinal_acceleration")
    if sensor is None:
        return _calm(slowing, motion.log_s), f"{motion.speed_source} (change of speed)"
    good = np.isfinite(sensor)
    agrees = float(np.dot(sensor[good], slowing[good])) <= 0
    calm = _calm(np.where(good, -sensor if agrees else sensor, 0.0), motion.log_s)
    return np.where(good, calm, np.nan), log.signals["longitudinal_acceleration"].source


def _calm(values: FloatArray, log_s: FloatArray) -> FloatArray:
    step_s = float(np.median(np.diff(log_s)))
    return smooth(values, max(0.08 / step_s, 0.3))
