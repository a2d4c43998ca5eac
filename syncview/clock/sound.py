"""Evidence from engine sound: the orders of the engine, followed through the spectrogram, against the logged speed.

An engine sounds at multiples ("orders") of its turning frequency rpm/60; which of them are loud depends on the
cylinders, the exhaust and the microphone and is not known. On a logarithmic frequency axis every order is the same
curve, shifted. So the logged curve is correlated with the spectrogram over time *and* over that shift: the right
time makes peaks at several multiples of one half at once, whatever the engine.

All functions are pure: samples and arrays in, values out.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.clock.places import OffsetScores, robust_spread

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]

SAMPLE_RATE_HZ = 8000
"""Orders that matter lie below 2 kHz; more bandwidth only costs time."""
WINDOW = 2048
"""256 ms: resolves 4 Hz, and in that time an engine under load changes by a few per cent only."""
HOP = 160
"""20 ms between spectra; places are found between them by interpolation."""
FRAME_S = HOP / SAMPLE_RATE_HZ

LOWEST_HZ, HIGHEST_HZ = 25.0, 1600.0
BINS_PER_OCTAVE = 48
BINS = round(np.log2(HIGHEST_HZ / LOWEST_HZ) * BINS_PER_OCTAVE)

ORDERS = np.arange(1, 25) / 2
"""Half orders to 12: firing of one to 12 cylinders, four-stroke (firing order = cylinders / 2) and two-stroke."""

LEAST_ENGINE_RAD_S = 60.0
"""Below about 570 rpm the engine is off or the channel is empty. Common practice, no source."""


STEPS = 40
"""Steps of the stored level in a standard deviation: a byte per value, so that hours fit into memory."""
CLIP = 3.0
"""Standard deviations beyond which nothing stands out further."""
_RAW_STEPS = 28
"""The same in a unit of log power, before the spread is known."""
_GROUP = 2048
"""Spectra that are made at once."""
_STEADY = round(12.0 / FRAME_S)
"""Spectra over which a tone counts as steady."""


@dataclass(frozen=True, slots=True, eq=False)
class Spectrogram:
    """How far each frequency stands out from its surroundings, over time."""

    stored: NDArray[np.int8]
    """Shape (frames, BINS): whitened log power in `STEPS` of its standard deviation, clipped; row i is centred on
    `begin_s + i * FRAME_S`."""
    begin_s: float
    """Media time of the middle of the first frame."""

    def __len__(self) -> int:
        return len(self.stored)

    def level(self, first: int, stop: int) -> Float32Array:
        """Rows of it in standard deviations, about -3 to 3."""
        return self.stored[first:stop].astype(np.float32) / np.float32(STEPS)

    @property
    def end_s(self) -> float:
        """Media time of the middle of the last frame."""
        return self.begin_s + (len(self) - 1) * FRAME_S


def spectrogram(blocks: Iterable[Float32Array], begin_s: float) -> Spectrogram:
    """Log-frequency spectrogram of mono samples at `SAMPLE_RATE_HZ`, in blocks, whose first one plays at `begin_s`.

    Whitened in frequency (broad noise such as wind falls away) and in time (steady tones such as a fan fall away).
    Returns no frames for fewer than `WINDOW` samples.
    """
    stored = bytearray()  # grows in place
    count, square = 0, 0.0
    for level in _moving(_spectra(blocks)):
        count += level.size
        square += float(np.vdot(level, level))
        stored += np.clip(np.rint(level * _RAW_STEPS), -127, 127).astype(np.int8).tobytes()
    rows = np.frombuffer(stored, dtype=np.int8).reshape(-1, BINS)
    scale = STEPS / (_RAW_STEPS * (np.sqrt(square / max(count, 1)) + 1e-9))
    for start in range(0, len(rows), _GROUP):
        part = rows[start : start + _GROUP]
        np.clip(np.rint(part * np.float32(scale)), -CLIP * STEPS, CLIP * STEPS, out=part, casting="unsafe")
    return Spectrogram(rows, begin_s + WINDOW / 2 / SAMPLE_RATE_HZ)


def _spectra(blocks: Iterable[Float32Array]) -> Iterator[Float32Array]:
    """Log power over log frequency less the smooth spectrum, shape (n, BINS), in groups; mean in time not removed."""
    from scipy.fft import rfft
    from scipy.ndimage import uniform_filter1d

    window = np.hanning(WINDOW).astype(np.float32)
    lower, share = _bin_places()
    for chunk in _chunks(blocks):
        cut = np.lib.stride_tricks.sliding_window_view(chunk, WINDOW)[::HOP]
        power = np.abs(rfft(cut * window, axis=1)).astype(np.float32)
        level = np.log(power[:, lower] * (1 - share) + power[:, lower + 1] * share + 1e-7)
        yield level - uniform_filter1d(level, BINS_PER_OCTAVE, axis=1, mode="nearest")


def _chunks(blocks: Iterable[Float32Array]) -> Iterator[Float32Array]:
    """The samples again, so many at once that `_GROUP` spectra come from them, overlapping by what these share."""
    held: list[Float32Array] = []
    count = 0
    for block in blocks:
        held.append(block)
        count += block.size
        while count >= WINDOW + (_GROUP - 1) * HOP:
            samples = np.concatenate(held)
            yield samples[: WINDOW + (_GROUP - 1) * HOP]
            held = [samples[_GROUP * HOP :]]
            count = held[0].size
    if count >= WINDOW:
        yield np.concatenate(held)


def _moving(spectra: Iterable[Float32Array]) -> Iterator[Float32Array]:
    """Each spectrum less the mean of those around it."""
    from scipy.ndimage import uniform_filter1d

    reach = _STEADY // 2
    held = np.zeros((0, BINS), dtype=np.float32)
    done = 0
    """How many of the rows held were given out and stay as surroundings only."""
    for group in itertools.chain(spectra, (None,)):
        held = held if group is None else np.concatenate((held, group))
        stop = len(held) if group is None else len(held) - reach
        if stop <= done:
            continue
        steady = uniform_filter1d(held, _STEADY, axis=0, mode="nearest")
        yield held[done:stop] - steady[done:stop]
        kept = max(stop - reach, 0)
        held, done = held[kept:], stop - kept


def _bin_places() -> tuple[NDArray[np.intp], Float32Array]:
    """For each log-frequency bin: the FFT bin below it and the share of the one above."""
    hz = LOWEST_HZ * 2 ** (np.arange(BINS) / BINS_PER_OCTAVE)
    place = hz * WINDOW / SAMPLE_RATE_HZ
    lower = np.floor(place).astype(np.intp)
    return lower, (place - lower).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class EngineTrack:
    """The logged engine speed on an even grid, as a place on the spectrogram's axis for order one."""

    place: Float32Array
    """Shape (m,): bins above `LOWEST_HZ` of rpm/60 (negative below it); NaN where the engine speed is unknown."""
    begin_s: float
    """Log time of the first grid point; points are `FRAME_S` apart."""

    @property
    def times_s(self) -> FloatArray:
        """Shape (m,), log times of the grid points."""
        return self.begin_s + np.arange(self.place.size, dtype=np.float64) * FRAME_S


def engine_track(time_s: FloatArray, engine_rad_s: FloatArray) -> EngineTrack:
    """Resample logged engine speed (rad/s) for the search."""
    from syncview.channels import sample_at

    grid = np.arange(time_s[0], time_s[-1], FRAME_S)
    speed = sample_at(time_s, engine_rad_s, grid)
    with np.errstate(divide="ignore", invalid="ignore"):
        turning_hz = np.where(speed > LEAST_ENGINE_RAD_S, speed, np.nan) / (2 * np.pi)
        place = np.log2(turning_hz / LOWEST_HZ) * BINS_PER_OCTAVE
    return EngineTrack(place.astype(np.float32), float(time_s[0]))


SEARCH_STEP = 4
"""The search runs on every 4th frame and bin (80 ms, 1/12 octave); places are refined afterwards."""
LEAST_OVERLAP_S = 15.0
"""Offsets with less in common are not looked at: chance agreement cannot be told from a match. No source."""


def score_offsets(sound: Spectrogram, engine: EngineTrack) -> tuple[OffsetScores, FloatArray]:
    """Correlate over all offsets and order shifts at once (two-dimensional FFT).

    Also gives how audible each of `ORDERS` is at the best offset, shape (len(ORDERS),), >= 0, the greatest 1.
    """
    picture = _shrink(sound.stored)
    curve = _raster(engine.place)
    correlation, weight = _correlate(picture, curve)
    lags = np.arange(-(len(curve) - 1), len(picture), dtype=np.float64) * (SEARCH_STEP * FRAME_S)
    middle_s = (SEARCH_STEP - 1) / 2 * FRAME_S
    offsets = lags + (sound.begin_s + middle_s) - (engine.begin_s + middle_s)
    overlap_s = weight * SEARCH_STEP * FRAME_S
    enough = overlap_s >= LEAST_OVERLAP_S
    if not enough.any():
        none = np.zeros(0)
        return OffsetScores(none, none, none), np.zeros(ORDERS.size)
    standing = correlation[enough]
    del correlation
    standing /= np.sqrt(weight[enough, None]).astype(np.float32)
    standing -= np.median(standing, axis=0)
    standing /= np.float32(1.4826) * np.median(np.abs(standing), axis=0) + np.float32(1e-9)
    positive = np.maximum(standing, 0.0, out=standing)
    positive *= positive
    score: FloatArray = np.sqrt(positive.sum(axis=1, dtype=np.float64))
    weights = positive[int(np.argmax(score))]
    # The score of chance is not zero: several orders are summed. Count from its own middle, in its own spread.
    score = (score - np.median(score)) / (robust_spread(score[:, None])[0] + 1e-9)
    return OffsetScores(offsets[enough], score, overlap_s[enough]), weights / (weights.max() + 1e-12)


def _shrink(stored: NDArray[np.int8]) -> Float32Array:
    rows = len(stored) // SEARCH_STEP * SEARCH_STEP
    blocks = stored[:rows].reshape(-1, SEARCH_STEP, BINS // SEARCH_STEP, SEARCH_STEP)
    shrunk: Float32Array = blocks.mean(axis=(1, 3), dtype=np.float32)
    return shrunk / np.float32(STEPS)


_CURVE_BINS = 160 // SEARCH_STEP * 2
"""Room for turning frequencies of 8 Hz (below `LOWEST_HZ`) to 800 Hz."""
_CURVE_BASE = -80 // SEARCH_STEP
"""The curve's bin 0 is this many reduced bins above `LOWEST_HZ` (that is, below it)."""


def _raster(place: Float32Array) -> Float32Array:
    """The curve as a picture: one lit bin per row (shared by two when between them), none where unknown."""
    rows = len(place) // SEARCH_STEP
    middle = place[: rows * SEARCH_STEP].reshape(rows, SEARCH_STEP).mean(axis=1)
    # A reduced bin's middle lies 1.5 fine bins above its first one.
    fine = (middle - (SEARCH_STEP - 1) / 2) / SEARCH_STEP - _CURVE_BASE
    curve = np.zeros((rows, _CURVE_BINS), dtype=np.float32)
    known = np.flatnonzero(np.isfinite(fine) & (fine >= 0) & (fine < _CURVE_BINS - 1))
    lower = np.floor(fine[known]).astype(np.intp)
    share = fine[known] - lower
    curve[known, lower] = 1 - share
    curve[known, lower + 1] = share
    return curve


BLOCK_ROWS = 1 << 15
"""Rows that are transformed at once (44 minutes); longer ones are correlated block by block, to bound the memory."""


def _correlate(picture: Float32Array, curve: Float32Array) -> tuple[Float32Array, FloatArray]:
    """Correlation by lag (rows) and by order (columns), and the number of lit rows in common at each lag."""
    rows = len(picture) + len(curve) - 1
    by_order, lit = np.zeros((rows, ORDERS.size), dtype=np.float32), np.zeros(rows)
    pictures, curves = (_blocks(whole) for whole in (picture, curve))
    for apart in range(1 - len(curves), len(pictures)):
        pairs = [(pictures[i + apart], one) for i, one in enumerate(curves) if 0 <= i + apart < len(pictures)]
        part, part_lit = _correlate_blocks(pairs)
        # Row 0 of a part is the lag at which the last row of its curves lies on the first one of its pictures.
        first = len(curve) - len(pairs[0][1]) + apart * BLOCK_ROWS
        by_order[first : first + len(part)] += part
        lit[first : first + len(part)] += part_lit
    return by_order, np.maximum(lit, 1e-9)


def _blocks(whole: Float32Array) -> list[Float32Array]:
    return [whole[start : start + BLOCK_ROWS] for start in range(0, max(len(whole), 1), BLOCK_ROWS)]


def _correlate_blocks(pairs: Sequence[tuple[Float32Array, Float32Array]]) -> tuple[Float32Array, FloatArray]:
    """Correlations of pairs of picture and curve, summed; the first pair is the longest."""
    from scipy import fft

    picture, curve = pairs[0]
    rows = len(picture) + len(curve) - 1
    shape = (fft.next_fast_len(rows, real=True), fft.next_fast_len(picture.shape[1] + curve.shape[1], real=True))
    product, lit = 0, 0
    for seen, logged in pairs:
        product = product + fft.rfft2(seen, shape) * np.conj(fft.rfft2(logged, shape))
        lit = lit + fft.rfft(np.ones(len(seen)), shape[0]) * np.conj(fft.rfft(logged.sum(axis=1), shape[0]))
    lag_rows = np.arange(-(len(curve) - 1), len(picture))
    taken = fft.irfft2(product, shape)[lag_rows]
    # Column s of the plane pairs picture bin c + s with curve bin c; see `_CURVE_BASE`.
    columns = np.log2(ORDERS) * BINS_PER_OCTAVE / SEARCH_STEP + _CURVE_BASE
    lower = np.floor(columns).astype(np.intp)
    share = (columns - lower).astype(np.float32)
    by_order = taken[:, lower % shape[1]] * (1 - share) + taken[:, (lower + 1) % shape[1]] * share
    return by_order, fft.irfft(lit, shape[0])[lag_rows]
