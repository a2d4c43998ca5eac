"""Writes a film file completely or not at all."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Self

from syncview.media.caption_stream import CaptionStream, CaptionTrack
from syncview.media.encoders import DRAFT, WEB, EncoderSettings, PictureEncoder, PictureShape, add_picture_stream
from syncview.media.film_output import SUFFIXES, ChapterMark, faults_named, let_go, open_film, refuse_bad_film
from syncview.media.film_sound_stream import SoundShape, SoundStream
from syncview.output_file import part_beside, place

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from types import TracebackType

    import numpy as np
    from av.container import OutputContainer
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

__all__ = ["DRAFT", "SUFFIXES", "WEB", "ChapterMark", "EncoderSettings", "FilmWriter", "PictureShape", "SoundShape"]


class FilmWriter:
    """Context manager that writes to a hidden `.part` file and gives it its name when the block ends well.

    Pictures and sound may be given in any interleaving that keeps each in order; the file is interleaved by time, so
    that keeping them within a few seconds of each other keeps memory small. Raises OutputError when the film cannot
    be written, or when `output` exists and `overwrite` is False, or is one of `sources`.
    """

    def __init__(
        self,
        output: Path,
        *,
        picture: PictureShape,
        sound: SoundShape | None = None,
        settings: EncoderSettings = WEB,
        chapters: Sequence[ChapterMark] = (),
        captions: Sequence[CaptionTrack] = (),
        title: str | None = None,
        sources: Sequence[Path] = (),
        overwrite: bool = False,
    ) -> None:
        refuse_bad_film(output, overwrite=overwrite, sources=sources)
        self._output = output
        self._overwrite = overwrite
        self._part = part_beside(output)
        self._picture = picture
        self._sound_shape = sound
        self._settings = settings
        self._chapters = tuple(chapters)
        self._caption_tracks = tuple(captions)
        self._title = title
        self._container: OutputContainer | None = None

    def __enter__(self) -> Self:
        try:
            with faults_named(self._output):
                self._open()
        except BaseException:
            self._discard()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is not None:
            self._discard()
            return
        try:
            with faults_named(self._output):
                self._finish()
        except BaseException:
            self._discard()
            raise

    def write_picture(self, frame: VideoFrame, *, pts: int, duration: int) -> None:
        """Append a picture that appears at `pts` and stays `duration` ticks; stamps must ascend from 0."""
        with faults_named(self._output):
            self._opened.mux(self._encoder.packets(frame, pts=pts, duration=duration))
            for captions in self._captions:
                captions.write(pts * self._picture.time_base)

    def write_sound(self, block: NDArray[np.float32]) -> None:
        """Append samples, shape (channels, n), full scale 1; the first sample of all sounds at time 0."""
        if self._sound is None:
            raise ValueError("this film was opened without sound")
        with faults_named(self._output):
            self._sound.write(block)

    @property
    def _opened(self) -> OutputContainer:
        if self._container is None:
            raise ValueError("the film is not open: use FilmWriter in a with statement")
        return self._container

    def _open(self) -> None:
        self._container = open_film(self._part, chapters=self._chapters, title=self._title)
        video = add_picture_stream(self._container, self._picture, self._settings, self._output)
        self._encoder = PictureEncoder(video, self._picture)
        self._sound: SoundStream | None = None
        if self._sound_shape is not None:
            bit_rate = self._settings.audio_bit_rate
            self._sound = SoundStream(self._container, self._sound_shape, bit_rate=bit_rate)
        self._captions = [CaptionStream(self._container, self._output, track) for track in self._caption_tracks]
        self._container.start_encoding()

    def _finish(self) -> None:
        container = self._opened
        container.mux(self._encoder.rest())
        if self._sound is not None:
            self._sound.finish()
        for captions in self._captions:
            captions.write(None)
        container.close()
        self._container = None
        place(self._part, self._output, overwrite=self._overwrite)

    def _discard(self) -> None:
        let_go(self._container)
        self._container = None
        with contextlib.suppress(OSError):
            self._part.unlink(missing_ok=True)
