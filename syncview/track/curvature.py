"""Path curvature along the lap, lap by lap and as the median of the representative laps.

Sources, in this order:
1. position, if it is dense (`DENSE_FIXES_M`) and its curvature quiet (`QUIET_1PM`): it is the path itself. What changes
   within metres is taken from lateral acceleration / speed² where there is that (`JOINED`);
2. the same two, if lateral acceleration follows noisy positions clearly better than yaw rate does (`CLEARLY`);
3. yaw rate / speed: one sensor, right at any speed, deaf to kerbs and banking; it turns the nose, though, so a slide
   counts as turning;
4. lateral acceleration / speed²: mixed with gravity on a banked road, and with roll; weak when slow;
5. position, however noisy: it has to be differentiated twice, which makes half a metre of scatter into a bend.
Where position exists it judges the two sensors: a sensor that turns against it is turned round (said in a warning),
and one that does not follow it at all is not used. Where it does not, signs are taken as ISO 8855 says (left positive).

All three are handled as heading over course: between two places, curvature is the change of heading per metre. That
averages over whatever samples lie between, so 10 Hz and 200 Hz logs go the same way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from syncview.channels import SessionLog
from syncview.errors import LogError
from syncview.track import definitions as d
from syncview.track.curvature_grid import LapCurvature, on_grid
from syncview.track.curvature_noise import (
    left_by_smoothing,
    path_noise_1pm,
    scatter_1pm,
    sensor_noise_mps2,
    straights_speed_mps,
)
from syncview.track.distance import Track
from syncview.track.geometry import smooth
from syncview.track.headings import Heading, fixes_apart_m, heading_by_sensor, heading_of_positions, joined

POSITION_SMOOTHING_M = 5.0
ROUGH_SMOOTHING_M = 12.0
"""For positions that are not quiet and have to serve all the same."""
DENSE_FIXES_M = 7.0
"""Positions further apart than this do not describe a tight bend (10 Hz at 70 m/s)."""
SPARSE_FIXES_M = 12.0
QUIET_1PM = 1 / 2000
"""Scatter of the positions' curvature on straights, below which they are believed before any sensor. A flat-out kink
is about four times this; common practice, no source."""
JOINED = "lateral_acceleration"
"""Positions are differentiated twice, so that the noise of their curvature grows with the square of frequency, while
the sensor's stays. From where both are equal, the sensor is taken. (Both noises are measured after one smoothing; the
length at which they are equal is that smoothing times the root of their ratio, to 2 % for white noise.)"""
LONGEST_REACH_S = 1.0
"""Banks and a drifting zero take over beyond it (common practice, no source)."""
LEAST_NOISE_MPS2 = 1e-6
CLEARLY = 0.8
"""Lateral acceleration follows the path clearly better than yaw rate when it differs from it by this much less: the
nose leads the path as the tyres take up their slip, and a slide turns it further (common practice, no source)."""
FOLLOWS = 0.6
"""Least correlation with the curvature of the positions for a sensor to be believed."""
SCALE_RANGE = (0.7, 1.4)
"""A believable sensor's curvature over that of the positions; outside, its unit is wrong."""
COMPARED_AT_M = 8.0
"""Both curvatures are smoothed this much before they are compared."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sensor:
    """A sensor that follows the path, left positive."""

    heading: Heading
    curvature: LapCurvature
    misfit: float
    """1 minus its correlation with the curvature of positions; 0 without positions."""


def lap_curvature(track: Track, log: SessionLog) -> LapCurvature:
    """Curvature of every timed lap; raises `LogError` when no channel tells how the car turns."""
    warnings: list[str] = []
    apart_m = fixes_apart_m(track.motion)
    by_position = _of_positions(track, max(POSITION_SMOOTHING_M, 0.5 * apart_m))
    dense = by_position is not None and apart_m <= DENSE_FIXES_M
    scatter = scatter_1pm(by_position) if by_position is not None else math.inf
    quiet = dense and scatter <= QUIET_1PM
    lateral = _believed(track, log, JOINED, by_position, warnings)
    yaw = None if quiet else _believed(track, log, "yaw_rate", by_position, warnings)
    follows_best = lateral is not None and (yaw is None or lateral.misfit < CLEARLY * yaw.misfit)
    found = None
    if by_position is not None and lateral is not None and dense and follows_best:
        found = _joined(track, by_position, lateral)
    if found is None and by_position is not None and quiet:
        found = replace(by_position, of_path=True, scatter_1pm=scatter)
    for sensor in (yaw, lateral):
        if found is None and sensor is not None:
            found = sensor.curvature
    return replace(found or _rough(track, log, apart_m, warnings), warnings=tuple(warnings))


def _rough(track: Track, log: SessionLog, apart_m: float, warnings: list[str]) -> LapCurvature:
    """Positions that have to serve, however noisy."""
    rough = _of_positions(track, max(ROUGH_SMOOTHING_M, 0.5 * apart_m))
    if rough is None:
        raise LogError(
            "no channel tells how the car turns, so corners cannot be found",
            "Log yaw rate, lateral acceleration or position, or say which column it is with --role yaw_rate=COLUMN.",
            where=log.name,
        )
    if apart_m > SPARSE_FIXES_M:
        warnings.append(f"corners are found from positions {apart_m:.0f} m apart: tight ones may be missed or "
                        "misplaced; log yaw rate or lateral acceleration")  # fmt: skip
    return rough


def _of_positions(track: Track, smoothing_m: float) -> LapCurvature | None:
    heading = None if track.line is None else heading_of_positions(track.motion, smoothing_m)
    return None if heading is None else on_grid(track, heading)


def _joined(track: Track, by_position: LapCurvature, lateral: _Sensor) -> LapCurvature | None:
    """The path of positions, with lateral acceleration for what changes within metres; None if that adds nothing."""
    path = heading_of_positions(track.motion, POSITION_SMOOTHING_M)
    noise_mps2 = sensor_noise_mps2(track, lateral.curvature, by_position)
    speed_mps = straights_speed_mps(track, by_position)
    of_path_mps2 = speed_mps**2 * path_noise_1pm(by_position, POSITION_SMOOTHING_M)
    of_sensor_mps2 = noise_mps2 * left_by_smoothing(POSITION_SMOOTHING_M, by_position.step_m)
    if path is None or not of_path_mps2 > of_sensor_mps2:
        return None
    reach_s = POSITION_SMOOTHING_M / speed_mps * math.sqrt(of_path_mps2 / max(of_sensor_mps2, LEAST_NOISE_MPS2))
    left = left_by_smoothing(d.LAP_CURVATURE_SMOOTHING_M, by_position.step_m)
    both = on_grid(track, joined(path, lateral.heading, min(reach_s, LONGEST_REACH_S)))
    return replace(both, of_path=True, noise_mps2=noise_mps2 * left)


def _believed(track: Track, log: SessionLog, role: str, by_position: LapCurvature | None,
              warnings: list[str]) -> _Sensor | None:  # fmt: skip
    """A sensor turned the right way round; None when it is lacking or does not follow the path."""
    heading = heading_by_sensor(track.motion, log, role)
    if heading is None:
        return None
    found = on_grid(track, heading)
    follows = 1.0 if by_position is None else _follows(found, by_position, log, role, warnings)
    if follows == 0.0:
        return None
    if follows > 0:
        return _Sensor(heading, found, 1.0 - follows)
    return _Sensor(replace(heading, rad=-heading.rad), found.turned_round(), 1.0 + follows)


def _follows(sensor: LapCurvature, positions: LapCurvature, log: SessionLog, role: str, warnings: list[str]) -> float:
    """Correlation with the positions' curvature, minus when it is to be turned round; 0 to leave it."""
    sigma = COMPARED_AT_M / sensor.step_m
    a = smooth(np.nan_to_num(sensor.median_1pm), sigma, closed=True)
    b = smooth(positions.median_1pm, sigma, closed=True)
    norm = float(np.sqrt((a @ a) * (b @ b)))
    follows = float(a @ b) / norm if norm > 0 else 0.0
    scale = abs(float(a @ b)) / float(b @ b) if follows else 0.0
    words = f"“{log.signals[role].source}” ({log.signals[role].role.words})"
    if abs(follows) < FOLLOWS:
        warnings.append(f"{words} does not follow the path on the map and is not used for corners")
        return 0.0
    if not SCALE_RANGE[0] <= scale <= SCALE_RANGE[1]:
        warnings.append(f"{words} is {scale:.2g} times what the path on the map asks for (its unit may be wrong) "
                        "and is not used for corners")  # fmt: skip
        return 0.0
    if follows < 0:
        warnings.append(f"{words} grows to the right and is turned round (left is positive in ISO 8855)")
    return follows
