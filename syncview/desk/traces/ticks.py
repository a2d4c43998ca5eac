"""Where scales have their marks."""

from __future__ import annotations

import math
from dataclasses import dataclass

from syncview.desk.traces.lines import AxisName, TraceSet
from syncview.shown_units import LENGTH, Units
from syncview.track.laps import Lap

TIME_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0,
                3600.0)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark of the scale below the traces."""

    x: float
    """On the axis."""
    words: str
    """The place in the lap in the shown unit, or the time; empty at a line crossing, which `lap` names."""
    lap: int | None = None
    """Number of the lap that begins here."""


def nice_step(least: float) -> float:
    """The least of 1, 2, 5 times a power of ten that is not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    return next((times * power for times in (1, 2, 5, 10) if times * power >= least * (1 - 1e-9)), 10 * power)


def time_step_s(least_s: float) -> float:
    """The least usual step of time that is not below `least_s`."""
    return next((step for step in TIME_STEPS_S if step >= least_s), nice_step(least_s))


def time_words(time_s: float, step_s: float = 1.0) -> str:
    """m:ss with as many decimals as the step asks for; with a minus before zero."""
    decimals = 0 if step_s >= 1 else math.ceil(-math.log10(step_s) - 1e-9)
    whole = round(abs(time_s) * 10**decimals)
    seconds = whole / 10**decimals
    minutes = int(seconds // 60)
    rest = f"{seconds - 60 * minutes:0{3 + decimals if decimals else 2}.{decimals}f}"
    return f"{'−' if time_s < 0 and whole else ''}{minutes}:{rest}"


def scale_ticks(traces: TraceSet, axis: AxisName, lap: Lap | None, begin: float, end: float, *, most: int,
                units: Units) -> tuple[Tick, ...]:  # fmt: skip
    """Marks between two places of the axis, about `most` of them, line crossings first: all, or every second, third …

    Distances count from the start of each lap. Times count from the start of `lap`, or are the log's when it is None.
    """
    least = (end - begin) / max(most, 1)
    if axis == "distance":
        ticks = _distance_ticks(traces, begin, end, least, units)
    else:
        origin_s = 0.0 if lap is None else lap.start_s
        step_s = time_step_s(least)
        first = math.ceil((begin - origin_s) / step_s - 1e-9)
        last = math.floor((end - origin_s) / step_s + 1e-9)
        ticks = [Tick(origin_s + i * step_s, time_words(i * step_s, step_s)) for i in range(first, last + 1)]
    crossings = _crossings(traces, axis, begin, end)
    crossings = crossings[:: max(math.ceil(len(crossings) / max(most, 1)), 1)]
    clear = [tick for tick in ticks if all(abs(tick.x - other.x) > least / 2 for other in crossings)]
    return tuple(sorted((*clear, *crossings), key=lambda tick: tick.x))


def _distance_ticks(traces: TraceSet, begin: float, end: float, least_m: float, units: Units) -> list[Tick]:
    length_m, unit = traces.lap_length_m, LENGTH[units]
    step = nice_step(unit.of(least_m))
    if step * unit.si > length_m / 2:
        return []
    ticks = []
    for index in range(math.floor(begin / length_m), math.floor(end / length_m) + 1):
        for count in range(1, math.ceil(unit.of(length_m) / step)):
            x = index * length_m + count * step * unit.si
            if begin <= x <= end:
                ticks.append(Tick(x, f"{count * step:g}"))
    return ticks


def _crossings(traces: TraceSet, axis: AxisName, begin: float, end: float) -> list[Tick]:
    numbers = {lap.start_s: lap.number for lap in traces.session.track.laps}
    return [
        Tick(float(x), "", numbers.get(float(log_s)))
        for x, log_s in zip(traces.crossings(axis), traces.crossings_s, strict=True)
        if begin <= x <= end
    ]
