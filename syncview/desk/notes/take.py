"""A take: what the microphone hears, written as it comes, and given its name when it is whole."""

from __future__ import annotations

import contextlib
import wave
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import MediaError
from syncview.output_file import os_faults_named, part_beside, place, ready_folder

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.media.voice_file import VoiceFile

SUFFIXES = (".syncview.json", ".json")


def voices_folder(project_path: Path) -> Path:
    """Where takes of a project lie: `NAME voices`, beside it."""
    name = project_path.name
    for suffix in SUFFIXES:
        if name.lower().endswith(suffix) and len(name) > len(suffix):
            name = name[: -len(suffix)]
            break
    return project_path.parent / f"{name} voices"


def free_name(folder: Path, key: str) -> Path:
    """`n3.wav`, or `n3-2.wav` …: a take never replaces an earlier one, which an undo may want back."""
    path, number = folder / f"{key}.wav", 1
    while path.exists() or part_beside(path).exists():
        number += 1
        path = folder / f"{key}-{number}.wav"
    return path


class Take:
    """One recording under way: a WAV file of one channel, 16 bit, hidden until it is whole."""

    def __init__(self, project_path: Path, key: str, *, rate_hz: int) -> None:
        """Begin the file; raises `OutputError` where it cannot be written."""
        self.key = key
        self.rate_hz = rate_hz
        self.path = free_name(ready_folder(voices_folder(project_path)), key)
        self._part = part_beside(self.path)
        self._samples = 0
        with os_faults_named(self.path):
            self._wave = wave.open(str(self._part), "wb")  # noqa: SIM115 (it stays open while the person speaks)
            self._wave.setnchannels(1)
            self._wave.setsampwidth(2)
            self._wave.setframerate(rate_hz)

    @property
    def length_s(self) -> Fraction:
        """How much was heard so far."""
        return Fraction(self._samples, self.rate_hz)

    def write(self, samples: NDArray[np.int16]) -> None:
        """Add a block, shape (n,); raises `OutputError` when the disk does not take it."""
        with os_faults_named(self.path):
            self._wave.writeframesraw(samples.astype("<i2").tobytes())
        self._samples += samples.size

    def finish(self) -> VoiceFile:
        """Close the file, see that somebody speaks in it, and give it its name.

        Raises `MediaError` when nothing is heard (no file is kept then) and `OutputError`.
        """
        try:
            with os_faults_named(self.path):
                self._wave.close()
            if not self._samples:
                raise MediaError("the microphone gave no sound", "Choose another in the system's settings of sound.")
            voice = _heard(self._part)
            with os_faults_named(self.path):
                place(self._part, self.path, overwrite=False)
        except Exception:
            self.abandon()
            raise
        return replace(voice, path=self.path)

    def abandon(self) -> None:
        """Keep nothing."""
        with contextlib.suppress(OSError):
            self._wave.close()
        with contextlib.suppress(OSError):
            self._part.unlink(missing_ok=True)


def _heard(part: Path) -> VoiceFile:
    """The file, when somebody speaks in it; the fault does not name the hidden file."""
    from syncview.media.voice_file import open_voice

    try:
        voice = open_voice(part)
        voice.piece()
    except MediaError as error:
        raise MediaError(f"the recording was not kept: {error.problem}", error.remedy) from None
    return voice
