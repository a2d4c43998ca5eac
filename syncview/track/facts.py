"""The facts of every corner on every lap (meanings: `definitions`).

`prepare_facts` reads and cleans the channels once; each corner on each lap then costs only its own samples.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.progress import Progress, silent
from syncview.track import definitions as d
from syncview.track.bend import bend_of
from syncview.track.brake_facts import Braking, brake_facts, find_braking
from syncview.track.corner_facts import CornerFacts, Fact, PedalTimes, SpanFacts, unknown
from syncview.track.corners import Corner
from syncview.track.distance import Track
from syncview.track.fact_basis import (
    NO_SAMPLES,
    FactBasis,
    Window,
    course_place,
    prepare_facts,
    samples,
    speed_at,
    window_of,
)
from syncview.track.laps import Lap
from syncview.track.motion_facts import apex_facts, gear_facts, slowest_facts, turn_in_facts
from syncview.track.steering_facts import steering_facts
from syncview.track.throttle_facts import find_reopening, throttle_facts

FloatArray = NDArray[np.float64]


def corner_facts(track: Track, log: SessionLog, lap: Lap, corner: Corner, *, basis: FactBasis | None = None,
                 reference: Lap | None = None) -> CornerFacts:  # fmt: skip
    """The facts of one corner on one lap; times are compared with `reference` (the best lap when not given).

    Give `basis` (from `prepare_facts`) when asking more than once.
    """
    ready = prepare_facts(track, log) if basis is None else basis
    against = _against_lap(ready, corner, track.best if reference is None else reference)
    return _facts(ready, window_of(ready, lap, corner), against)


def session_facts(basis: FactBasis, *, laps: Iterable[Lap] | None = None, reference: Lap | None = None,
                  progress: Progress = silent) -> dict[tuple[int, int], CornerFacts]:  # fmt: skip
    """Facts of all corners on the timed laps (or on those given), by (lap number, corner number)."""
    chosen = list(basis.track.timed if laps is None else laps)
    against = basis.track.best if reference is None else reference
    others = [_against_lap(basis, corner, against) for corner in basis.corners]
    result = {}
    for done, lap in enumerate(chosen):
        progress(done / len(chosen), f"corners of lap {lap.number}")
        for corner, other in zip(basis.corners, others, strict=True):
            result[lap.number, corner.number] = _facts(basis, window_of(basis, lap, corner), other)
    return result


@dataclass(frozen=True, slots=True)
class _Other:
    """A corner on the lap that times are compared with."""

    window: Window
    braking: Braking | str


def _against_lap(basis: FactBasis, corner: Corner, lap: Lap | None) -> _Other | None:
    if lap is None:
        return None
    window = window_of(basis, lap, corner)
    return _Other(window, find_braking(basis, window))


def _facts(basis: FactBasis, window: Window, other: _Other | None) -> CornerFacts:
    bend = bend_of(basis, window)
    braking = find_braking(basis, window)
    opened = find_reopening(basis, window, braking)
    return CornerFacts(
        lap=window.lap.number,
        corner=window.corner.number,
        brake=brake_facts(basis, window, braking, bend),
        gears=gear_facts(basis, window),
        slowest=slowest_facts(basis, window),
        apex=apex_facts(basis, window, bend),
        pickup=throttle_facts(basis, window, opened.pickup_s, opened.why_no_pickup),
        full=throttle_facts(basis, window, opened.full_s, opened.why_not_full),
        steering=steering_facts(basis, window, bend),
        pedals=_pedal_times(basis, window),
        span=_span_facts(basis, window, braking, other),
        turn_in=turn_in_facts(basis, window, bend),
    )


def _pedal_times(basis: FactBasis, window: Window) -> PedalTimes:
    if basis.brake is None or basis.throttle is None:
        why = unknown("s", f"the log has no {'brake' if basis.brake is None else 'throttle'} channel")
        return PedalTimes(why, why)
    entry_s = float(basis.track.log_s_at_course(np.array(window.entry_m)))
    approach_m = course_place(basis, entry_s - d.APPROACH_S)
    begin_m = max(window.before_exit_m, approach_m) if math.isfinite(approach_m) else window.before_exit_m
    part = samples(basis, min(begin_m, window.entry_m), window.exit_m)
    brake, throttle, log_s = basis.brake[part], basis.throttle[part], basis.time_s[part]
    source = f"{basis.source('brake')}, {basis.source('throttle')}"
    coasting = (brake < d.BRAKE_OFF) & (throttle < d.THROTTLE_ON)
    overlap = (brake > d.BRAKE_ON) & (throttle > d.THROTTLE_OVERLAP)
    return PedalTimes(Fact(_time_where(log_s, coasting), "s", source), Fact(_time_where(log_s, overlap), "s", source))


def _time_where(time_s: FloatArray, mask: NDArray[np.bool_]) -> float:
    """Seconds during which a condition holds; each sample stands for half of the steps beside it."""
    if time_s.size < 2:
        return 0.0
    step_s = np.diff(time_s)
    share = 0.5 * (np.concatenate(([0.0], step_s)) + np.concatenate((step_s, [0.0])))
    return float(share[mask].sum())


def _span_facts(basis: FactBasis, window: Window, braking: Braking | str, other: _Other | None) -> SpanFacts:
    track = basis.track
    entry_s, exit_s = track.log_s_at_course(np.array([window.entry_m, window.exit_m])).tolist()
    spent_s = exit_s - entry_s
    return SpanFacts(
        entry_speed_mps=speed_at(basis, entry_s),
        exit_speed_mps=speed_at(basis, exit_s),
        time_s=Fact(spent_s, "s", track.source) if math.isfinite(spent_s) else unknown("s", NO_SAMPLES),
        against_reference_s=_against(basis, window, braking, other),
    )


def _against(basis: FactBasis, window: Window, braking: Braking | str, other: _Other | None) -> Fact:
    if other is None:
        return unknown("s", "there is no lap to compare with")
    back_m = [window.apex_m - window.entry_m]
    for where, found in ((window, braking), (other.window, other.braking)):
        if isinstance(found, Braking):
            back_m.append(where.apex_m - course_place(basis, found.onset_s))
    ends_s = basis.track.log_s_at_course(np.array([[w.apex_m - max(back_m), w.exit_m] for w in (window, other.window)]))
    gap_s = float(np.diff(np.diff(ends_s, axis=1)[:, 0])[0])
    if not math.isfinite(gap_s):
        return unknown("s", NO_SAMPLES)
    return Fact(0.0 - gap_s, "s", basis.track.source)
