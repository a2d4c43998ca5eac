"""Keeps a sound below a true peak: the gain goes down before a peak and comes back after it."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

OVERSAMPLING = 4
"""ITU-R BS.1770, annex 2, asks for 192 kHz: four times 48 kHz."""
_ATTACK_DB_PER_S = 1500.0
"""Down by 6 dB in 4 ms, so that the gain itself makes no click."""
_RELEASE_DB_PER_S = 40.0
_AHEAD_S = 0.04
"""How far the limiter looks ahead: enough to come down by 60 dB."""
_REACH = 24
"""Samples on both sides that the interpolation looks at; with SciPy's usual 10 it misses 0.8 dB of white noise."""
_MARGIN = 32
"""Samples kept from before a block, and left for the next one: more than `_REACH`."""
_CHUNK = 1024
_QUIET = 0.6
"""A chunk is not interpolated when no sample reaches this share of the ceiling: peaks more than 4.4 dB above the
samples beside them are rare (3.0 dB for the sines of EBU Tech 3341), and what is left is measured again afterwards."""


def limited(
    blocks: Iterable[NDArray[np.float32]], *, rate_hz: int, gain: float, ceiling_dbtp: float
) -> Iterator[NDArray[np.float32]]:
    """Blocks of shape (channels, n) times `gain`, together as long as given, their true peak at most `ceiling_dbtp`.

    All channels get the same gain, so that nothing moves in the stereo picture.
    """
    limiter = _Limiter(rate_hz, 10 ** (ceiling_dbtp / 20))
    for block in blocks:
        made = limiter.push(np.asarray(block * np.float32(gain), dtype=np.float32))
        if made.shape[1]:
            yield made
    made = limiter.finish()
    if made.shape[1]:
        yield made


@cache
def _taps() -> NDArray[np.float32]:
    """Weights of the samples around a place for the three points between it and the next, shape (2 * reach + 1, 3)."""
    from scipy.signal import firwin

    # The window's 6.0 is 63 dB of rejection (Kaiser's own formula).
    low_pass = OVERSAMPLING * firwin(2 * OVERSAMPLING * _REACH + 1, 1 / OVERSAMPLING, window=("kaiser", 6.0))
    phases = [np.pad(low_pass, (0, OVERSAMPLING - 1))[phase::OVERSAMPLING] for phase in range(1, OVERSAMPLING)]
    return np.asarray(np.stack(phases, axis=1)[::-1], dtype=np.float32)


class _Limiter:
    def __init__(self, rate_hz: int, ceiling: float) -> None:
        self._ceiling = ceiling
        self._ahead = round(_AHEAD_S * rate_hz)
        self._attack_db = _ATTACK_DB_PER_S / rate_hz
        self._release_db = _RELEASE_DB_PER_S / rate_hz
        self._released_db = 0.0
        """Attenuation that the last sample given leaves to the next one."""
        self._before: NDArray[np.float32] | None = None
        """The last samples given, for the interpolation only."""
        self._held: NDArray[np.float32] | None = None

    def push(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        held = block if self._held is None else np.concatenate([self._held, block], axis=1)
        return self._give(held, max(0, held.shape[1] - self._ahead - _MARGIN))

    def finish(self) -> NDArray[np.float32]:
        if self._held is None:
            return np.zeros((0, 0), dtype=np.float32)
        return self._give(self._held, self._held.shape[1])

    def _give(self, held: NDArray[np.float32], count: int) -> NDArray[np.float32]:
        before = np.zeros((held.shape[0], _MARGIN), dtype=np.float32) if self._before is None else self._before
        joined = np.concatenate([before, held], axis=1)
        needed_db = self._needed_db(joined)[_MARGIN:]
        lowered_db = self._lowered_db(needed_db)[:count]
        self._before, self._held = joined[:, count : count + _MARGIN], held[:, count:]
        if count:
            self._released_db = max(0.0, float(lowered_db[-1]) - self._release_db)
        return np.asarray(held[:, :count] * 10 ** (-lowered_db / 20), dtype=np.float32)

    def _needed_db(self, samples: NDArray[np.float32]) -> NDArray[np.float64]:
        """How far each sample must come down for the peaks around it, shape (n,)."""
        peaks = np.abs(samples).max(axis=0, initial=0.0)
        padded = np.pad(samples, ((0, 0), (_REACH, _REACH)))
        for begin in range(0, samples.shape[1], _CHUNK):
            end = min(begin + _CHUNK, samples.shape[1])
            if peaks[begin:end].max() >= _QUIET * self._ceiling:
                between = _between(padded[:, begin : end + 2 * _REACH])
                # A peak between two samples lowers both of them.
                peaks[begin:end] = np.maximum(peaks[begin:end], between)
                after = peaks[begin + 1 : end + 1]
                np.maximum(after, between[: len(after)], out=after)
        return np.asarray(np.maximum(20 * np.log10(np.maximum(peaks / self._ceiling, 1e-9)), 0.0))

    def _lowered_db(self, needed_db: NDArray[np.float64]) -> NDArray[np.float64]:
        """The needed attenuation with straight ramps towards each peak and away from it."""
        if not needed_db.any() and self._released_db == 0:
            return needed_db
        steps = np.arange(len(needed_db))
        falling = np.maximum.accumulate((needed_db - self._attack_db * steps)[::-1])[::-1] + self._attack_db * steps
        start = np.maximum(falling, 0.0)
        if len(start):
            start[0] = max(start[0], self._released_db)
        return np.asarray(np.maximum.accumulate(start + self._release_db * steps) - self._release_db * steps)


def _between(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """The highest of the three points after each sample over all channels; `_REACH` more samples on both sides."""
    windows = np.lib.stride_tricks.sliding_window_view(samples, 2 * _REACH + 1, axis=1)
    return np.asarray(np.abs(windows @ _taps()).max(axis=(0, 2)))
