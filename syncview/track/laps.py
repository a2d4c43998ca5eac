"""The laps of a session: their times, and which of them stand for the driving."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from syncview.channels import LONGEST_GAP_S, SessionLog
from syncview.errors import LogError, SyncviewError

FloatArray = NDArray[np.float64]

STOPPED_MPS = 1.0
STOP_S = 2.0
"""Slower than this for longer than this is a stop. Common practice, no source."""
LENGTH_TOLERANCE = 0.03
"""A lap this much longer or shorter than the median was cut, or left the circuit. Wheel speed and line choice
together explain about 1 % (common practice, no source)."""
SLOW_LAP_RATIO = 1.3
"""Slower than the best by more than this is traffic or cruising, not pace. Common practice, no source."""

OUT_LAP = "out-lap: the log begins before the first line crossing"
IN_LAP = "in-lap: the log ends before another line crossing"


@dataclass(frozen=True, slots=True)
class Lap:
    """One lap on the log's clock."""

    number: int
    """The log's own lap counter where that counts every lap by one; else 1 for the first timed lap, and on."""
    start_s: float
    end_s: float
    """Log time."""
    time_ms: int
    """Difference of the ends after each is rounded to a millisecond, so that laps add up to their span."""
    timed: bool
    """It runs from one line crossing to the next."""
    remark: str = ""
    """Why the lap does not stand for the driving; empty when it does."""

    @property
    def representative(self) -> bool:
        """Complete, and nothing speaks against it."""
        return self.timed and not self.remark


@dataclass(frozen=True, slots=True)
class LapTable:
    """All laps in order of time."""

    laps: tuple[Lap, ...]

    @property
    def timed(self) -> tuple[Lap, ...]:
        """Laps from line to line, with or without a remark."""
        return tuple(lap for lap in self.laps if lap.timed)

    @property
    def representative(self) -> tuple[Lap, ...]:
        """Timed laps without a remark."""
        return tuple(lap for lap in self.laps if lap.representative)

    @property
    def best(self) -> Lap | None:
        """The fastest representative lap (the earlier of equals); None if there is none."""
        return min(self.representative, key=lambda lap: lap.time_ms, default=None)


def lap_table(log: SessionLog, lap_starts_s: FloatArray) -> LapTable:
    """List the laps between line crossings, with the out-lap before and the in-lap after them.

    `lap_starts_s`: shape (k,), ascending log times. Raises `LogError` if they do not ascend or lie outside the log.
    """
    starts = np.asarray(lap_starts_s, dtype=np.float64)
    _refuse_bad_starts(log, starts)
    edges = [float(s) for s in starts]
    begin, end = float(log.time_s[0]), float(log.time_s[-1])
    first = _first_number(log, starts)
    laps = [_lap(first + i, a, b, timed=True) for i, (a, b) in enumerate(itertools.pairwise(edges))]
    laps = _remark_slow(_remark_length(_remark_holes(laps, log), log))
    if not edges:
        return LapTable((_lap(1, begin, end, timed=False, remark="there is no line crossing in the log"),))
    if begin < edges[0]:
        laps.insert(0, _lap(first - 1, begin, edges[0], timed=False, remark=OUT_LAP))
    if edges[-1] < end:
        laps.append(_lap(first + len(edges) - 1, edges[-1], end, timed=False, remark=IN_LAP))
    return LapTable(tuple(laps))


def whole_ms(seconds: float) -> int:
    """Milliseconds of a time, half to even on its exact binary value."""
    return round(Fraction(seconds) * 1000)


def format_ms(time_ms: int) -> str:
    """m:ss.mmm; minutes run past 59 (`61:00.000`), and a negative time has a leading minus."""
    minutes, rest = divmod(abs(time_ms), 60_000)
    return f"{'-' if time_ms < 0 else ''}{minutes}:{rest // 1000:02d}.{rest % 1000:03d}"


def format_gap_ms(gap_ms: int) -> str:
    """A signed difference of lap times in seconds: `-0.545`, `+1.002`, `0.000`."""
    sign = "-" if gap_ms < 0 else "+" if gap_ms > 0 else ""
    return f"{sign}{abs(gap_ms) // 1000}.{abs(gap_ms) % 1000:03d}"


_LAP_TIME = re.compile(r"(?:(\d+):([0-5]\d)|(\d+))(?:\.(\d{1,3}))?", re.ASCII)


def parse_lap_time(text: str) -> int:
    """Milliseconds of `1:23.456`, `83.456`, `1:23.4` or `1:23`; raises `SyncviewError` for anything else."""
    match = _LAP_TIME.fullmatch(text.strip())
    if match is None:
        raise SyncviewError(f"“{text}” is not a lap time", "Write minutes, seconds and thousandths as 1:23.456.")
    minutes, seconds, plain, decimals = match.groups()
    whole_s = int(plain) if plain is not None else 60 * int(minutes) + int(seconds)
    return 1000 * whole_s + int((decimals or "").ljust(3, "0"))


def _lap(number: int, start_s: float, end_s: float, *, timed: bool, remark: str = "") -> Lap:
    return Lap(number, start_s, end_s, whole_ms(end_s) - whole_ms(start_s), timed, remark)


def _refuse_bad_starts(log: SessionLog, starts: FloatArray) -> None:
    remedy = "Mark the line crossings again, in the log's own time."
    if not np.isfinite(starts).all() or (np.diff(starts) <= 0).any():
        raise LogError("the line crossings do not follow one another in time", remedy, where=log.name)
    if starts.size and not (log.time_s[0] <= starts[0] and starts[-1] <= log.time_s[-1]):
        raise LogError(
            f"a line crossing lies outside the log, which runs from {log.time_s[0]:.3f} s to {log.time_s[-1]:.3f} s",
            remedy,
            where=log.name,
        )


def _first_number(log: SessionLog, starts: FloatArray) -> int:
    """The counter's value on the first timed lap if it rises by one at every crossing, else 1."""
    counter = log.values("lap")
    if counter is None or starts.size < 2:
        return 1
    middles = 0.5 * (starts[1:] + starts[:-1])
    seen = counter[np.searchsorted(log.time_s, middles)]
    steady = np.isfinite(seen).all() and (np.diff(seen) == 1).all() and float(seen[0]).is_integer()
    return int(seen[0]) if steady and seen[0] >= 0 else 1


def _with_remark(lap: Lap, remark: str) -> Lap:
    return replace(lap, remark="; ".join(filter(None, (lap.remark, remark))))


def _remark_holes(laps: Sequence[Lap], log: SessionLog) -> list[Lap]:
    """Name stops and holes, lap by lap."""
    speed = log.values("speed")
    time_s = log.time_s if speed is None else log.time_s[np.isfinite(speed)]
    speed = None if speed is None else speed[np.isfinite(speed)]
    result = []
    for lap in laps:
        inside = slice(*np.searchsorted(time_s, (lap.start_s, lap.end_s)))
        around = np.concatenate(([lap.start_s], time_s[inside], [lap.end_s]))
        hole_s = float(np.diff(around).max())
        if hole_s > LONGEST_GAP_S:
            lap = _with_remark(lap, f"the data have a hole of {hole_s:.1f} s")
        stop_s = 0.0 if speed is None else _longest_stop_s(time_s[inside], speed[inside])
        if stop_s > STOP_S:
            lap = _with_remark(lap, f"the car stood for {stop_s:.1f} s")
        result.append(lap)
    return result


def _longest_stop_s(time_s: FloatArray, speed_mps: FloatArray) -> float:
    still = np.concatenate(([False], speed_mps < STOPPED_MPS, [False]))
    first = np.flatnonzero(still[1:] & ~still[:-1])
    last = np.flatnonzero(still[:-1] & ~still[1:]) - 1
    return float((time_s[last] - time_s[first]).max()) if first.size else 0.0


def _remark_length(laps: Sequence[Lap], log: SessionLog) -> list[Lap]:
    """Name laps whose driven length is unlike the others', where the log has speed."""
    speed = log.values("speed")
    if speed is None or len(laps) < 2:
        return list(laps)
    good = np.isfinite(speed)
    if not good.any():
        return list(laps)
    time_s, speed = log.time_s[good], speed[good]
    run_m = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time_s))))
    ends = np.interp([(lap.start_s, lap.end_s) for lap in laps], time_s, run_m)
    lengths = ends[:, 1] - ends[:, 0]
    usual_m = float(np.median(lengths))
    result = []
    for lap, length_m in zip(laps, lengths, strict=True):
        off = length_m / usual_m - 1 if usual_m > 0 else 0.0
        if abs(off) > LENGTH_TOLERANCE:
            text = f"{length_m:.0f} m long, {abs(off):.0%} {'more' if off > 0 else 'less'} than the median lap"
            lap = _with_remark(lap, text)
        result.append(lap)
    return result


def _remark_slow(laps: Sequence[Lap]) -> list[Lap]:
    best = min((lap.time_ms for lap in laps if not lap.remark), default=None)
    if best is None:
        return list(laps)
    return [
        _with_remark(lap, f"{lap.time_ms / best:.2f} times the best time")
        if lap.time_ms > SLOW_LAP_RATIO * best
        else lap
        for lap in laps
    ]
