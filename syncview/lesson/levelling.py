"""One gain and a limiter that bring a finished mix to its loudness; measured again until it is there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from syncview.media.loudness import Loudness, LoudnessMeter, LoudnessTarget
from syncview.media.peak_limiter import limited
from syncview.progress import Progress, part_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.media.sound_store import SoundStore

RATE_HZ = 48_000
PEAK_MARGIN_DB = 0.2
"""The limiter aims below the highest peak, because its gain moves between the points at which it interpolates."""
NEAR_LU = 0.1
"""Closer to the target no further measuring pays."""
_MOST_TRIES = 4


@dataclass(frozen=True, slots=True)
class Levelled:
    """A stored mix with the gain that it is read with."""

    store: SoundStore
    gain: float
    ceiling_dbtp: float | None
    """None: no peak reaches the limit, so nothing is limited."""
    loudness: Loudness
    notes: tuple[str, ...]

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """The finished sound, from its beginning."""
        return _finished(self.store, self.gain, self.ceiling_dbtp)


def level(store: SoundStore, target: LoudnessTarget, *, least_lufs: float, progress: Progress) -> Levelled:
    """Find the gain at which the mix has the target's loudness and stays below its true peak.

    A mix softer than `least_lufs`, or shorter than 400 ms, gets no gain; its peaks are limited all the same.
    """
    first = _measured(store, 1.0, None, part_of(progress, 0, 0.3))
    ceiling = target.highest_true_peak_dbtp - PEAK_MARGIN_DB
    audible = first.integrated_lufs is not None and first.integrated_lufs >= least_lufs
    gain_db = target.integrated_lufs - first.integrated_lufs if audible and first.integrated_lufs is not None else 0.0
    if first.true_peak_dbtp is None or first.true_peak_dbtp + gain_db <= ceiling:
        return _without_limiter(store, gain_db, first, audible)
    for attempt in range(_MOST_TRIES):
        step = part_of(progress, 0.3 + 0.7 * attempt / _MOST_TRIES, 0.3 + 0.7 * (attempt + 1) / _MOST_TRIES)
        found = _measured(store, 10 ** (gain_db / 20), ceiling, step)
        miss = target.integrated_lufs - found.integrated_lufs if found.integrated_lufs is not None else 0.0
        if not audible or abs(miss) <= NEAR_LU or attempt + 1 == _MOST_TRIES:
            break
        gain_db += miss
    lowered_db = (first.true_peak_dbtp + gain_db) - ceiling
    notes = [f"The loudest peaks were lowered, by up to {lowered_db:.1f} dB."]
    if audible and abs(miss) > 0.5:
        notes.append(
            f"The sound is at {found.integrated_lufs:.1f} LUFS instead of {target.integrated_lufs:g}: "
            "its peaks are too high for more."
        )
    return Levelled(store, 10 ** (gain_db / 20), ceiling, found, tuple(notes))


def _without_limiter(store: SoundStore, gain_db: float, first: Loudness, audible: bool) -> Levelled:
    """One gain alone: what was measured moves with it, so it need not be measured again."""
    notes = () if audible else ("The lesson's sound is all but silent and was not raised.",)
    moved = Loudness(
        integrated_lufs=None if first.integrated_lufs is None else first.integrated_lufs + gain_db,
        true_peak_dbtp=None if first.true_peak_dbtp is None else first.true_peak_dbtp + gain_db,
    )
    return Levelled(store, 10 ** (gain_db / 20), None, moved, notes)


def _measured(store: SoundStore, gain: float, ceiling_dbtp: float | None, progress: Progress) -> Loudness:
    meter = LoudnessMeter(rate_hz=RATE_HZ, channels=store.channels)
    done = 0
    for block in _finished(store, gain, ceiling_dbtp):
        meter.add(block)
        done += block.shape[1]
        progress(done / store.length, "measuring loudness")
    return meter.result()


def _finished(store: SoundStore, gain: float, ceiling_dbtp: float | None) -> Iterator[NDArray[np.float32]]:
    stored = (store.read(begin, end) for begin, end in store.spans())
    if ceiling_dbtp is None:
        yield from (block * gain for block in stored)
    else:
        yield from limited(stored, rate_hz=RATE_HZ, gain=gain, ceiling_dbtp=ceiling_dbtp)
