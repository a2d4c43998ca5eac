"""What the recording's microphone hears: an engine by its cycle's wave, and all that is louder than it at times."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import iirpeak, lfilter

from tests.clock.sessions.car import GRID_HZ, CarTrace
from tests.clock.sessions.circuit import FloatArray
from tests.clock.sessions.spec import SessionSpec
from tests.clock.sessions.voices import music, speech, wind

AUDIO_HZ = 16_000
_CYCLE = 4096
"""Samples of the table of one cycle: two turns of a four-stroke engine."""


def hear(spec: SessionSpec, trace: CarTrace, true_s: FloatArray) -> NDArray[np.float32]:
    """Sound at the true times of the samples, shape (n,), full scale 1; `true_s` may jump where a pause was."""
    rng = np.random.default_rng([spec.seed, 6])
    if spec.sound == "silent":
        return np.zeros(true_s.size, np.float32)
    sound = _engine(spec, trace, true_s, rng)
    sound += spec.hiss * rng.normal(size=true_s.size)
    sound += spec.wind * wind(np.interp(true_s, trace.time_s, trace.speed_mps), AUDIO_HZ, rng)
    if spec.speech:
        sound += spec.speech * 2 * speech(true_s.size, AUDIO_HZ, rng)
    if spec.music:
        sound += spec.music * music(true_s.size, AUDIO_HZ, rng)
    return _levelled(sound)


def turned(trace: CarTrace, true_s: FloatArray) -> FloatArray:
    """Turns of the engine since the trace's first moment."""
    hz = trace.rpm / 60
    turns = np.concatenate(([0.0], np.cumsum((hz[1:] + hz[:-1]) / (2 * GRID_HZ))))
    return np.interp(true_s, trace.time_s, turns)


def _engine(spec: SessionSpec, trace: CarTrace, true_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    turns = turned(trace, true_s)
    place = ((turns / 2 % 1.0) * _CYCLE).astype(np.int32)
    pull, coast = _cycle_wave(spec.cylinders, 0.10, rng), _cycle_wave(spec.cylinders, 0.25, rng)
    throttle = np.interp(true_s, trace.time_s, trace.throttle)
    revs = np.interp(true_s, trace.time_s, trace.rpm) / 7000
    sound = (throttle * pull[place] + 0.45 * (1 - throttle) * coast[place]) * (0.35 + 0.65 * revs)
    if spec.whine_order is not None:
        sound += 1.2 * np.sin(2 * np.pi * spec.whine_order * turns) * (0.3 + 0.7 * revs)
    if spec.axle_whine_per_m:
        driven = np.interp(true_s, trace.time_s, trace.driven_m)
        sound += 0.8 * np.sin(2 * np.pi * spec.axle_whine_per_m * driven)
    for hz in rng.uniform(90, 1400, 3):
        top, bottom = iirpeak(hz, rng.uniform(1.5, 4), fs=AUDIO_HZ)
        sound = sound + 0.8 * lfilter(top, bottom, sound)
    return np.asarray(sound / (sound.std() + 1e-9), np.float64)


def _cycle_wave(cylinders: int, width: float, rng: np.random.Generator) -> FloatArray:
    """Pressure over one cycle: a pulse per cylinder, no two alike; odd engines do not fire evenly."""
    angle = np.arange(_CYCLE) / _CYCLE
    uneven = rng.uniform(0, 0.25 / cylinders, cylinders) if cylinders in (2, 5) else np.zeros(cylinders)
    wave = np.zeros(_CYCLE)
    for k in range(cylinders):
        since = (angle - k / cylinders - uneven[k] + 0.5) % 1.0 - 0.5
        since *= max(cylinders, 2)
        ring = np.exp(-np.maximum(since, 0) / (3 * width)) * np.sin(2 * np.pi * since / (4 * width))
        wave += (1 + rng.normal(0, 0.12)) * np.where(since > 0, ring, 0)
    wave -= wave.mean()
    return np.asarray(wave / wave.std(), np.float64)


def _levelled(sound: FloatArray) -> NDArray[np.float32]:
    """The recorder's automatic level (two seconds slow) and its limit."""
    loud = np.sqrt(uniform_filter1d(sound**2, 2 * AUDIO_HZ, mode="nearest")) + 1e-3
    return np.asarray(np.tanh(0.22 * sound / loud), np.float32)
