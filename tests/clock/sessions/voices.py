"""Sounds that cover the engine: speech-like noise, music, wind. Shape (n,) at the given rate, about unit loudness."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import butter, lfilter, sosfilt

from tests.clock.sessions.circuit import FloatArray

VOWELS_HZ = ((730, 1090, 2440), (270, 2290, 3010), (300, 870, 2240), (530, 1840, 2480), (570, 840, 2410))
"""First three formants of five vowels, men's means: Peterson and Barney 1952, from memory."""


def speech(count: int, rate_hz: int, rng: np.random.Generator) -> FloatArray:
    """Phrases of 1 to 4 s with pauses: voiced pulses through formants, hissed consonants between them."""
    sound = np.zeros(count)
    at = int(rng.uniform(0, 2) * rate_hz)
    while at < count:
        end = min(count, at + int(rng.uniform(1, 4) * rate_hz))
        pitch_hz = rng.uniform(95, 190)
        while at < end:
            piece = _syllable(rate_hz, pitch_hz * rng.uniform(0.85, 1.2), rng)[: end - at]
            sound[at : at + piece.size] += piece
            at += piece.size
        at += int(rng.uniform(0.3, 2.5) * rate_hz)
    return sound


def _syllable(rate_hz: int, pitch_hz: float, rng: np.random.Generator) -> FloatArray:
    voiced = int(rng.uniform(0.08, 0.22) * rate_hz)
    hz = pitch_hz * np.linspace(1, rng.uniform(0.85, 1.1), voiced)
    turn = np.cumsum(hz) / rate_hz
    pulses = np.diff(np.floor(turn), prepend=0.0)
    for formant in VOWELS_HZ[int(rng.integers(len(VOWELS_HZ)))]:
        damped, angle = np.exp(-np.pi * 90 / rate_hz), 2 * np.pi * formant / rate_hz
        pulses = lfilter([1 - damped], [1, -2 * damped * np.cos(angle), damped**2], pulses)
    pulses *= np.hanning(voiced) / (np.abs(pulses).max() + 1e-9) * 3
    hiss = int(rng.uniform(0.03, 0.1) * rate_hz)
    consonant = np.diff(rng.normal(size=hiss + 1)) * np.hanning(hiss) * 0.5
    return np.concatenate((consonant, pulses))


def music(count: int, rate_hz: int, rng: np.random.Generator) -> FloatArray:
    """A bar of chords, a tune and a drum, repeated with changes."""
    beat = int(60 / rng.uniform(90, 140) * rate_hz)
    sound = np.zeros(count + 8 * beat)
    scale = 110 * 2 ** (np.array([0, 2, 4, 5, 7, 9, 11, 12, 14, 16]) / 12 + rng.uniform(0, 1))
    notes = [_note(hz, 2 * beat, rate_hz) for hz in scale]
    drum = rng.normal(size=beat) * np.exp(-np.arange(beat) / (0.03 * rate_hz))
    for start in range(0, count, beat):
        sound[start : start + beat] += 0.8 * drum * (1 if start // beat % 2 else 0.5)
        for k in rng.integers(len(notes), size=2 if start // beat % 4 else 3):
            sound[start : start + 2 * beat] += 0.7 * notes[k]
    return sound[:count]


def _note(hz: float, count: int, rate_hz: int) -> FloatArray:
    time_s = np.arange(count) / rate_hz
    tone = sum(np.sin(2 * np.pi * hz * k * time_s) / k**1.3 for k in range(1, 7))
    return np.asarray(tone * np.minimum(1, time_s * 100) * np.exp(-2.5 * time_s), np.float64)


def wind(speed_mps: FloatArray, rate_hz: int, rng: np.random.Generator) -> FloatArray:
    """Rumble that grows with the square of speed, in gusts; unit loudness at 50 m/s."""
    coloured = sosfilt(butter(1, [40, 450], "bandpass", fs=rate_hz, output="sos"), rng.normal(size=speed_mps.size))
    gusts = gaussian_filter1d(rng.normal(size=speed_mps.size // (rate_hz // 10) + 2), 3) * 3.2
    gust = np.interp(np.arange(speed_mps.size), np.arange(gusts.size) * (rate_hz // 10), gusts)
    return np.asarray(coloured / coloured.std() * (speed_mps / 50) ** 2 * np.exp(0.4 * gust), np.float64)
