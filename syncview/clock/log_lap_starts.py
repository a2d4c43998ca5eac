"""Lap starts as the log knows them: the moments, between samples, at which the car crosses the start line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import LONGEST_GAP_S, FloatArray, SessionLog, sample_at
from syncview.clock.position_starts import Crossing, crossings_of, found_crossings
from syncview.errors import LogError

SHORTEST_LAP_SHARE = 0.5
"""A crossing nearer to the last one than this share of the usual lap is spurious. Common practice, no source."""
STANDING_MPS = 1.0
"""Below this the car stands, and a counter that steps was pressed or reset, not driven. No source."""


@dataclass(frozen=True, slots=True)
class LapStart:
    """One crossing of the start line."""

    log_s: float
    sigma_s: float
    """Standard deviation of `log_s`: what sampling leaves open."""
    number: int
    """Number of the lap that begins here: the log's own counter where it has one, else 1, 2, 3 …"""


@dataclass(frozen=True, slots=True)
class Rejected:
    """A step of the counter or distance that is not a lap start."""

    log_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class LogLaps:
    """All lap starts of a log, ascending."""

    starts: tuple[LapStart, ...]
    source: str
    """The channels that they come from, in words."""
    rejected: tuple[Rejected, ...] = ()

    @property
    def starts_s(self) -> FloatArray:
        """Shape (n,), log times of the lap starts."""
        return np.array([start.log_s for start in self.starts], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Step:
    """A sample at which a lap seems to begin: the crossing lies after `before_s` and not after `at_s`."""

    before_s: float
    at_s: float
    number: int | None


def find_lap_starts(log: SessionLog, *, start_line_rad: tuple[float, float] | None = None) -> LogLaps:
    """Lap starts, placed between samples: from a start line that is given (latitude, longitude), else from the lap
    counter, else from resets of the lap distance, else from a line that is found where the car passes again and again.

    Raises `LogError` when the log has none of these, or no lap start at all.
    """
    if start_line_rad is not None:
        return _by_position(log, crossings_of(log, start_line_rad), "position crossing the given start line")
    found = found_crossings(log) if not _counts_laps(log) else None
    if found is not None:
        passed, gate = found
        where = f"{np.degrees(gate.latitude_rad):.6f}, {np.degrees(gate.longitude_rad):.6f}"
        return _by_position(log, passed, f"position crossing a line found on the fastest straight ({where})")
    steps, rejected, source = _steps(log)
    seen, hidden = _drop_hidden(steps)
    kept, spurious = _drop_spurious(log, seen)
    everything = sorted((*rejected, *hidden, *spurious), key=lambda r: r.log_s)
    if not kept:
        why = "".join(f" (log {wrong.log_s:.2f} s: {wrong.reason})" for wrong in everything[:1])
        raise LogError(
            f"no lap start was found in the {source}{why}",
            "The log must cross the start line at least once; check that the whole session was exported.",
            where=log.name,
        )
    starts, placed_by = _place(log, kept)
    return LogLaps(starts, f"{source}, {placed_by}", tuple(everything))


def _counts_laps(log: SessionLog) -> bool:
    """Whether a counter steps or a lap distance starts again somewhere."""
    counter, distance = log.values("lap"), log.values("lap_distance")
    if counter is not None and _counter_steps(log.time_s, counter)[0]:
        return True
    return distance is not None and bool(_reset_steps(log.time_s, distance))


def _by_position(log: SessionLog, passed: tuple[Crossing, ...], source: str) -> LogLaps:
    if not passed:
        raise LogError(
            "the car never crosses that start line",
            "Give a latitude and longitude on the circuit, or leave it out.",
            where=log.name,
        )
    starts = tuple(LapStart(c.log_s, c.sigma_s, i + 1) for i, c in enumerate(passed))
    return LogLaps(starts, source)


def _steps(log: SessionLog) -> tuple[list[_Step], list[Rejected], str]:
    counter = log.values("lap")
    distance = log.values("lap_distance")
    if counter is not None:
        found, rejected = _counter_steps(log.time_s, counter)
        # A counter that never moves (a column of zeros) says nothing; the distance may.
        if found or distance is None:
            return found, rejected, f"lap counter “{log.signals['lap'].source}”"
    if distance is not None:
        return _reset_steps(log.time_s, distance), [], f"lap distance “{log.signals['lap_distance'].source}”"
    raise LogError(
        "there is neither a lap counter nor a lap distance nor a position that comes round again",
        "Log one of them, or say which column it is with --role lap=COLUMN or --role lap_distance=COLUMN.",
        where=log.name,
    )


def _counter_steps(time_s: FloatArray, counter: FloatArray) -> tuple[list[_Step], list[Rejected]]:
    good = np.flatnonzero(np.isfinite(counter))
    t, laps = time_s[good], np.round(counter[good]).astype(np.int64)
    steps, rejected = [], []
    for k in np.flatnonzero(np.diff(laps)) + 1:
        change = int(laps[k] - laps[k - 1])
        if change == 1:
            steps.append(_Step(float(t[k - 1]), float(t[k]), int(laps[k])))
        else:
            said = "set back" if change < 0 else "raised"
            reason = f"the lap counter is {said} from {laps[k - 1]} to {laps[k]}"
            rejected.append(Rejected(float(t[k]), reason))
    return steps, rejected


def _reset_steps(time_s: FloatArray, distance: FloatArray) -> list[_Step]:
    """Samples at which the lap distance falls by more than half of its largest value."""
    good = np.flatnonzero(np.isfinite(distance))
    t, d = time_s[good], distance[good]
    if d.size < 2:
        return []
    falls = np.flatnonzero(np.diff(d) < -0.5 * d.max()) + 1
    return [_Step(float(t[k - 1]), float(t[k]), i + 1) for i, k in enumerate(falls)]


def _drop_hidden(steps: list[_Step]) -> tuple[list[_Step], list[Rejected]]:
    """Leave out crossings that nobody logged: somewhere in a hole is no place for one."""
    seen, hidden = [], []
    for step in steps:
        hole_s = step.at_s - step.before_s
        if hole_s <= LONGEST_GAP_S:
            seen.append(step)
        else:
            hidden.append(Rejected(step.at_s, f"the start line is crossed in a hole of {hole_s:.1f} s in the data"))
    return seen, hidden


def _drop_spurious(log: SessionLog, steps: list[_Step]) -> tuple[list[_Step], list[Rejected]]:
    """Leave out steps while the car stands and steps that follow another within half a lap."""
    speed = log.values("speed")
    if speed is None or not steps:
        return steps, []
    kept: list[_Step] = []
    rejected: list[Rejected] = []
    at = np.array([step.at_s for step in steps])
    speeds = sample_at(log.time_s, speed, at)
    driven = np.interp(at, log.time_s, driven_m(log.time_s, speed))
    usual = _usual_lap_m(driven)
    last = -np.inf
    for step, mps, metres in zip(steps, speeds, driven, strict=True):
        if mps < STANDING_MPS:
            rejected.append(Rejected(step.at_s, "the lap counter steps while the car stands"))
        elif metres - last < SHORTEST_LAP_SHARE * usual:
            reason = f"only {metres - last:.0f} m after the lap start before, where a lap is about {usual:.0f} m"
            rejected.append(Rejected(step.at_s, reason))
        else:
            kept.append(step)
            last = metres
    return kept, rejected


def _usual_lap_m(driven: FloatArray) -> float:
    """The lap length that most distances between steps agree on: the median of the longer half."""
    between = np.sort(np.diff(driven))
    return float(np.median(between[between.size // 2 :])) if between.size else 0.0


def driven_m(time_s: FloatArray, speed_mps: FloatArray) -> FloatArray:
    """Metres driven since the first sample, shape (n,): speed integrated by trapezoids, missing speed bridged."""
    good = np.isfinite(speed_mps)
    if not good.any():
        return np.zeros_like(time_s)
    v = np.interp(time_s, time_s[good], speed_mps[good])
    return np.concatenate(([0.0], np.cumsum(np.diff(time_s) * (v[1:] + v[:-1]) / 2)))


def _place(log: SessionLog, steps: list[_Step]) -> tuple[tuple[LapStart, ...], str]:
    """Each crossing between its two samples, by the lap distance after it, else in the middle."""
    after_m = _distance_after(log, steps)
    numbered = all(step.number is not None for step in steps)
    starts = []
    exact = 0
    for i, step in enumerate(steps):
        gap = step.at_s - step.before_s
        log_s, sigma = step.at_s - gap / 2, gap / np.sqrt(12)
        if after_m is not None and np.isfinite(after_m[i]) and 0.0 < after_m[i] <= 1.3 * gap:
            # Speed changes by 2 % at most between two samples 20 ms apart at 1 g and 10 m/s: see standards of the
            # trade on line crossing; a tenth of the sample gap bounds it generously.
            # Noise may put a crossing right behind the earlier sample a little before it.
            log_s, sigma, exact = step.at_s - min(float(after_m[i]), gap), gap / 50, exact + 1
        starts.append(LapStart(float(log_s), float(sigma), step.number if numbered and step.number else i + 1))
    return tuple(starts), "placed between samples by the lap distance" if exact else "placed midway between samples"


def _distance_after(log: SessionLog, steps: list[_Step]) -> NDArray[np.float64] | None:
    """Seconds since the crossing at each step's sample: lap distance over speed; None without these channels."""
    distance, speed = log.values("lap_distance"), log.values("speed")
    if distance is None or speed is None:
        return None
    rows = np.searchsorted(log.time_s, [step.at_s for step in steps])
    v = sample_at(log.time_s, speed, log.time_s[rows])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(v > STANDING_MPS, distance[rows] / v, np.nan)
