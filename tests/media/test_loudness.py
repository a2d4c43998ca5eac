"""Loudness: EBU Tech 3341's signals, made from their description, and ITU-R BS.1770's own check."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.media.loudness import loudness_of
from tests.media.made_sounds import RATE_HZ, silence, sine


def _steps(*steps: tuple[float, float]) -> NDArray[np.float32]:
    """Stereo, 1 kHz; each step is its peak in dBFS and its length in seconds."""
    return np.repeat(np.concatenate([sine(length_s, peak_db=peak) for peak, length_s in steps])[np.newaxis], 2, axis=0)


# EBU Tech 3341 (V4, 2023), table 1: signals 1 to 5, all with I = the value given ±0.1 LU.
TECH_3341 = {
    "1": (((-23.0, 20.0),), -23.0),
    "2": (((-33.0, 20.0),), -33.0),
    "3": (((-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0)), -23.0),
    "4": (((-72.0, 10.0), (-36.0, 10.0), (-23.0, 60.0), (-36.0, 10.0), (-72.0, 10.0)), -23.0),
    "5": (((-26.0, 20.0), (-20.0, 20.1), (-26.0, 20.0)), -23.0),
}


@pytest.mark.parametrize(("steps", "expected_lufs"), TECH_3341.values(), ids=TECH_3341)
def test_integrated_loudness_of_tech_3341(steps: tuple[tuple[float, float], ...], expected_lufs: float) -> None:
    measured = loudness_of([_steps(*steps)], rate_hz=RATE_HZ, channels=2)
    assert measured.integrated_lufs == pytest.approx(expected_lufs, abs=0.1)


def test_surround_of_tech_3341() -> None:
    # Signal 6: 5.0 with L R -28, C -24, Ls Rs -30 dBFS; here with a silent low channel, which is not counted.
    levels = (-28.0, -28.0, -24.0, None, -30.0, -30.0)
    channels = np.stack([silence(20) if level is None else sine(20, peak_db=level) for level in levels])
    assert loudness_of([channels], rate_hz=RATE_HZ, channels=6).integrated_lufs == pytest.approx(-23.0, abs=0.1)


# Signals 15 to 19: amplitude as a share of full scale, fs / n, phase in degrees, expected dBTP +0.2/-0.4.
PEAKS = {
    "15": (0.50, 4, 0.0, -6.0),
    "16": (0.50, 4, 45.0, -6.0),
    "17": (0.50, 6, 60.0, -6.0),
    "18": (0.50, 8, 67.5, -6.0),
    "19": (1.41, 4, 45.0, 3.0),
}


@pytest.mark.parametrize(("share", "divisor", "phase_deg", "expected_dbtp"), PEAKS.values(), ids=PEAKS)
def test_true_peak_of_tech_3341(share: float, divisor: int, phase_deg: float, expected_dbtp: float) -> None:
    wave = sine(1, peak_db=20 * np.log10(share), tone_hz=RATE_HZ / divisor, phase_deg=phase_deg)
    wave *= np.minimum(1, np.minimum(np.arange(RATE_HZ), np.arange(RATE_HZ)[::-1]) / 480)  # no click at the ends
    measured = loudness_of([np.stack([wave, wave])], rate_hz=RATE_HZ, channels=2).true_peak_dbtp
    assert measured is not None
    assert expected_dbtp - 0.4 <= measured <= expected_dbtp + 0.2


def test_full_scale_sine_in_one_channel() -> None:
    # ITU-R BS.1770, annex 1: 997 Hz at 0 dBFS in one channel reads -3.01 LKFS.
    measured = loudness_of([np.stack([sine(5, peak_db=0.0, tone_hz=997.0)])], rate_hz=RATE_HZ, channels=1)
    assert measured.integrated_lufs == pytest.approx(-3.01, abs=0.05)


@pytest.mark.parametrize("size", [480, 4801, 48_000, 960_000])
def test_blocks_of_any_size_measure_the_same(size: int) -> None:
    whole = _steps((-26.0, 3.0), (-20.0, 3.05))
    parts = [whole[:, begin : begin + size] for begin in range(0, whole.shape[1], size)]
    assert loudness_of(parts, rate_hz=RATE_HZ, channels=2) == loudness_of([whole], rate_hz=RATE_HZ, channels=2)


def test_peak_in_the_last_hundredth_second_is_seen() -> None:
    wave = np.concatenate([silence(1.0), sine(0.05, peak_db=-1.0)])
    peak = loudness_of([np.stack([wave, wave])], rate_hz=RATE_HZ, channels=2).true_peak_dbtp
    assert peak == pytest.approx(-1.0, abs=0.1)


def test_silence_and_short_sounds_have_no_loudness() -> None:
    quiet = loudness_of([np.zeros((2, RATE_HZ), dtype=np.float32)], rate_hz=RATE_HZ, channels=2)
    assert quiet.integrated_lufs is None
    assert quiet.true_peak_dbtp is None
    assert loudness_of([np.stack([sine(0.2)])], rate_hz=RATE_HZ, channels=1).integrated_lufs is None
    assert loudness_of([], rate_hz=RATE_HZ, channels=2).integrated_lufs is None
