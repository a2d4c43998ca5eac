"""Does a clock put the same place under every lap start? A quick look at the pictures there, and nowhere else."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import LogLaps
from syncview.clock.sight import Views, reduced, seen_lags

FloatArray = NDArray[np.float64]
Pictures = Callable[[list[tuple[float, float]]], Iterable[tuple[float, NDArray[np.uint8]]]]
"""Spans of media time -> small grey pictures in them with their media times."""

REACH_S = 1.0
"""How far around an expected lap start the same place is looked for."""
AGREES_S = 0.060
"""Sight places a lap start to about 20 ms; lines differ by a metre or so from lap to lap. Found in trials."""
CONTRADICTS_S = 0.15
"""Another lap, or another session's laps, are off by more than this as a rule; what lies between decides nothing."""
MOST_STARTS = 8
"""Lap starts that are looked at, spread over the recording: decoding is what costs."""

Verdict = Literal["agrees", "contradicts", "says nothing"]


@dataclass(frozen=True, slots=True)
class SightCheck:
    """What the pictures at the lap starts say about one clock."""

    verdict: Verdict
    errors_s: tuple[float, ...]
    """For each pair of lap starts that could be compared: seen less logged lap time."""
    compared: int
    """How many pairs were looked at."""

    @property
    def words(self) -> str:
        """One sentence."""
        if self.verdict == "says nothing":
            return "the pictures at the lap starts cannot be compared"
        worst = max(self.errors_s, key=abs)
        pairs = f"{len(self.errors_s)} of {self.compared} pairs of lap starts"
        return f"the pictures at {pairs} come again within {abs(worst) * 1000:.0f} ms"


def check_sight(clock: ClockMap, laps: LogLaps, recording_s: float, pictures: Pictures) -> SightCheck:
    """Compare the place under each lap start with the place under the next one that is looked at."""
    media_s = _starts(clock, laps, recording_s)
    if media_s.size < 2:
        return SightCheck("says nothing", (), 0)
    spans = _merged([(m - REACH_S - 0.2, m + REACH_S + 0.2) for m in media_s.tolist()], recording_s)
    return judge(reduced(pictures(spans), least_step_s=0.0), media_s)


def judge(views: Views, media_s: FloatArray) -> SightCheck:
    """The verdict from views around the media times at which one clock puts the lap starts, shape (n,)."""
    apart = np.diff(media_s)
    seen = seen_lags(views, media_s[:-1], apart - REACH_S, apart + REACH_S)
    expected = np.interp(seen.time_s, media_s[:-1], apart)
    # The nearest picture to a lap start may lie a step beside it; the next pass of that place is as much beside it.
    errors = tuple((seen.lag_s - expected).tolist())
    if not errors or len(errors) < 0.3 * apart.size:
        return SightCheck("says nothing", errors, apart.size)
    usual = float(np.median(np.abs(errors)))
    agreeing = sum(abs(error) <= AGREES_S for error in errors) / len(errors)
    if agreeing >= 0.7:
        return SightCheck("agrees", errors, apart.size)
    return SightCheck("contradicts" if usual > CONTRADICTS_S else "says nothing", errors, apart.size)


def _starts(clock: ClockMap, laps: LogLaps, recording_s: float) -> FloatArray:
    """Media times of the lap starts that the recording shows with room around them; a choice when there are many."""
    media_s: FloatArray = clock.to_media_s(laps.starts_s)
    shown: FloatArray = media_s[np.isfinite(media_s) & (media_s > REACH_S) & (media_s < recording_s - REACH_S)]
    if shown.size <= MOST_STARTS:
        return shown
    chosen: FloatArray = shown[np.unique(np.linspace(0, shown.size - 1, MOST_STARTS).round().astype(int))]
    return chosen


def _merged(spans: list[tuple[float, float]], recording_s: float) -> list[tuple[float, float]]:
    merged: list[tuple[float, float]] = []
    for begin, end in spans:
        begin, end = max(begin, 0.0), min(end, recording_s)
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], end)
        else:
            merged.append((begin, end))
    return merged
