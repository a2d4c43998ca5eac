"""A film whose picture is written in pieces, so that a render that broke goes on instead of beginning again."""

from __future__ import annotations

import contextlib
import hashlib
import os
from fractions import Fraction
from typing import TYPE_CHECKING, Self

import av
from av.codec.context import Flags

from syncview.errors import Cancelled
from syncview.media.encoders import WEB, EncoderSettings, PictureEncoder, PictureShape, set_up
from syncview.media.film_join import FilmExtras, FilmSound, join_film
from syncview.media.film_output import faults_named, refuse_bad_film
from syncview.media.packet_file import PacketFile
from syncview.media.parts_folder import PartsFolder, Piece, folder_beside
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path
    from types import TracebackType

    from av.packet import Packet
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

__all__ = ["SEGMENT_S", "FilmExtras", "FilmSound", "SegmentedFilm"]

SEGMENT_S = Fraction(10)
"""Most of the work that a break can cost; each piece costs the encoder a start."""


class SegmentedFilm:
    """Context manager that writes pictures piece by piece and joins them into `output` at the end.

    Each piece is a closed group of pictures in a file of its own in a hidden folder beside `output`. A second run with
    the same `digest`, shape and settings finds the finished ones: `next_picture` says from which picture to go on.
    `finish` makes the film. When the block is left by `Cancelled` or Ctrl-C, or after `finish`, the folder is removed;
    when it is left otherwise, finished pieces stay for the next run. Pieces with another digest are thrown away.

    Raises OutputError when the film cannot be written, when `output` exists and `overwrite` is False, is one of
    `sources`, or when another render of the same film is at work.
    """

    def __init__(
        self,
        output: Path,
        *,
        picture: PictureShape,
        digest: str,
        settings: EncoderSettings = WEB,
        sources: Sequence[Path] = (),
        overwrite: bool = False,
        segment_s: Fraction = SEGMENT_S,
    ) -> None:
        """`digest` names everything that decides the pictures: recording, plan, notes, gauges, places of pictures."""
        refuse_bad_film(output, overwrite=overwrite, sources=sources)
        self._output = output
        self._overwrite = overwrite
        self._picture = picture
        self._settings = settings
        self._segment_ticks = segment_s / picture.time_base
        self._folder = PartsFolder(output, _identity(digest, picture, settings, segment_s))
        self._pieces: list[Piece] = []
        self._open_piece: _OpenPiece | None = None
        self._last_pts: int | None = None
        self._kept = f"What is finished of it is kept in {folder_beside(output).name}, and the next run goes on there."

    @property
    def next_picture(self) -> int:
        """How many pictures lie in finished pieces: at the start, the number (from 0) of the one to go on from."""
        return sum(len(piece.survey.pts) for piece in self._pieces)

    def __enter__(self) -> Self:
        try:
            with faults_named(self._output):
                self._pieces = self._folder.open()
        except BaseException:
            self._folder.close(remove=False)
            raise
        if self._pieces:
            self._last_pts = int(self._pieces[-1].survey.pts.max())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._open_piece is not None:
            self._open_piece.give_up()
            self._open_piece = None
        stopped = kind is not None and issubclass(kind, Cancelled | KeyboardInterrupt)
        self._folder.close(remove=stopped or not self._pieces)

    def write_picture(self, frame: VideoFrame, *, pts: int, duration: int) -> None:
        """Append picture number `next_picture` and on: it appears at `pts` and stays `duration` ticks (> 0)."""
        if self._last_pts is not None and pts <= self._last_pts:
            raise ValueError(f"picture at {pts} after one at {self._last_pts}: go on from picture {self.next_picture}")
        with faults_named(self._output, kept=self._kept):
            piece = self._open_piece
            if piece is not None and pts - piece.first_pts >= self._segment_ticks:
                self._end_piece()
                piece = None
            if piece is None:
                path = self._folder.undone(len(self._pieces))
                piece = self._open_piece = _OpenPiece(path, self._picture, self._settings, first_pts=pts)
            piece.write(frame, pts=pts, duration=duration)
        self._last_pts = pts

    def finish(self, extras: FilmExtras | None = None, *, progress: Progress = silent) -> None:
        """Join the pictures with the sound, captions and chapters of `extras`; the film appears whole, or not at all.

        ValueError when there is no picture.
        """
        with faults_named(self._output, kept=self._kept):
            if self._open_piece is not None:
                self._end_piece()
            if not self._pieces:
                raise ValueError("a film needs a picture")
            join_film(
                self._output,
                self._pieces,
                picture=self._picture,
                settings=self._settings,
                extras=extras or FilmExtras(),
                overwrite=self._overwrite,
                progress=progress,
            )
        self._pieces = []  # so that leaving the block removes the folder

    def _end_piece(self) -> None:
        if self._open_piece is not None:
            self._open_piece.finish()
            self._open_piece = None
            self._pieces.append(self._folder.finish(len(self._pieces)))


class _OpenPiece:
    """A piece that is being written, by an encoder of its own."""

    def __init__(self, path: Path, picture: PictureShape, settings: EncoderSettings, *, first_pts: int) -> None:
        self.first_pts = first_pts
        self._path = path
        context = av.CodecContext.create(settings.codec, "w")
        if not isinstance(context, av.VideoCodecContext):
            raise TypeError(f"{settings.codec} is no picture encoder")
        set_up(context, picture, settings)
        context.flags |= Flags.global_header  # the parameter sets go into the film's header
        context.open()
        self._encoder = PictureEncoder(context, picture)
        self._file = PacketFile(path, context.extradata or b"")

    def write(self, frame: VideoFrame, *, pts: int, duration: int) -> None:
        self._add(self._encoder.packets(frame, pts=pts, duration=duration))

    def finish(self) -> None:
        self._add(self._encoder.rest())
        self._file.finish()

    def give_up(self) -> None:
        with contextlib.suppress(OSError):
            self._file.close()
        with contextlib.suppress(OSError):
            self._path.unlink(missing_ok=True)

    def _add(self, packets: list[Packet[VideoStream]]) -> None:
        for packet in packets:
            self._file.add(packet)


def _identity(digest: str, picture: PictureShape, settings: EncoderSettings, segment_s: Fraction) -> str:
    """What decides a piece's bytes: the caller's digest, how it is coded, by which encoder and on how many cores."""
    encoder = (av.__version__, sorted(av.library_versions.items()), os.cpu_count())
    return hashlib.sha256(repr((digest, picture, settings, segment_s, encoder)).encode()).hexdigest()
