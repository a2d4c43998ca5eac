"""The braking for one corner on one lap (meanings: `definitions`)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.bend import Bend
from syncview.track.corner_facts import BrakeFacts, Fact, unknown
from syncview.track.fact_basis import NO_SAMPLES, FactBasis, Window, course_place, samples, speed_at
from syncview.track.marker_facts import past_marker
from syncview.track.runs import crossing_s, onset_s, runs_above

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Braking:
    """One braking, from the log; indices are the log's samples."""

    onset_s: float
    first: int
    peak_index: int | None
    """None when only the deceleration is known."""
    to_peak_s: float | None
    release_s: float | None
    source: str


NOT_BRAKED = "not braked"
NO_BRAKE = "the log has no brake channel"


def find_braking(basis: FactBasis, window: Window) -> Braking | str:
    """The braking for a corner, or why there is none."""
    if basis.track.course_m[0] > window.entry_m:
        return "the log begins in the corner"
    if basis.brake is None:
        return _by_deceleration(basis, window)
    begin_m = window.before_exit_m if window.corner.flat else window.before_apex_m
    part = samples(basis, begin_m, window.apex_m)
    # Samples behind the apex belong to the same application: the trailing foot.
    reach = samples(basis, begin_m, max(window.exit_m, window.apex_m))
    level = basis.brake[reach]
    runs = runs_above(level, on=d.BRAKE_REAL, off=d.BRAKE_OFF)
    begun = runs.first < part.stop - reach.start
    carried = runs.first == 0
    chosen = np.flatnonzero(begun & ~carried)
    if not chosen.size:
        return _carried_over(reach.start) if (begun & carried).any() else NOT_BRAKED
    last = int(chosen[-1])
    first = last
    while first - 1 in chosen and not _opened(basis, reach.start, int(runs.stop[first - 1]), int(runs.first[first])):
        first -= 1
    if _sped_up_again(basis, reach.start + int(runs.stop[last]), window):
        return NOT_BRAKED
    return _measured(basis, reach.start + int(runs.first[first]), reach.start + int(runs.stop[first]),
                     reach.start + int(runs.stop[last]))  # fmt: skip


def _carried_over(start: int) -> str:
    return "the log begins under braking" if start == 0 else "the brake was still on from the corner before"


def _opened(basis: FactBasis, start: int, stop: int, first: int) -> bool:
    """The throttle was opened between two applications (without a throttle channel: half a second passed)."""
    if basis.throttle is None:
        return bool(basis.time_s[start + first] - basis.time_s[start + stop] > 0.5)
    between = basis.throttle[start + stop : start + first]
    return bool((between > d.THROTTLE_OPEN).any())


def _sped_up_again(basis: FactBasis, released: int, window: Window) -> bool:
    """Full throttle between the release and the entry: that braking was for something else (traffic, a mistake)."""
    entry = samples(basis, window.entry_m, window.entry_m).start
    if released >= entry:
        return False
    if basis.throttle is None:
        return bool(basis.time_s[entry] - basis.time_s[released] > d.RELEASED_TOO_EARLY_S)
    return bool((basis.throttle[released:entry] >= d.THROTTLE_FULL).any())


def _measured(basis: FactBasis, first: int, first_stop: int, stop: int) -> Braking:
    assert basis.brake is not None
    level, time_s = basis.brake, basis.time_s
    real = first + int(np.argmax(level[first:first_stop] >= d.BRAKE_REAL))
    rise = real
    while rise > first and level[rise - 1] >= d.BRAKE_ON:
        rise -= 1
    begin_s = onset_s(time_s, level, rise, d.BRAKE_ON, usual_rise_per_s=basis.foot_rise_per_s, rise_ended=d.RISE_ENDED)
    peak = first + int(np.nanargmax(level[first:stop]))
    near = first + int(np.argmax(level[first:stop] >= d.NEAR_PEAK * level[peak]))
    to_peak_s = crossing_s(time_s, level, near, d.NEAR_PEAK * float(level[peak])) - begin_s
    released = stop < level.size and bool(level[stop] < d.BRAKE_OFF)
    release_s = crossing_s(time_s, level, stop, d.BRAKE_OFF) if released else None
    return Braking(begin_s, rise, peak, max(to_peak_s, 0.0), release_s, basis.source("brake"))


def _by_deceleration(basis: FactBasis, window: Window) -> Braking | str:
    if basis.deceleration_mps2 is None:
        return NO_BRAKE
    begin_m = window.before_exit_m if window.corner.flat else window.before_apex_m
    part = samples(basis, begin_m, window.apex_m)
    runs = runs_above(basis.deceleration_mps2[part], on=d.BRAKE_DECELERATION_MPS2, off=d.DECELERATION_OFF_MPS2)
    if not len(runs):
        return NOT_BRAKED
    begin = len(runs) - 1
    while begin > 0 and not _opened(basis, part.start, int(runs.stop[begin - 1]), int(runs.first[begin])):
        begin -= 1
    if runs.first[begin] == 0:
        return _carried_over(part.start)
    if _sped_up_again(basis, part.start + int(runs.stop[-1]), window):
        return NOT_BRAKED
    first, stop = part.start + int(runs.first[begin]), part.start + int(runs.stop[begin])
    real = first + int(np.argmax(basis.deceleration_mps2[first:stop] >= d.BRAKE_DECELERATION_MPS2))
    begin_s = onset_s(basis.time_s, basis.deceleration_mps2, real, d.BRAKE_DECELERATION_MPS2)
    return Braking(begin_s, real, None, None, None, basis.deceleration_source)


def brake_facts(basis: FactBasis, window: Window, braking: Braking | str, bend: Bend) -> BrakeFacts:
    """Onset, peak and release of the braking that was found, or why there was none."""
    if isinstance(braking, str):
        m, s = unknown("m", braking), unknown("s", braking)
        return BrakeFacts(m, m, s, unknown("m/s", braking), unknown("1", braking), s, m, m, m)
    onset_m = course_place(basis, braking.onset_s)
    peak, to_peak_s = _peak(basis, braking)
    release_m, turning_m = _release(basis, bend, braking, onset_m)
    past_marker_m, marker = past_marker(basis, window, onset_m, braking.source)
    return BrakeFacts(
        before_apex_m=Fact(window.apex_m - onset_m, "m", braking.source),
        distance_m=Fact(onset_m % basis.track.lap_length_m, "m", braking.source),
        log_s=Fact(braking.onset_s, "s", braking.source),
        speed_mps=speed_at(basis, braking.onset_s),
        peak=peak,
        to_peak_s=to_peak_s,
        release_distance_m=release_m,
        release_turning_m=turning_m,
        past_marker_m=past_marker_m,
        marker=marker,
    )


ONLY_DECELERATION = "the log has no brake channel; only the deceleration is known"


def _peak(basis: FactBasis, braking: Braking) -> tuple[Fact, Fact]:
    if braking.peak_index is None or braking.to_peak_s is None:
        return unknown("1", ONLY_DECELERATION), unknown("s", ONLY_DECELERATION)
    signal = basis.log.signals["brake"]
    peak = float(signal.values[braking.peak_index])
    return Fact(peak, signal.unit, signal.source), Fact(braking.to_peak_s, "s", signal.source)


def _release(basis: FactBasis, bend: Bend, braking: Braking, onset_m: float) -> tuple[Fact, Fact]:
    """Lap distance of the release, and metres of it while turning."""
    if braking.release_s is None:
        why = ONLY_DECELERATION if braking.peak_index is None else "the brake was not released before the corner's end"
        return unknown("m", why), unknown("m", why)
    release_m = course_place(basis, braking.release_s)
    release = Fact(release_m % basis.track.lap_length_m, "m", braking.source)
    if not math.isfinite(bend.turn_in_m):
        return release, unknown("m", NO_SAMPLES)
    turning_m = max(release_m - max(bend.turn_in_m, onset_m), 0.0)
    return release, Fact(turning_m, "m", f"{braking.source}, {basis.curvature.source}")
