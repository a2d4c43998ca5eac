"""Speed, apex and gears of one corner on one lap (meanings: `definitions`)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.bend import Bend
from syncview.track.corner_facts import Fact, GearDown, GearFacts, PlaceFacts, TurnInFacts, unknown
from syncview.track.fact_basis import NO_SAMPLES, FactBasis, Window, course_place, samples, speed_at
from syncview.track.geometry import top_centre
from syncview.track.marker_facts import near_marker

FloatArray = NDArray[np.float64]

NO_PLACE = PlaceFacts(
    unknown("m", NO_SAMPLES), unknown("m", NO_SAMPLES), unknown("s", NO_SAMPLES), unknown("m/s", NO_SAMPLES)
)


def slowest_facts(basis: FactBasis, window: Window) -> PlaceFacts:
    """The least speed between entry and exit."""
    part = samples(basis, window.entry_m, window.exit_m)
    motion = basis.track.motion
    if part.stop - part.start < 3:
        return NO_PLACE
    log_s, speed_mps = _slowest(motion.log_s, motion.speed_mps, part)
    place_m, source = course_place(basis, log_s), motion.speed_source
    return _place(basis, window, place_m, log_s, Fact(speed_mps, "m/s", source), source)


def _place(basis: FactBasis, window: Window, place_m: float, log_s: float, speed: Fact, source: str) -> PlaceFacts:
    past_marker_m, marker = near_marker(basis, window, place_m, source)
    return PlaceFacts(
        after_apex_m=Fact(place_m - window.apex_m, "m", source),
        distance_m=Fact(place_m % basis.track.lap_length_m, "m", source),
        log_s=Fact(log_s, "s", source),
        speed_mps=speed,
        past_marker_m=past_marker_m,
        marker=marker,
    )


def _slowest(log_s: FloatArray, speed_mps: FloatArray, part: slice) -> tuple[float, float]:
    """Vertex of the parabola around the slowest sample; the slowest end itself where the speed only falls or rises."""
    step_s = float(np.median(np.diff(log_s[part])))
    half = max(round(d.SPEED_FIT_S / step_s), 1)
    kernel = np.full(2 * half + 1, 1.0 / (2 * half + 1)) if half > 1 else np.ones(1)
    around = speed_mps[max(part.start - half, 0) : part.stop + half]
    calm = np.convolve(np.pad(around, half, mode="edge") if half > 1 else around, kernel, mode="valid")
    lead = part.start - max(part.start - half, 0)
    at = part.start + int(np.argmin(calm[lead : lead + part.stop - part.start]))
    near = slice(max(at - half, 0), min(at + half + 1, log_s.size))
    t = log_s[near] - log_s[at]
    a, b, c = np.polyfit(t, speed_mps[near], 2) if t.size > 2 else (0.0, 0.0, float(speed_mps[at]))
    vertex = -b / (2 * a) if a > 0 else math.inf
    at_end = at in (part.start, part.stop - 1)
    if at_end or not t[0] <= vertex <= t[-1]:
        return float(log_s[at]), float(c)
    return float(log_s[at] + vertex), float(c - b * b / (4 * a))


def turn_in_facts(basis: FactBasis, window: Window, bend: Bend) -> TurnInFacts:
    """Where this lap begins to turn."""
    place_m, source = bend.turn_in_m, basis.curvature.source
    if not math.isfinite(place_m):
        m = unknown("m", NO_SAMPLES)
        return TurnInFacts(m, m, unknown("s", NO_SAMPLES), unknown("m/s", NO_SAMPLES), m)
    log_s = float(basis.track.log_s_at_course(np.array(place_m)))
    past_marker_m, marker = near_marker(basis, window, place_m, source)
    return TurnInFacts(
        before_apex_m=Fact(window.apex_m - place_m, "m", source),
        distance_m=Fact(place_m % basis.track.lap_length_m, "m", source),
        log_s=Fact(log_s, "s", source) if math.isfinite(log_s) else unknown("s", NO_SAMPLES),
        speed_mps=speed_at(basis, log_s),
        past_marker_m=past_marker_m,
        marker=marker,
    )


def apex_facts(basis: FactBasis, window: Window, bend: Bend) -> PlaceFacts:
    """Where this lap turns most towards the corner's side."""
    places_m, reach_m = bend.places_m, _apex_reach_m(window)
    bent = np.where(np.abs(places_m - window.apex_m) <= reach_m, bend.inward_1pm, np.nan)
    if not np.fmax.reduce(bent) > 0:
        return NO_PLACE
    peak = int(np.nanargmax(bent))
    cell = top_centre(bent, peak, _top_share(basis, float(places_m[peak]), float(bent[peak])))
    apex_m = float(places_m[0] + cell * basis.curvature.step_m)
    log_s = float(basis.track.log_s_at_course(np.array(apex_m)))
    return _place(basis, window, apex_m, log_s, speed_at(basis, log_s), basis.curvature.source)


def _top_share(basis: FactBasis, place_m: float, peak_1pm: float) -> float:
    """How much of the peak belongs to its top: noise on a wide bend must not choose the apex."""
    if not basis.curvature.of_path:
        return d.TOP_OF_SENSOR
    speed_mps = speed_at(basis, float(basis.track.log_s_at_course(np.array(place_m)))).value
    scatter_1pm = basis.curvature.scatter_at_1pm(speed_mps or 0.0)
    return max(d.TOP_OF_PATH - d.TOP_SCATTERS * scatter_1pm / peak_1pm, d.TOP_OF_SENSOR)


def _apex_reach_m(window: Window) -> float:
    """Half the way to the next apex of a double-apex corner, so that laps do not swap apexes."""
    others = [abs(apex - window.corner.apex_m) for apex in window.corner.apexes if apex != window.corner.apex_m]
    return min((gap / 2 for gap in others), default=math.inf)


def gear_facts(basis: FactBasis, window: Window) -> GearFacts:
    """Falls of the gear, and the lowest used between entry and exit."""
    if basis.gear is None:
        return GearFacts(None, unknown("1", "the log has no gear channel"))
    part = samples(basis, window.before_apex_m, window.exit_m)
    gear = basis.gear[part]
    inside = (basis.course_m[part] >= window.entry_m) & (gear > 0)
    source = basis.source("gear")
    lowest = Fact(float(np.rint(gear[inside].min())), "1", source) if inside.any() else unknown("1", NO_SAMPLES)
    return GearFacts(_falls(basis, window, part), lowest)


def _falls(basis: FactBasis, window: Window, part: slice) -> tuple[GearDown, ...]:
    """Falls between whole gears after the last rise; samples without a gear (0, between gears) are passed over."""
    assert basis.gear is not None
    engaged = part.start + np.flatnonzero(basis.gear[part] > 0)
    gear = np.rint(basis.gear[engaged])
    steps = np.diff(gear)
    rises = np.flatnonzero(steps > 0)
    before_entry = rises[basis.course_m[engaged[rises + 1]] < window.entry_m] if rises.size else rises
    begin = int(before_entry[-1]) + 1 if before_entry.size else 0
    falls = [i for i in np.flatnonzero(steps < 0).tolist() if i >= begin]
    return tuple(_fall(basis, window, int(gear[i]), int(gear[i + 1]), int(engaged[i + 1])) for i in falls)


def _fall(basis: FactBasis, window: Window, from_gear: int, to_gear: int, sample: int) -> GearDown:
    place_m, log_s = float(basis.course_m[sample]), float(basis.time_s[sample])
    return GearDown(from_gear, to_gear, log_s, place_m % basis.track.lap_length_m, window.apex_m - place_m,
                    float(basis.track.motion.speed_mps[sample]))  # fmt: skip
