"""Corners of a lap, found from the median curvature of the representative laps.

Rules, in order (limits below; common practice, no source, unless said):
1. Curvature is smoothed over `SMOOTHING_M`. A stretch on one side begins where it exceeds `CURVE_OFF_1PM`, must reach
   `CURVE_ON_1PM`, and is a corner if it turns at least `LEAST_TURN_DEG` over at least `LEAST_LENGTH_M`.
2. A change of side always parts corners: an S-bend or chicane is one corner for each turn.
3. On one side, two peaks are two apexes only if the curvature between them dips below `DIP_SHARE` of the lesser.
   Apexes no more than `DOUBLE_APEX_M` apart belong to one double-apex corner; further apart they are two corners
   that meet at the dip. Stretches of one side that a short straight parts are judged by the same measure.
4. Entry and exit are where the curvature passes `EDGE_SHARE` of the outer apex's peak (never below `CURVE_OFF_1PM`).
5. An apex is the centre of the top of the curvature, above `APEX_TOP` of its peak: for an arc of constant radius, its
   middle. The slowest place is another fact.
6. A corner is flat when, from `LIFT_BEFORE_M` before the entry (not before the last corner's exit) to the apex, the
   median lap keeps the throttle at `FLAT_THROTTLE` of its travel or more; without a throttle channel, when the
   speed falls by less than `FLAT_SPEED_DROP`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.track.curvature import lap_curvature
from syncview.track.curvature_grid import LapCurvature
from syncview.track.distance import Track
from syncview.track.geometry import smooth, top_centre
from syncview.track.pedal_levels import throttle_level
from syncview.track.runs import runs_above

FloatArray = NDArray[np.float64]
Side = Literal["left", "right"]

SMOOTHING_M = 6.0
CURVE_ON_1PM = 1 / 500
CURVE_OFF_1PM = 1 / 1000
LEAST_TURN_DEG = 10.0
LEAST_LENGTH_M = 12.0
DIP_SHARE = 0.75
DOUBLE_APEX_M = 60.0
EDGE_SHARE = 0.2
APEX_TOP = 0.9
LIFT_BEFORE_M = 40.0
FLAT_THROTTLE = 0.95
FLAT_SPEED_DROP = 0.02
LEAST_FLAT_SAMPLES = 3


@dataclass(frozen=True, slots=True)
class Corner:
    """A stretch of lap distance that turns one way. It may straddle the start line: then entry_m > exit_m."""

    number: int
    """In order of the apexes from the start line, from 1."""
    side: Side
    entry_m: float
    apex_m: float
    """Where the path turns most; of several apexes the tightest."""
    exit_m: float
    flat: bool
    """Taken without lifting."""
    apexes: tuple[float, ...]
    """Every apex in driving order."""
    reason: str
    """Why it is a corner of its own, or one corner and not two; and why flat."""
    name: str = ""


@dataclass(frozen=True, slots=True)
class _Bend:
    """A corner before it is numbered; places count on from the grid's turned origin, in cells."""

    sign: int
    entry: float
    exit: float
    apexes: tuple[float, ...]
    peaks_1pm: tuple[float, ...]
    reason: str


def find_corners(track: Track, log: SessionLog) -> tuple[Corner, ...]:
    """The lap's corners in order of their apexes; raises `LogError` when nothing tells how the car turns."""
    return corners_of_curvature(lap_curvature(track, log), track, log)


def corners_of_curvature(curvature: LapCurvature, track: Track, log: SessionLog) -> tuple[Corner, ...]:
    """`find_corners` for curvature that is known already."""
    kappa = smooth(np.nan_to_num(curvature.median_1pm), SMOOTHING_M / curvature.step_m, closed=True)
    turned = int(np.argmin(np.abs(smooth(np.abs(kappa), 20.0 / curvature.step_m, closed=True))))
    kappa = np.roll(kappa, -turned)
    bends = _joined(_stretches(kappa, curvature.step_m), curvature.step_m)
    corners = [_corner(bend, turned, curvature.step_m, track.lap_length_m) for bend in bends]
    corners = [replace(c, number=i + 1) for i, c in enumerate(sorted(corners, key=lambda c: c.apex_m))]
    return tuple(_judge_flat(corners, track, log))


def _stretches(kappa: FloatArray, step_m: float) -> list[_Bend]:
    """One-sided stretches that turn enough, cut at dips, in driving order."""
    bends = []
    for sign in (1, -1):
        runs = runs_above(sign * kappa, on=CURVE_ON_1PM, off=CURVE_OFF_1PM)
        for first, stop in zip(runs.first, runs.stop, strict=True):
            turn_deg = np.degrees(np.abs(kappa[first:stop]).sum() * step_m)
            if turn_deg >= LEAST_TURN_DEG and (stop - first) * step_m >= LEAST_LENGTH_M:
                bends += _cut_at_dips(sign, sign * kappa, int(first), int(stop), step_m)
    return sorted(bends, key=lambda bend: bend.entry)


def _cut_at_dips(sign: int, bent: FloatArray, first: int, stop: int, step_m: float) -> list[_Bend]:
    """Each apex of a stretch as a bend of its own, parted at the lowest place between apexes."""
    peaks = _apex_peaks(bent[first:stop]) + first
    dips = [int(a + np.argmin(bent[a:b])) for a, b in itertools.pairwise(peaks)]
    edges = [first, *dips, stop]
    result = []
    for i, peak in enumerate(peaks):
        level = max(CURVE_OFF_1PM, EDGE_SHARE * float(bent[peak]))
        entry = _edge(bent, int(peak), edges[i], -1, level)
        leave = _edge(bent, int(peak), edges[i + 1] - 1, 1, level)
        apex = edges[i] + 0.5 + top_centre(bent[edges[i] : edges[i + 1]], int(peak) - edges[i], APEX_TOP)
        turn_deg = np.degrees(bent[edges[i] : edges[i + 1]].sum() * step_m)
        words = f"turns {turn_deg:.0f}°, {1 / bent[peak]:.0f} m radius at the tightest"
        result.append(_Bend(sign, entry, leave, (apex,), (float(bent[peak]),), words))
    return result


def _apex_peaks(bent: FloatArray) -> NDArray[np.int64]:
    """Peaks that are parted by dips below `DIP_SHARE` of the lesser one; at least the greatest."""
    from scipy.signal import find_peaks

    padded = np.concatenate(([0.0], bent, [0.0]))
    peaks = list(find_peaks(padded)[0] - 1)
    while len(peaks) > 1:
        shares = [float(bent[a:b].min() / min(bent[a], bent[b])) for a, b in itertools.pairwise(peaks)]
        worst = int(np.argmax(shares))
        if shares[worst] <= DIP_SHARE:
            break
        lesser = worst if bent[peaks[worst]] < bent[peaks[worst + 1]] else worst + 1
        del peaks[lesser]
    return np.array(peaks or [int(np.argmax(bent))], dtype=np.int64)


def _edge(bent: FloatArray, peak: int, limit: int, way: int, level: float) -> float:
    """Walk from a peak to where the curvature passes the level, between cells; not past the limit."""
    at = peak
    while at != limit and bent[at + way] >= level:
        at += way
    if at == limit or bent[at] == bent[at + way]:
        return at + 0.5
    return at + 0.5 + way * float((bent[at] - level) / (bent[at] - bent[at + way]))


def _joined(bends: Sequence[_Bend], step_m: float) -> list[_Bend]:
    """Neighbours on one side whose apexes are near each other become one corner with two apexes."""
    result: list[_Bend] = []
    for bend in bends:
        last = result[-1] if result else None
        if last is None or last.sign != bend.sign:
            result.append(bend)
            continue
        apart_m = (bend.apexes[0] - last.apexes[-1]) * step_m
        if apart_m <= DOUBLE_APEX_M and len(last.apexes) == 1:
            reason = f"double apex: {apart_m:.0f} m apart, curvature dips between them"
            result[-1] = _Bend(bend.sign, last.entry, bend.exit, last.apexes + bend.apexes,
                               last.peaks_1pm + bend.peaks_1pm, reason)  # fmt: skip
        else:
            if apart_m <= 2 * DOUBLE_APEX_M:
                words = f"not one corner with its neighbour on the same side: apexes {apart_m:.0f} m apart"
                bend = replace(bend, reason=f"{bend.reason}; {words}")
            result.append(bend)
    return result


def _corner(bend: _Bend, turned: int, step_m: float, length_m: float) -> Corner:
    places = [((cell + turned) * step_m) % length_m for cell in (bend.entry, bend.exit, *bend.apexes)]
    tightest = int(np.argmax(bend.peaks_1pm))
    return Corner(
        number=0,
        side="left" if bend.sign > 0 else "right",
        entry_m=places[0],
        apex_m=places[2 + tightest],
        exit_m=places[1],
        flat=False,
        apexes=tuple(places[2:]),
        reason=bend.reason,
    )


def _judge_flat(corners: Sequence[Corner], track: Track, log: SessionLog) -> list[Corner]:
    laps = [lap for lap in track.timed if lap.representative] or list(track.timed)
    run_m = track.sample_course_m()
    throttle, speed = throttle_level(track, log), track.motion.speed_mps
    result = []
    for i, corner in enumerate(corners):
        before_m = (corner.entry_m - corners[i - 1].exit_m) % track.lap_length_m if len(corners) > 1 else LIFT_BEFORE_M
        span_m = (corner.apex_m - corner.entry_m) % track.lap_length_m + min(before_m, LIFT_BEFORE_M)
        seen = []
        for lap in laps:
            apex_m = track.lap_begin_m(lap) + corner.apex_m
            inside = slice(*np.searchsorted(run_m, (apex_m - span_m, apex_m)))
            seen.append(_flatness(None if throttle is None else throttle[inside], speed[inside]))
        share = float(np.nanmedian(seen)) if np.isfinite(seen).any() else float("nan")
        result.append(_with_verdict(corner, share, by_throttle=throttle is not None))
    return result


def _flatness(throttle: FloatArray | None, speed_mps: FloatArray) -> float:
    """Least throttle (a tenth of the samples left out as noise), or least speed over the first."""
    if throttle is not None:
        good = throttle[np.isfinite(throttle)]
        return float(np.quantile(good, 0.1)) if good.size >= LEAST_FLAT_SAMPLES else float("nan")
    if speed_mps.size < LEAST_FLAT_SAMPLES or speed_mps[0] <= 0:
        return float("nan")
    return float(speed_mps.min() / speed_mps[0])


def _with_verdict(corner: Corner, share: float, *, by_throttle: bool) -> Corner:
    if by_throttle and share >= FLAT_THROTTLE:
        return replace(corner, flat=True, reason=f"{corner.reason}; flat: throttle {share:.0%} to the apex")
    if not by_throttle and share >= 1 - FLAT_SPEED_DROP:
        return replace(corner, flat=True, reason=f"{corner.reason}; flat: the speed falls by {1 - share:.1%}")
    return corner
