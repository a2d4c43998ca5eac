"""A microphone and a loudspeaker for tests."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.desk.notes.sound_devices import DeviceError, SoundSink, SoundSource

RATE_HZ = 48_000


def speech(seconds: float, *, silence_s: float = 0.5, level: float = 0.3, seed: int = 4) -> NDArray[np.int16]:
    """Silence, a noise that comes and goes like syllables, silence; int16 at 48 kHz."""
    n = int(seconds * RATE_HZ)
    noise = np.random.default_rng(seed).normal(0, 1, n)
    syllables = 0.6 + 0.4 * np.sin(2 * np.pi * 4 * np.arange(n) / RATE_HZ)
    quiet = np.zeros(int(silence_s * RATE_HZ))
    sound = np.concatenate([quiet, np.clip(noise * syllables * level / 3, -1, 1), quiet])
    return (sound * 32767).astype(np.int16)


class FakeMicrophone(SoundSource):
    """Gives what the test says."""

    def __init__(self, *, fault: DeviceError | None = None) -> None:
        super().__init__()
        self.fault = fault
        self.on = False

    def start(self) -> None:
        if self.fault is not None:
            raise self.fault
        self.on = True

    def stop(self) -> None:
        self.on = False

    def hear(self, sound: NDArray[np.int16], *, block: int = 960) -> None:
        for begin in range(0, sound.size, block):
            self.heard.emit(sound[begin : begin + block])


class FakeLoudspeaker(SoundSink):
    """Keeps what it was given."""

    def __init__(self, *, fault: DeviceError | None = None) -> None:
        super().__init__()
        self.fault = fault
        self.played: list[NDArray[np.int16]] = []

    def play(self, samples: NDArray[np.int16], rate_hz: int) -> None:
        if self.fault is not None:
            raise self.fault
        assert rate_hz == RATE_HZ
        self.played.append(samples)

    def stop(self) -> None:
        self.ended.emit()
