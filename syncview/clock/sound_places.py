"""Local offsets by engine sound: around one candidate offset, where exactly does each stretch of the log fit?

The stretches are independent measurements of the clock. That they agree is the proof of a match; how they scatter is
its uncertainty; how they lean is the drift.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.clock.places import LocalOffsets, peak_or_border
from syncview.clock.sound import (
    BINS,
    BINS_PER_OCTAVE,
    FRAME_S,
    ORDERS,
    EngineTrack,
    Float32Array,
    FloatArray,
    Spectrogram,
)

STRETCH_S = 10.0
"""Long enough to hold a shift or a corner on most circuits, short enough to give several to a lap. No source."""
LEAST_MOVE_BINS = 4.0
"""A stretch in which the engine speed hardly moves (standard deviation below 1/12 octave) fits anywhere: unused."""
_PLACES_BELOW, _PLACES_ABOVE = 48, 192
_FAINT = 0.08


@dataclass(frozen=True, slots=True, eq=False)
class Ladder:
    """How well each engine speed would explain each frame: the loud orders of that speed, summed."""

    sound: Spectrogram
    mix: Float32Array
    """Shape (BINS, places for order one): how much of each frequency belongs to each engine speed."""

    def __len__(self) -> int:
        return len(self.sound)

    @property
    def places(self) -> int:
        """How many engine speeds there are."""
        return int(self.mix.shape[1])

    def rows(self, first: int, stop: int, places: slice) -> Float32Array:
        """Frames `first` to `stop` at some places, a column each. Made anew: hours of it would not fit into memory."""
        return self.sound.level(first, stop) @ self.mix[:, places]


def order_ladder(sound: Spectrogram, order_weights: FloatArray) -> Ladder:
    """The ladder for orders that are so loud; `order_weights` has shape (len(ORDERS),)."""
    places = np.arange(-_PLACES_BELOW, _PLACES_ABOVE)
    mix = np.zeros((BINS, places.size), dtype=np.float32)
    for order, weight in zip(ORDERS, order_weights, strict=True):
        if weight < _FAINT:
            continue
        at = places + np.log2(order) * BINS_PER_OCTAVE
        lower = np.floor(at).astype(np.intp)
        share = at - lower
        inside = np.flatnonzero((lower >= 0) & (lower + 1 < BINS))
        mix[lower[inside], inside] += (weight * (1 - share[inside])).astype(np.float32)
        mix[lower[inside] + 1, inside] += (weight * share[inside]).astype(np.float32)
    return Ladder(sound, mix)


def local_offsets(
    sound: Spectrogram,
    ladder: Ladder,
    engine: EngineTrack,
    middles_s: FloatArray,
    expected_s: FloatArray,
    *,
    reach_s: float,
    stretch_s: float = STRETCH_S,
) -> LocalOffsets:
    """Measure the offset around each log time in `middles_s`, within `reach_s` of `expected_s` (both shape (n,)).

    Stretches that the recording does not cover, or in which the engine speed hardly moves, are left out. One that
    fits nowhere within reach is placed at the border, so that it counts as a contradiction.
    """
    found = [
        (middle, *fit)
        for middle, expected in zip(middles_s, expected_s, strict=True)
        if (fit := _fit_stretch(sound, ladder, engine, middle, expected, reach_s, stretch_s)) is not None
    ]
    return LocalOffsets.of(found)


def _fit_stretch(
    sound: Spectrogram,
    ladder: Ladder,
    engine: EngineTrack,
    middle_s: float,
    expected_s: float,
    reach_s: float,
    stretch_s: float,
) -> tuple[float, float] | None:
    first = round((middle_s - stretch_s / 2 - engine.begin_s) / FRAME_S)
    rows = np.arange(max(first, 0), min(first + round(stretch_s / FRAME_S), engine.place.size))
    place = engine.place[rows] + _PLACES_BELOW
    known = np.isfinite(place) & (place >= 0) & (place < ladder.places - 1)
    rows, place = rows[known], place[known]
    if rows.size * FRAME_S < 0.6 * stretch_s or place.std() < LEAST_MOVE_BINS:
        return None
    steps = round(reach_s / FRAME_S)
    at = (engine.begin_s + rows[0] * FRAME_S + expected_s - sound.begin_s) / FRAME_S
    base = int(np.floor(at)) + rows - rows[0]
    share = np.float32(at - np.floor(at))
    if base[0] - steps < 0 or base[-1] + steps + 1 >= len(ladder):
        return None
    lower = np.floor(place).astype(np.intp)
    up = (place - lower).astype(np.float32)
    low = int(lower.min())
    rungs = ladder.rows(base[0] - steps, base[-1] + steps + 2, slice(low, int(lower.max()) + 2))
    lower -= low
    grid = (base - base[0])[None, :] + np.arange(2 * steps + 2)[:, None]
    values = (rungs[grid, lower] * (1 - up) + rungs[grid, lower + 1] * up).mean(axis=1)
    values = values[:-1] * (1 - share) + values[1:] * share
    best, height = peak_or_border(values.astype(np.float64))
    strength = (height - float(values.mean())) / (float(values.std()) + 1e-9)
    return expected_s + (best - steps) * FRAME_S, strength


def explained(
    sound: Spectrogram, ladder: Ladder, engine: EngineTrack, log_s: FloatArray, offset_s: FloatArray
) -> FloatArray:
    """The ladder's value for the logged engine speed at each moment, shape (n,), at that moment's offset; 0 outside."""
    point = np.round((log_s - engine.begin_s) / FRAME_S).astype(np.intp)
    row = np.round((log_s + offset_s - sound.begin_s) / FRAME_S).astype(np.intp)
    inside = (point >= 0) & (point < engine.place.size) & (row >= 0) & (row < len(ladder))
    place = np.where(inside, engine.place[np.clip(point, 0, engine.place.size - 1)], np.nan) + _PLACES_BELOW
    inside &= np.isfinite(place) & (place >= 0) & (place < ladder.places - 0.5)
    values = np.zeros(log_s.size)
    if inside.any():
        first = int(row[inside].min())
        rungs = ladder.rows(first, int(row[inside].max()) + 1, slice(None))
        values[inside] = rungs[row[inside] - first, np.round(place[inside]).astype(np.intp)]
    return values
