"""Tempo without pitch: exact lengths, frequencies by FFT, bursts at their times."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.media.tempo import LEAD_S, PRE_ROLL_S, stages, stretched
from tests.media.made_sounds import RATE_HZ, engine, sine, tone_hz


def _played(
    samples: NDArray[np.float32], tempo: Fraction, *, count: int, skip: int = 0, rate_hz: int = RATE_HZ
) -> NDArray[np.float32]:
    blocks = (samples[np.newaxis, begin : begin + 5000] for begin in range(0, len(samples), 5000))
    made = stretched(blocks, rate_hz=rate_hz, rate_out_hz=RATE_HZ, tempo=tempo, skip=skip, count=count)
    return np.asarray(np.concatenate(list(made), axis=1)[0])


@given(st.fractions(min_value=Fraction(1, 32), max_value=32))
def test_stages_multiply_to_the_tempo_within_the_filters_range(tempo: Fraction) -> None:
    chain = stages(tempo)
    assert np.prod(chain) == pytest.approx(float(tempo), rel=1e-12)
    assert all(0.5 <= stage <= 2.0 for stage in chain)


def test_no_more_stages_than_needed() -> None:
    assert [len(stages(Fraction(t))) for t in ("1", "3/4", "1/2", "49/100", "1/4", "6/25", "1/8", "2", "3")] == [
        0, 1, 1, 2, 2, 3, 3, 1, 2,
    ]  # fmt: skip


@pytest.mark.parametrize("tempo", [Fraction(1, 33), Fraction(33), Fraction(0)])
def test_senseless_tempos_are_refused(tempo: Fraction) -> None:
    with pytest.raises(ValueError, match="tempo"):
        stages(tempo)


@pytest.mark.parametrize("tempo", [Fraction(1, 4), Fraction(1, 3), Fraction(1, 2), Fraction(9, 10), Fraction(3, 2)])
@pytest.mark.parametrize("rate_hz", [8000, 44_100, 48_000, 192_000])
def test_pitch_stays(tempo: Fraction, rate_hz: int) -> None:
    wave = sine(4, tone_hz=440.0, rate_hz=rate_hz)
    made = _played(wave, tempo, rate_hz=rate_hz, skip=RATE_HZ // 2, count=RATE_HZ)
    assert tone_hz(made) == pytest.approx(440.0, rel=0.002)  # 3.5 cents; half a semitone would be 2.9 %
    assert np.sqrt(np.mean(made**2)) == pytest.approx(np.sqrt(np.mean(wave**2)), rel=0.03)


@settings(max_examples=12)
@given(st.fractions(min_value=Fraction(1, 8), max_value=4), st.integers(0, 20_000), st.integers(1, 60_000))
def test_length_is_exact(tempo: Fraction, skip: int, count: int) -> None:
    assert len(_played(sine(0.5), tempo, skip=skip, count=count)) == count


def _pulses(carrier: NDArray[np.float32], centres_s: NDArray[np.float64]) -> NDArray[np.float32]:
    times_s = np.arange(len(carrier)) / RATE_HZ
    envelope = 0.1 + sum(0.9 * np.exp(-0.5 * ((times_s - centre) / 0.03) ** 2) for centre in centres_s)
    return np.asarray(carrier * envelope, dtype=np.float32)


@pytest.mark.parametrize("carrier", ["engine", "tone", "noise"])
@pytest.mark.parametrize("tempo", [Fraction(1, 4), Fraction(1, 2), Fraction(9, 10)])
def test_bursts_are_heard_when_the_picture_shows_them(carrier: str, tempo: Fraction) -> None:
    """Within +40/-60 ms (EBU R 37: sound early/late), on the average of a dozen bursts."""
    noise = 0.2 * np.random.default_rng(1).standard_normal(14 * RATE_HZ).astype(np.float32)
    waves = {"engine": engine(14), "tone": sine(14), "noise": noise}
    centres_s = np.arange(1.0, 13.0)
    pre_s = PRE_ROLL_S + LEAD_S
    wave = np.concatenate([np.zeros(round(pre_s * RATE_HZ), np.float32), _pulses(waves[carrier], centres_s)])
    made = _played(wave, tempo, skip=round(PRE_ROLL_S / tempo * RATE_HZ), count=round(14 * RATE_HZ / tempo))
    times_s = np.arange(len(made)) / RATE_HZ
    late_s = []
    for centre_s in centres_s / float(tempo):
        near = np.abs(times_s - centre_s) < 0.2 / float(tempo)
        weight = made[near] ** 2 * np.exp(-0.5 * ((times_s[near] - centre_s) * float(tempo) / 0.1) ** 2)
        late_s.append(float((weight * times_s[near]).sum() / weight.sum() - centre_s))
    assert -0.040 < np.mean(late_s) < 0.060
    assert np.std(late_s) < 0.012  # no drift: the last is as late as the first
