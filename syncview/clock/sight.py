"""Evidence from sight: the same place looks the same each lap, so the pictures tell how long each lap took, anywhere.

For every moment of the recording, the time until the same place is seen again ("the lag") is read from the pictures
alone. The log has the same curve: the time until the car passes the same lap distance again. Laps differ by tenths of
a second here and there, which gives both curves their shape; the right clock lays one on the other. A whole lap off,
or a foreign log, they disagree. Needs two laps or more.

All functions are pure: pictures and arrays in, values out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import LogLaps, driven_m
from syncview.clock.places import OffsetScores, peak_or_border, robust_spread

if TYPE_CHECKING:
    from syncview.channels import SessionLog

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
GreyPicture = NDArray[np.uint8]

COLUMNS, ROWS = 48, 27
"""Size at which places are compared: what a driver would recognise with half-closed eyes."""
LEAST_STEP_S = 0.06
"""Pictures closer than this are not kept: places are found between them by interpolation."""
ASK_EVERY_S = 0.5
"""How often the lag is asked for."""
LEAST_LIKENESS = 0.45
"""Correlation of two pictures of one place, seen on two laps. No source."""
LEAST_LEAD = 0.06
"""By how much the best match must beat the best one at another place. No source."""
CLOSE_S = 0.5
"""Pictures nearer in time than this to the best match are of the same place."""


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """What was seen, reduced to what tells places apart."""

    time_s: FloatArray
    """Shape (n,), media times."""
    picture: Float32Array
    """Shape (n, ROWS * COLUMNS): contrast against the surroundings, zero mean, unit length."""


def reduced(pictures: Iterable[tuple[float, GreyPicture]], *, least_step_s: float = LEAST_STEP_S) -> Views:
    """Keep the structure of small grey pictures: exposure, haze and headlights fall away with the local mean.

    Pictures nearer to the last one kept than `least_step_s` are left out.
    """
    import cv2

    times: list[float] = []
    kept: list[Float32Array] = []
    for media_s, picture in pictures:
        if times and media_s - times[-1] < least_step_s:
            continue
        small = cv2.resize(picture, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA).astype(np.float32)
        contrast = small - cv2.GaussianBlur(small, (0, 0), 3.0)
        contrast /= np.sqrt(cv2.GaussianBlur(contrast**2, (0, 0), 5.0)) + 4.0
        flat = np.asarray(contrast, dtype=np.float32).ravel()
        flat = flat - flat.mean()
        times.append(media_s)
        kept.append(flat / (np.linalg.norm(flat) + 1e-9))
    width = ROWS * COLUMNS
    return Views(np.array(times), np.array(kept, dtype=np.float32).reshape(-1, width))


@dataclass(frozen=True, slots=True, eq=False)
class Lags:
    """The time until the same place is passed again."""

    time_s: FloatArray
    """Shape (n,), ascending moments."""
    lag_s: FloatArray
    """Shape (n,), to the next pass."""


def seen_lags(views: Views, asked_s: FloatArray, shortest_s: FloatArray, longest_s: FloatArray) -> Lags:
    """Read lags from pictures: for each asked moment the best match between two lags; all of shape (n,).

    Moments whose place is not seen again there, looks like another, or looks like nothing are left out.
    """
    found = [
        (float(views.time_s[i]), lag)
        for moment, shortest, longest in zip(asked_s, shortest_s, longest_s, strict=True)
        if (i := _nearest(views.time_s, moment)) is not None
        and (lag := _lag(views, i, float(shortest), float(longest))) is not None
    ]
    columns = np.array(found, dtype=np.float64).reshape(-1, 2)
    return Lags(columns[:, 0], columns[:, 1])


def _nearest(time_s: FloatArray, moment: float) -> int | None:
    """Index of the picture nearest to a moment; None when there is none within two steps."""
    if not time_s.size:
        return None
    i = int(np.argmin(np.abs(time_s - moment)))
    return i if abs(time_s[i] - moment) <= 2 * LEAST_STEP_S else None


def _lag(views: Views, i: int, shortest_s: float, longest_s: float) -> float | None:
    begin = views.time_s[i]
    first, stop = np.searchsorted(views.time_s, (begin + shortest_s, begin + longest_s))
    # The pictures must cover the whole stretch in which the place may come again.
    wanted = (longest_s - shortest_s) / LEAST_STEP_S
    if stop - first < max(5, 0.4 * wanted):
        return None
    likeness = (views.picture[first:stop] @ views.picture[i]).astype(np.float64)
    place, height = peak_or_border(likeness)
    times = views.time_s[first:stop]
    at = float(np.interp(place, np.arange(times.size), times))
    lead = height - float(likeness[np.abs(times - at) > CLOSE_S].max(initial=-1.0))
    if height < LEAST_LIKENESS or lead < LEAST_LEAD or not 0 < place < times.size - 1:
        return None
    return at - float(begin)


def lags_everywhere(views: Views, shortest_s: float, longest_s: float) -> Lags:
    """Lags for a moment every `ASK_EVERY_S` of the recording."""
    if not views.time_s.size:
        return Lags(np.zeros(0), np.zeros(0))
    asked = np.arange(views.time_s[0], views.time_s[-1] - longest_s + 0.5, ASK_EVERY_S)
    return seen_lags(views, asked, np.full(asked.size, shortest_s), np.full(asked.size, longest_s))


def logged_lags(log: SessionLog, laps: LogLaps) -> Lags | None:
    """The lags that the log gives, every 0.1 s: driven distance, scaled so that every lap is as long as the others.

    None without speed or with fewer than two whole laps.
    """
    speed = log.values("speed")
    starts = laps.starts_s
    if speed is None or starts.size < 3:
        return None
    grid = np.arange(log.time_s[0], log.time_s[-1], 0.1)
    total_m = driven_m(log.time_s, speed)
    driven, metres = np.interp(grid, log.time_s, total_m), np.interp(starts, log.time_s, total_m)
    scale = np.diff(metres)
    # Counted in laps since the first start; out-lap and in-lap are scaled like their neighbours.
    before = (driven - metres[0]) / scale[0]
    after = starts.size - 1 + (driven - metres[-1]) / scale[-1]
    course = np.interp(driven, metres, np.arange(starts.size, dtype=np.float64))
    course = np.where(driven < metres[0], before, np.where(driven > metres[-1], after, course))
    course = course + np.arange(course.size) * 1e-9  # a standing car must not stop the course
    lag = np.interp(course + 1, course, grid, right=np.nan) - grid
    good = np.isfinite(lag) & (course >= -0.2) & (course <= starts.size - 1.8)
    return Lags(grid[good], lag[good]) if good.any() else None


LEAST_SHARED_S = 15.0
_CAP_S = 0.4


def score_offsets(seen: Lags, logged: Lags) -> OffsetScores:
    """How well the curves lie on each other for offsets 0.1 s apart.

    Alone this tells which lap is which and whether the log belongs; within a lap its peak is broad, some seconds wide,
    since laps keep about the same distance for long.
    """
    offsets = np.arange(seen.time_s[0] - logged.time_s[-1], seen.time_s[-1] - logged.time_s[0], 0.1)
    error, shared = np.full(offsets.size, np.nan), np.zeros(offsets.size)
    for i, offset in enumerate(offsets):
        off = lag_errors(seen, logged, ClockMap(float(offset)).to_log_s)
        shared[i] = off.size * ASK_EVERY_S
        if shared[i] >= LEAST_SHARED_S:
            error[i] = np.minimum(np.abs(off), _CAP_S).mean()
    enough = np.isfinite(error)
    if enough.sum() < 10:
        nothing = np.zeros(0)
        return OffsetScores(nothing, nothing, nothing)
    gain = (_CAP_S - error[enough]) * np.sqrt(shared[enough])
    score = (gain - np.median(gain)) / (robust_spread(gain[:, None])[0] + 1e-9)
    return OffsetScores(offsets[enough], np.asarray(score, dtype=np.float64), shared[enough])


def lag_errors(seen: Lags, logged: Lags, to_log_s: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Seen less logged lag at each seen moment that the log covers, for one way to read media time as log time."""
    log_s = to_log_s(seen.time_s)
    inside = (log_s >= logged.time_s[0]) & (log_s <= logged.time_s[-1])
    errors: FloatArray = seen.lag_s[inside] - np.interp(log_s[inside], logged.time_s, logged.lag_s)
    return errors
