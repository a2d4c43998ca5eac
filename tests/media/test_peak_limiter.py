"""The limiter: true peak by interpolation with SciPy, independent of block size, deaf to quiet sound."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import firwin, resample_poly

from syncview.media.loudness import loudness_of
from syncview.media.peak_limiter import _REACH, _between, limited
from tests.media.made_sounds import RATE_HZ, engine, sine


def true_peak_dbtp(samples: NDArray[np.float32], *, edge: int = 0) -> float:
    """The highest level at four times the rate (ITU-R BS.1770, annex 2), with a filter thrice the limiter's own."""
    window = firwin(8 * 32 + 1, 1 / 4, window=("kaiser", 8.0))
    between = resample_poly(samples.astype(np.float64), 4, 1, axis=1, window=window)
    return float(20 * np.log10(np.abs(between[:, 4 * edge : between.shape[1] - 4 * edge]).max()))


def _limited(samples: NDArray[np.float32], size: int, **options: float) -> NDArray[np.float32]:
    blocks = (samples[:, begin : begin + size] for begin in range(0, samples.shape[1], size))
    return np.concatenate(list(limited(blocks, rate_hz=RATE_HZ, **options)), axis=1)


def _loud(seed: int, length_s: float = 2.0) -> NDArray[np.float32]:
    """An engine with claps of noise 12 dB above it."""
    rng = np.random.default_rng(seed)
    wave = np.stack([engine(length_s), engine(length_s, firing_hz=100.0)])
    for place in rng.integers(0, wave.shape[1] - 500, 12):
        wave[:, place : place + 400] += rng.uniform(-2, 2, (2, 400)) * np.hanning(400)
    return wave.astype(np.float32)


@pytest.mark.parametrize("gain", [0.5, 1.0, 4.0, 10.0])
def test_true_peak_stays_below_the_ceiling(gain: float) -> None:
    """To 0.3 dB: claps of white noise are where interpolating filters differ most."""
    made = _limited(_loud(1), 10_000, gain=gain, ceiling_dbtp=-1.3)
    assert true_peak_dbtp(made) <= -1.0
    measured = loudness_of([made], rate_hz=RATE_HZ, channels=2).true_peak_dbtp
    assert measured is not None
    assert measured <= -1.0


@pytest.mark.parametrize(("divisor", "phase_deg"), [(4, 45.0), (6, 60.0), (8, 67.5)])
def test_peaks_between_samples_are_seen(divisor: int, phase_deg: float) -> None:
    """EBU Tech 3341, signals 16 to 18, raised to 1.41: their samples alone stay below full scale."""
    wave = sine(1, peak_db=3.0, tone_hz=RATE_HZ / divisor, phase_deg=phase_deg)
    made = _limited(np.stack([wave, wave]), 7_000, gain=1.0, ceiling_dbtp=-1.2)
    assert true_peak_dbtp(made, edge=2000) == pytest.approx(-1.2, abs=0.1)


def test_points_between_samples_are_scipys() -> None:
    wave = np.random.default_rng(4).standard_normal((2, 3000)).astype(np.float32)
    low_pass = firwin(8 * _REACH + 1, 1 / 4, window=("kaiser", 6.0))
    theirs = np.abs(resample_poly(wave, 4, 1, axis=1, window=low_pass)).reshape(2, -1, 4)[:, :, 1:].max(axis=(0, 2))
    assert np.abs(_between(np.pad(wave, ((0, 0), (_REACH, _REACH)))) - theirs).max() < 1e-5


def test_sound_below_the_ceiling_is_only_multiplied() -> None:
    wave = np.stack([engine(1), sine(1)]) * np.float32(0.5)
    assert np.abs(_limited(wave, 3_000, gain=1.5, ceiling_dbtp=-1.0) - 1.5 * wave).max() < 1e-6


@settings(max_examples=10)
@given(st.integers(1, 60_000), st.integers(0, 5))
def test_block_size_does_not_matter(size: int, seed: int) -> None:
    wave = _loud(seed, 0.5)
    whole = _limited(wave, wave.shape[1], gain=3.0, ceiling_dbtp=-1.2)
    made = _limited(wave, max(size, 200), gain=3.0, ceiling_dbtp=-1.2)
    assert made.shape == wave.shape
    assert np.abs(made - whole).max() < 2e-3


def test_gain_moves_slowly() -> None:
    """A clap lowers the engine for a while, without steps that click: under 0.05 dB from sample to sample."""
    wave = np.stack([sine(1, tone_hz=200.0, peak_db=-8.0)] * 2)
    wave[:, 24_000:24_048] += 3.0 * np.hanning(48).astype(np.float32)
    made = _limited(wave, 4_096, gain=1.0, ceiling_dbtp=-1.2)
    gain_db = 20 * np.log10(np.abs(made[0, 1::2] / wave[0, 1::2]) + 1e-9)
    assert np.abs(np.diff(gain_db[np.abs(wave[0, 1::2]) > 0.01])).max() < 0.35
    assert gain_db.min() < -10
    assert gain_db[-100] == pytest.approx(0, abs=1e-3)


def test_nothing_gives_nothing() -> None:
    assert list(limited([], rate_hz=RATE_HZ, gain=1.0, ceiling_dbtp=-1.0)) == []
