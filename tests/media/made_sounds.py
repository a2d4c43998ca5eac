"""Sounds of known content for the tests, and files made of them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

RATE_HZ = 48_000


def sine(
    length_s: float, *, peak_db: float = -6.0, tone_hz: float = 1000.0, rate_hz: int = RATE_HZ, phase_deg: float = 0.0
) -> NDArray[np.float32]:
    """One channel, shape (n,); `peak_db` is that of the wave, full scale 0."""
    places = np.arange(round(length_s * rate_hz))
    wave = 10 ** (peak_db / 20) * np.sin(2 * np.pi * tone_hz * places / rate_hz + np.radians(phase_deg))
    return np.asarray(wave, dtype=np.float32)


def silence(length_s: float, *, rate_hz: int = RATE_HZ) -> NDArray[np.float32]:
    return np.zeros(round(length_s * rate_hz), dtype=np.float32)


def engine(length_s: float, *, rate_hz: int = RATE_HZ, firing_hz: float = 140.0) -> NDArray[np.float32]:
    """Harmonics of a firing frequency that wavers by 5 %, as an engine's does."""
    times_s = np.arange(round(length_s * rate_hz)) / rate_hz
    phase = 2 * np.pi * firing_hz * (times_s + 0.05 / 3 * np.sin(3 * times_s))
    wave = sum(np.sin(order * phase + order) / order for order in range(1, 9))
    return np.asarray(0.15 * wave, dtype=np.float32)


def tone_hz(samples: NDArray[np.float32], rate_hz: int = RATE_HZ) -> float:
    """The strongest frequency: the top of a parabola through the logarithms of the spectrum's peak and neighbours."""
    spectrum = np.log(np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) + 1e-12)
    top = int(np.argmax(spectrum))
    low, mid, high = spectrum[top - 1 : top + 2]
    return float((top + (low - high) / (2 * (low - 2 * mid + high))) * rate_hz / len(samples))


def write_sound_file(
    path: Path, channels: NDArray[np.float32], *, rate_hz: int = RATE_HZ, codec: str, layout: str | None = None
) -> Path:
    """Encode samples, shape (channels, n), by the file's suffix and `codec`."""
    name = layout or {1: "mono", 2: "stereo", 6: "5.1"}[channels.shape[0]]
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz)
        assert isinstance(stream, av.AudioStream)
        stream.codec_context.layout = name
        for begin in range(0, channels.shape[1], 4096):
            block = np.ascontiguousarray(channels[:, begin : begin + 4096], dtype=np.float32)
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout=name)
            frame.sample_rate, frame.time_base, frame.pts = rate_hz, Fraction(1, rate_hz), begin
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path
