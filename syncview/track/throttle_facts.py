"""How the throttle was opened for one corner on one lap (meanings: `definitions`)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.brake_facts import Braking
from syncview.track.corner_facts import Fact, ThrottleFacts, unknown
from syncview.track.fact_basis import FactBasis, Window, course_place, samples
from syncview.track.marker_facts import near_marker
from syncview.track.runs import crossing_s, onset_s, runs_above
from syncview.track.steering_facts import held_at

FloatArray = NDArray[np.float64]

NO_THROTTLE = "the log has no throttle channel"


@dataclass(frozen=True, slots=True)
class Reopening:
    """When the throttle was picked up and when it was fully open; each None with its reason."""

    pickup_s: float | None
    full_s: float | None
    why_no_pickup: str = ""
    why_not_full: str = ""


def find_reopening(basis: FactBasis, window: Window, braking: Braking | str) -> Reopening:
    """Throttle pickup and full throttle."""
    if basis.throttle is None:
        return Reopening(None, None, NO_THROTTLE, NO_THROTTLE)
    begin_m = window.entry_m
    if isinstance(braking, Braking):
        begin_m = course_place(basis, braking.onset_s)
    whole = samples(basis, begin_m, window.after_apex_m)
    pickup_stop = samples(basis, begin_m, max(window.after_entry_m, window.exit_m)).stop
    level, time_s = basis.throttle[whole], basis.time_s[whole]
    if level.size < 2:
        why = "the log ends before it"
        return Reopening(None, None, why, why)
    runs = runs_above(level, on=d.THROTTLE_ON, off=d.THROTTLE_OFF)
    open_first = len(runs) > 0 and runs.first[0] == 0
    inside = samples(basis, begin_m, window.exit_m).stop - whole.start
    if open_first and runs.stop[0] >= inside:
        return _never_closed(level, time_s, inside)
    picked = _picked_up(basis, whole.start, level, time_s, first_run=1 if open_first else 0)
    if picked is None or picked >= pickup_stop - whole.start:
        return Reopening(None, None, "not picked up before the next corner", _NOT_FULL)
    full = _full(level, time_s, picked)
    return Reopening(onset_s(time_s, level, picked, d.THROTTLE_ON), full, "", "" if full is not None else _NOT_FULL)


_NOT_FULL = "not fully open before the next corner"


def _never_closed(level: FloatArray, time_s: FloatArray, stop: int) -> Reopening:
    """A lift that left the throttle open, or no lift at all."""
    why = "the throttle was not closed"
    lowest = int(np.nanargmin(level[:stop]))
    if level[lowest] >= d.THROTTLE_NOT_FULL:
        return Reopening(None, None, why, "the throttle stayed fully open")
    full_s = _full(level, time_s, lowest)
    return Reopening(None, full_s, why, "" if full_s is not None else _NOT_FULL)


def _picked_up(basis: FactBasis, start: int, level: FloatArray, time_s: FloatArray, *, first_run: int) -> int | None:
    """Index of the first application that is no blip: longer, and not wholly under braking."""
    runs = runs_above(level, on=d.THROTTLE_ON, off=d.THROTTLE_OFF)
    for first, stop in zip(runs.first[first_run:].tolist(), runs.stop[first_run:].tolist(), strict=True):
        lasts_s = float(time_s[min(stop, time_s.size - 1)] - time_s[first])
        braking = np.zeros(1) if basis.brake is None else basis.brake[start + first : start + stop]
        if lasts_s >= d.BLIP_S and not (braking > d.BRAKE_ON).all():
            return int(first) + int(np.argmax(level[first:stop] >= d.THROTTLE_ON))
    return None


def _full(level: FloatArray, time_s: FloatArray, begin: int) -> float | None:
    """First passing of full throttle that is held."""
    runs = runs_above(level[begin:], on=d.THROTTLE_FULL, off=d.THROTTLE_NOT_FULL)
    for first, stop in zip(runs.first + begin, runs.stop + begin, strict=True):
        at = int(first) + int(np.argmax(level[first:stop] >= d.THROTTLE_FULL))
        if time_s[min(int(stop), time_s.size - 1)] - time_s[at] >= d.FULL_HOLD_S:
            return crossing_s(time_s, level, at, d.THROTTLE_FULL)
    return None


def throttle_facts(basis: FactBasis, window: Window, at_s: float | None, why: str) -> ThrottleFacts:
    """The place of a moment of the throttle, or why there was none."""
    if at_s is None:
        m = unknown("m", why)
        return ThrottleFacts(m, m, unknown("s", why), unknown("rad", why), m)
    place_m, source = course_place(basis, at_s), basis.source("throttle")
    past_marker_m, marker = near_marker(basis, window, place_m, source)
    return ThrottleFacts(
        after_apex_m=Fact(place_m - window.apex_m, "m", source),
        distance_m=Fact(place_m % basis.track.lap_length_m, "m", source),
        log_s=Fact(at_s, "s", source),
        steering_rad=held_at(basis, window, at_s),
        past_marker_m=past_marker_m,
        marker=marker,
    )
