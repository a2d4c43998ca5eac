"""Feeds the recording's sound to a film in step with its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from syncview.media.film_writer import SoundShape
from syncview.media.sound import read_sound

if TYPE_CHECKING:
    from collections.abc import Generator
    from fractions import Fraction

    from numpy.typing import NDArray

    from syncview.media.film_writer import FilmWriter
    from syncview.media.recording import Recording

_AHEAD_S = 0.5
"""Sound is written this far ahead of the picture, so that the file can be interleaved without waiting."""


class SoundFeed:
    """The sound from `begin_s` to `end_s` exactly; nothing where the recording has none. Close it after use."""

    def __init__(self, recording: Recording, begin_s: Fraction, end_s: Fraction) -> None:
        self.notes: list[str] = []
        self.shape: SoundShape | None = None
        self._blocks: Generator[NDArray[np.float32]] | None = None
        self._written = 0
        track = recording.audio
        if track is None:
            self.notes.append("The recording has no sound, so the film has none.")
            return
        self.shape = SoundShape(rate_hz=track.rate_hz, channels=min(track.channels, 2))
        if track.channels > 2:
            self.shape = SoundShape(rate_hz=track.rate_hz, channels=1)
            self.notes.append(f"The sound's {track.channels} channels were mixed into one.")
        self._blocks = read_sound(recording, begin_s, end_s)

    def feed(self, writer: FilmWriter, *, film_s: Fraction | None) -> None:
        """Write the sound up to a little after `film_s`; None writes the rest."""
        if self.shape is None or self._blocks is None:
            return
        goal = None if film_s is None else round((float(film_s) + _AHEAD_S) * self.shape.rate_hz)
        while goal is None or self._written < goal:
            block = next(self._blocks, None)
            if block is None:
                return
            if block.shape[0] > self.shape.channels:
                block = block.mean(axis=0, keepdims=True, dtype=np.float32)
            writer.write_sound(block)
            self._written += block.shape[1]

    def close(self) -> None:
        """Let go of the recording."""
        if self._blocks is not None:
            self._blocks.close()
