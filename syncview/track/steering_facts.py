"""Steering facts: what is held, and how often it had to be corrected (meanings: `definitions`)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from syncview.track import definitions as d
from syncview.track.bend import Bend
from syncview.track.corner_facts import Fact, SteeringFacts, unknown
from syncview.track.fact_basis import NO_SAMPLES, FactBasis, Window, course_place, samples

FloatArray = NDArray[np.float64]


def turning_points(values: FloatArray, least: float) -> list[int]:
    """Indices of alternating lows and highs that differ by `least` or more from each other (a zigzag).

    The first is a low or a high, whichever comes first; NaN is not allowed.
    """
    points: list[int] = []
    low = high = 0
    rising: bool | None = None
    for i, value in enumerate(values.tolist()):
        if rising is not True and value < values[low]:
            low = i
        if rising is not False and value > values[high]:
            high = i
        if rising is not True and value - values[low] >= least:
            points.append(low)
            rising, high = True, i
        elif rising is not False and values[high] - value >= least:
            points.append(high)
            rising, low = False, i
    if rising is not None:
        points.append(high if rising else low)
    return points


def count_reversals(time_s: FloatArray, inward_rad: FloatArray, *, apexes: int) -> int:
    """Corrections: the wheel goes out from a high to a low and comes in to the next high, quickly.

    `inward_rad`: steering counted into the corner, shape (n,). Of a corner with several apexes, one return for
    each further apex is driving the line, not correcting.
    """
    good = np.isfinite(inward_rad)
    t, held = time_s[good], inward_rad[good]
    if t.size < 3:
        return 0
    bends = np.ones(t.size, dtype=np.bool_)
    bends[1:-1] = (held[1:-1] - held[:-2]) * (held[2:] - held[1:-1]) <= 0
    extremes = np.flatnonzero(bends)
    points = [int(extremes[i]) for i in turning_points(held[extremes], d.CATCH_RAD)]
    found = 0
    for out_from, low, in_to in zip(points, points[1:], points[2:], strict=False):
        if held[low] < held[out_from] and _lasts_s(t, held, out_from, low, in_to) <= d.CATCH_S:
            found += 1
    return max(found - (apexes - 1), 0)


def _lasts_s(t: FloatArray, held: FloatArray, out_from: int, low: int, in_to: int) -> float:
    """How long the wheel was beyond half the depth of a low between two highs."""
    level = 0.5 * (min(held[out_from], held[in_to]) + held[low])
    left = out_from + int(np.flatnonzero(held[out_from : low + 1] >= level)[-1])
    back = low + int(np.argmax(held[low : in_to + 1] >= level))
    return float(t[back] - t[left])


NO_STEERING = "the log has no steering channel"


def held_at(basis: FactBasis, window: Window, log_s: float) -> Fact:
    """Steering held into the corner at a moment."""
    if basis.steering_rad is None:
        return unknown("rad", NO_STEERING)
    held = float(np.interp(log_s, basis.time_s, basis.steering_rad))
    if not math.isfinite(held):
        return unknown("rad", NO_SAMPLES)
    return Fact(held if window.corner.side == "left" else -held, "rad", basis.source("steering"))


def steering_facts(basis: FactBasis, window: Window, bend: Bend) -> SteeringFacts:
    """The most that was held between entry and exit, and the corrections."""
    if basis.steering_rad is None:
        return SteeringFacts(unknown("rad", NO_STEERING), unknown("s", NO_STEERING), unknown("1", NO_STEERING))
    part = samples(basis, window.entry_m, window.exit_m)
    inward = _inward(basis, window, part)
    if np.isfinite(inward).sum() < 3:
        return SteeringFacts(unknown("rad", NO_SAMPLES), unknown("s", NO_SAMPLES), unknown("1", NO_SAMPLES))
    source, most = basis.source("steering"), int(np.nanargmax(inward))
    return SteeringFacts(
        peak_rad=Fact(float(inward[most]), "rad", source),
        peak_log_s=Fact(float(basis.time_s[part][most]), "s", source),
        reversals=Fact(float(_reversals(basis, window, bend)), "1", source),
    )


def _inward(basis: FactBasis, window: Window, part: slice) -> FloatArray:
    assert basis.steering_rad is not None
    return basis.steering_rad[part] if window.corner.side == "left" else -basis.steering_rad[part]


def _reversals(basis: FactBasis, window: Window, bend: Bend) -> int:
    end_s = float(basis.track.log_s_at_course(np.array(window.exit_m))) + d.CATCH_AFTER_S
    end_m = course_place(basis, end_s)
    end_m = min(end_m if math.isfinite(end_m) else window.exit_m, max(window.after_entry_m, window.exit_m))
    part = samples(basis, bend.turn_in_m if math.isfinite(bend.turn_in_m) else window.entry_m, end_m)
    return count_reversals(basis.time_s[part], _inward(basis, window, part), apexes=len(window.corner.apexes))
