"""One gain and a limiter that bring a finished mix to its loudness; measured again until it is there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview.media.loudness import Loudness, LoudnessMeter, LoudnessTarget
from syncview.media.peak_limiter import limited
from syncview.progress import Progress, part_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.media.sound_store import SoundStore

RATE_HZ = 48_000
CODING_ROOM_DB = 0.8
"""Left below the target's highest true peak for the film's AAC: peaks measured 0.3 dB (192 kbit/s) to 0.6 dB
(128 kbit/s) higher after it."""
PEAK_MARGIN_DB = 0.2
"""The limiter aims below the highest peak, because its gain moves between the points at which it interpolates."""
NEAR_LU = 0.1
"""Closer to the target no further measuring pays."""
_MOST_TRIES = 5
_LEAST_SLOPE = 0.4
"""A limiter that leaves less than this of a decibel would squash the sound: then the target is missed, and said."""
_TOLERATED_LU = 0.5
"""EBU R 128 for finished programmes."""


@dataclass(frozen=True, slots=True)
class _Setting:
    gain_db: float
    ceiling_dbtp: float | None
    """None: no peak reaches the limit, so nothing is limited."""


@dataclass(frozen=True, slots=True)
class Levelled:
    """A stored mix with the gain that it is read with."""

    store: SoundStore
    setting: _Setting
    loudness: Loudness
    notes: tuple[str, ...]

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """The finished sound, from its beginning."""
        return _finished(self.store, self.setting)


def level(store: SoundStore, target: LoudnessTarget, *, least_lufs: float, progress: Progress) -> Levelled:
    """Find the gain at which the mix has the target's loudness and stays below its true peak.

    A mix softer than `least_lufs`, or shorter than 400 ms, gets no gain; its peaks are limited all the same.
    """
    first = _measured(store, _Setting(0.0, None), part_of(progress, 0, 0.3))
    audible = first.integrated_lufs is not None and first.integrated_lufs >= least_lufs
    notes = () if audible else ("The lesson's sound is all but silent and was not raised.",)
    gain_db = _miss(first, target) if audible else 0.0
    peak_db = -math.inf if first.true_peak_dbtp is None else first.true_peak_dbtp + gain_db
    limit = target.highest_true_peak_dbtp - CODING_ROOM_DB
    ceiling = limit - PEAK_MARGIN_DB
    if peak_db <= ceiling:
        return Levelled(store, _Setting(gain_db, None), _moved(first, gain_db), notes)
    setting, found = _searched(store, _Setting(gain_db, ceiling), target if audible else None, limit, progress)
    lowered_db = peak_db - gain_db + setting.gain_db - (setting.ceiling_dbtp or 0.0)
    miss_lu = _miss(found, target) if audible else 0.0
    return Levelled(store, setting, found, (*notes, *_about_limits(lowered_db, miss_lu, _over(found, limit), target)))


def _searched(
    store: SoundStore, setting: _Setting, target: LoudnessTarget | None, limit_dbtp: float, progress: Progress
) -> tuple[_Setting, Loudness]:
    """The setting at which the limited mix meets the target (None: as it is) and the limit, and what it measures."""
    ceiling = limit_dbtp - PEAK_MARGIN_DB
    slope, before = 1.0, (0.0, 0.0)
    for attempt in range(_MOST_TRIES):
        step = part_of(progress, 0.3 + 0.7 * attempt / _MOST_TRIES, 0.3 + 0.7 * (attempt + 1) / _MOST_TRIES)
        found = _measured(store, setting, step)
        miss_lu = 0.0 if target is None else _miss(found, target)
        over_db = _over(found, limit_dbtp)
        if (abs(miss_lu) <= NEAR_LU and over_db == 0) or attempt + 1 == _MOST_TRIES:
            break
        # The limiter takes back a part of each further decibel: about as much as it took of the last.
        if attempt and setting.gain_db != before[0]:
            slope = min(max((before[1] - miss_lu) / (setting.gain_db - before[0]), _LEAST_SLOPE), 1.0)
        before = (setting.gain_db, miss_lu)
        ceiling -= 1.2 * over_db
        setting = _Setting(setting.gain_db + miss_lu / slope, ceiling)
    return setting, found


def _miss(measured: Loudness, target: LoudnessTarget) -> float:
    return 0.0 if measured.integrated_lufs is None else target.integrated_lufs - measured.integrated_lufs


def _over(measured: Loudness, limit_dbtp: float) -> float:
    peak = -math.inf if measured.true_peak_dbtp is None else measured.true_peak_dbtp
    return max(0.0, peak - limit_dbtp)


def _moved(measured: Loudness, gain_db: float) -> Loudness:
    """After one gain alone what was measured has moved with it, so it need not be measured again."""
    lufs, peak = measured.integrated_lufs, measured.true_peak_dbtp
    return Loudness(None if lufs is None else lufs + gain_db, None if peak is None else peak + gain_db)


def _about_limits(lowered_db: float, miss_lu: float, over_db: float, target: LoudnessTarget) -> list[str]:
    notes = [f"The loudest peaks were lowered, by up to {lowered_db:.1f} dB."]
    if abs(miss_lu) > _TOLERATED_LU:
        notes.append(f"The sound is {-miss_lu:+.1f} LU from {target.integrated_lufs:g} LUFS: its peaks are too high.")
    if over_db > 0:
        notes.append(f"Its true peak is {over_db:.1f} dB above what was aimed at.")
    return notes


def _measured(store: SoundStore, setting: _Setting, progress: Progress) -> Loudness:
    meter = LoudnessMeter(rate_hz=RATE_HZ, channels=store.channels)
    done = 0
    for block in _finished(store, setting):
        meter.add(block)
        done += block.shape[1]
        progress(done / store.length, "measuring loudness")
    return meter.result()


def _finished(store: SoundStore, setting: _Setting) -> Iterator[NDArray[np.float32]]:
    stored = (store.read(begin, end) for begin, end in store.spans())
    gain = 10 ** (setting.gain_db / 20)
    if setting.ceiling_dbtp is None:
        yield from (block * np.float32(gain) for block in stored)
    else:
        yield from limited(stored, rate_hz=RATE_HZ, gain=gain, ceiling_dbtp=setting.ceiling_dbtp)
