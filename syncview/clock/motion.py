"""Evidence from image motion: how the picture pans against how the log says the car turns.

When the car turns left everything far away moves to the right, whatever the lens; only the scale is unknown. So the
pan of the upper part of the picture, freed of what travelling does to it (`camera_turn`), is correlated with the yaw
rate (or what stands for it) over all offsets.

All functions are pure: pictures and arrays in, values out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from syncview.clock.places import LocalOffsets, OffsetScores, peak_or_border, robust_spread

if TYPE_CHECKING:
    from syncview.channels import SessionLog

FloatArray = NDArray[np.float64]
GreyPicture = NDArray[np.uint8]

GRID_S = 0.02
"""Step of the even signals that are compared; places are found between steps by interpolation."""
LONGEST_STEP_S = 0.25
"""Pictures further apart than this show different places: no motion is read across."""
LEAST_STEP_S = 0.028
"""Pictures closer than this add cost, not knowledge: a car turns slowly."""
SLOW_S, QUICK_S = 8.0, 0.12
"""Slower changes (a camera's tilt, a drifting gyro) and quicker ones (shake) are taken out of both signals."""
LEAST_OVERLAP_S = 20.0
_CORRELATION_S = 1.0
"""Turning stays alike for about this long, so that many seconds hold that many independent comparisons."""


@dataclass(frozen=True, slots=True, eq=False)
class EvenSignal:
    """A signal on an even grid, zero in the mean."""

    values: FloatArray
    """Shape (n,), 0 where unknown."""
    known: NDArray[np.bool_]
    """Shape (n,)."""
    begin_s: float
    """Time of the first value on the signal's own clock; values are `GRID_S` apart."""


def picture_pan(pictures: Iterable[tuple[float, GreyPicture]]) -> tuple[FloatArray, FloatArray]:
    """How fast the far part of the picture moves to the right: times and picture widths per second, shape (n,) each.

    `pictures` are media times and small grey pictures (about 160 x 90), in order; those closer than `LEAST_STEP_S` to
    the last one used are passed over. Each value belongs to the middle of two neighbouring pictures.
    """
    from syncview.clock.camera_turn import TurnMeter

    meter, last_s, last = None, 0.0, None
    times, pans = [], []
    for media_s, picture in pictures:
        if last is not None and 0 <= media_s - last_s < LEAST_STEP_S:
            continue
        meter = meter or TurnMeter(*picture.shape)
        now = meter.prepared(picture)
        if last is not None and 0 < media_s - last_s <= LONGEST_STEP_S:
            pan = meter.between(last, now)[0] * meter.widths_per_rad
            times.append((media_s + last_s) / 2)
            pans.append(float(pan) / (media_s - last_s))
        last_s, last = media_s, now
    return np.array(times), np.array(pans)


@dataclass(frozen=True, slots=True, eq=False)
class Turning:
    """What stands for the yaw rate in a log."""

    values: FloatArray
    """Shape (n,); only the shape matters, not the scale."""
    source: str
    """The columns it comes from."""
    direct: bool
    """Whether it is a yaw rate, and not what leads to one."""


def turning(log: SessionLog) -> Turning | None:
    """Yaw rate, else lateral acceleration / speed, else steering x speed; None when the log has none of them."""
    yaw = log.signals.get("yaw_rate")
    if yaw is not None:
        return Turning(yaw.values, yaw.source, direct=True)
    speed, side = log.signals.get("speed"), log.signals.get("lateral_acceleration")
    if speed is not None and side is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            rate = np.where(speed.values > 5.0, side.values / speed.values, np.nan)
        return Turning(rate, f"{side.source} / {speed.source}", direct=False)
    wheel = log.signals.get("steering")
    if speed is not None and wheel is not None:
        return Turning(wheel.values * speed.values, f"{wheel.source} x {speed.source}", direct=False)
    return None


def even_signal(time_s: FloatArray, values: FloatArray) -> EvenSignal:
    """Put values at their times, shape (n,), on an even grid and keep only the changes that both clocks can show."""
    from scipy.ndimage import uniform_filter1d

    from syncview.channels import sample_at

    grid = np.arange(time_s[0], time_s[-1], GRID_S)
    usual_s = float(np.median(np.diff(time_s)))
    even = sample_at(time_s, values, grid, longest_gap_s=max(3 * usual_s, LONGEST_STEP_S))
    known = np.isfinite(even)
    filled = np.where(known, even, 0.0)

    def mean_over(seconds: float) -> FloatArray:
        size = max(1, round(seconds / GRID_S))
        share = uniform_filter1d(known.astype(np.float64), size)
        return np.asarray(uniform_filter1d(filled, size) / np.maximum(share, 1e-9), dtype=np.float64)

    band = np.where(known, mean_over(QUICK_S) - mean_over(SLOW_S), 0.0)
    # A knock or a mistaken flow must not outweigh minutes of driving.
    limit = 4.0 * (robust_spread(band[known][:, None])[0] if known.any() else 0.0) + 1e-12
    return EvenSignal(np.clip(band, -limit, limit), known, float(time_s[0]))


def score_offsets(picture: EvenSignal, car: EvenSignal) -> OffsetScores:
    """Correlate over all offsets at rate one; either sign counts, since logs count left or right as plus."""
    numerator, energy, seconds = _sums(picture, car)
    lags = np.arange(-(car.values.size - 1), picture.values.size, dtype=np.float64)
    enough = seconds >= LEAST_OVERLAP_S
    correlation = np.where(enough, numerator / np.sqrt(np.maximum(energy, 1e-30)), 0.0)
    height = np.abs(correlation) * np.sqrt(seconds / _CORRELATION_S)
    spread = robust_spread(height[enough][:, None])[0] if enough.any() else 1.0
    middle = float(np.median(height[enough])) if enough.any() else 0.0
    score = (height - middle) / (spread + 1e-9)
    offsets = lags * GRID_S + picture.begin_s - car.begin_s
    return OffsetScores(offsets[enough], score[enough], seconds[enough])


def _sums(picture: EvenSignal, car: EvenSignal) -> tuple[FloatArray, FloatArray, FloatArray]:
    """For every lag: sum of products, product of energies, and seconds known in both."""
    from scipy.signal import correlate

    def over(a: FloatArray, b: FloatArray) -> FloatArray:
        return np.asarray(correlate(a, b, mode="full", method="fft"), dtype=np.float64)

    seen, logged = picture.known.astype(np.float64), car.known.astype(np.float64)
    energy = np.maximum(over(picture.values**2, logged), 0) * np.maximum(over(seen, car.values**2), 0)
    return over(picture.values, car.values), energy, np.maximum(over(seen, logged), 0) * GRID_S


STRETCH_S = 16.0
LEAST_CORRELATION = 0.6
"""Less is no fit: the stretch is placed at the border of the reach and so contradicts. No source."""
LEAST_TURNING = 0.5
"""A stretch is used when the car turns in it at least this share of its usual amount. No source."""


def local_offsets(
    picture: EvenSignal,
    car: EvenSignal,
    middles_s: FloatArray,
    expected_s: FloatArray,
    *,
    reach_s: float,
) -> LocalOffsets:
    """Measure the offset around each log time, within `reach_s` of what is expected there; see `places`."""
    usual = float(car.values[car.known].std()) if car.known.any() else 0.0
    found = [
        (middle, *fit)
        for middle, expected in zip(middles_s, expected_s, strict=True)
        if (fit := _fit_stretch(picture, car, float(middle), float(expected), reach_s, usual)) is not None
    ]
    return LocalOffsets.of(found)


def _fit_stretch(
    picture: EvenSignal, car: EvenSignal, middle_s: float, expected_s: float, reach_s: float, usual: float
) -> tuple[float, float] | None:
    first = round((middle_s - STRETCH_S / 2 - car.begin_s) / GRID_S)
    rows = np.arange(max(first, 0), min(first + round(STRETCH_S / GRID_S), car.values.size))
    if rows.size * GRID_S < 0.6 * STRETCH_S:
        return None
    at = (car.begin_s + rows[0] * GRID_S + expected_s - picture.begin_s) / GRID_S
    steps = round(reach_s / GRID_S)
    base, share = int(np.floor(at)), at - np.floor(at)
    low, high = base - steps - 1, base + steps + rows.size + 1
    if low < 0 or high > picture.values.size:
        return None
    seen, known = picture.values[low:high], picture.known[low:high]
    logged = car.values[rows] * car.known[rows]
    if known.mean() < 0.9 or logged.std() < LEAST_TURNING * usual:
        return None
    windows = np.lib.stride_tricks.sliding_window_view(seen, rows.size)
    heights = windows @ logged / np.sqrt((windows**2).sum(axis=1) * (logged**2).sum() + 1e-30)
    heights = heights if abs(heights.max()) >= abs(heights.min()) else -heights
    place, height = peak_or_border(heights)
    if height < LEAST_CORRELATION:
        place = 0.0
    return expected_s + (place - steps - 1 - share) * GRID_S, height
