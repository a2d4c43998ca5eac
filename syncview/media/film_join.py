"""Joins finished pieces of a film's picture by copying, and adds sound, captions and chapters."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.errors import OutputError
from syncview.media.caption_stream import CaptionStream, CaptionTrack
from syncview.media.encoders import EncoderSettings, PictureShape, add_picture_stream
from syncview.media.film_output import ChapterMark, let_go, open_film
from syncview.media.film_sound_stream import SoundShape, SoundStream
from syncview.media.packet_file import read_packets
from syncview.output_file import part_beside, place

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from av.container import OutputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.video.stream import VideoStream
    from numpy.typing import NDArray

    from syncview.media.parts_folder import Piece
    from syncview.progress import Progress

_AHEAD_S = Fraction(1, 2)
"""Sound and captions are written this far ahead of the picture, so that the muxer need not hold pictures back."""


@dataclass(frozen=True, slots=True)
class FilmSound:
    """The sound of a film, read once."""

    shape: SoundShape
    blocks: Iterable[NDArray[np.float32]]
    """Samples, shape (channels, n), full scale 1, one after the other from film time 0."""


@dataclass(frozen=True, slots=True)
class FilmExtras:
    """What a film has besides pictures."""

    sound: FilmSound | None = None
    chapters: Sequence[ChapterMark] = ()
    captions: Sequence[CaptionTrack] = ()
    title: str | None = None


def decode_stamps(pts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Strictly ascending decoding stamps, none after its picture's own, for stamps in decoding order, shape (n,).

    Each is the stamp of the picture as many places earlier in the order of showing as any picture comes too early in
    the order of decoding. The first few lie before the first picture, as far as the pictures that they stand for.
    """
    shown = np.sort(pts)
    delay = int(np.max(np.arange(len(pts)) - np.searchsorted(shown, pts)))
    lead = shown[:delay] - shown[delay] + shown[0]
    return np.concatenate([lead, shown[: len(pts) - delay]])


def join_film(
    output: Path,
    pieces: Sequence[Piece],
    *,
    picture: PictureShape,
    settings: EncoderSettings,
    extras: FilmExtras,
    overwrite: bool,
    progress: Progress,
) -> None:
    """Write the film whole or not at all; the muxer's and the system's faults pass as they are."""
    part = part_beside(output)
    container: OutputContainer | None = None
    try:
        container = open_film(part, chapters=extras.chapters, title=extras.title)
        video = add_picture_stream(container, picture, settings, output)
        beside = _Beside(container, output, extras, settings)
        container.start_encoding()
        _refuse_other_encoder(pieces, video.codec_context.extradata, output)
        count = sum(len(piece.survey.pts) for piece in pieces)
        for number, (pts, packet) in enumerate(_packets(pieces, picture, video), 1):
            beside.write(pts * picture.time_base + _AHEAD_S)
            container.mux(packet)
            if number % 100 == 0:
                progress(number / count, "joining the film")
        beside.write(None)
        container.close()
        container = None
        progress(1.0, "joining the film")  # the last moment at which it can be stopped
        place(part, output, overwrite=overwrite)
    finally:
        let_go(container)
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


class _Beside:
    """Sound and captions, written in step with the picture."""

    def __init__(self, container: OutputContainer, output: Path, extras: FilmExtras, settings: EncoderSettings) -> None:
        self._sound: SoundStream | None = None
        self._blocks: Iterator[NDArray[np.float32]] = iter(())
        if extras.sound is not None:
            self._sound = SoundStream(container, extras.sound.shape, bit_rate=settings.audio_bit_rate)
            self._blocks = iter(extras.sound.blocks)
        self._captions = [CaptionStream(container, output, track) for track in extras.captions]

    def write(self, until_s: Fraction | None) -> None:
        """Write what comes before `until_s` of film time; None writes the rest and ends the sound."""
        for captions in self._captions:
            captions.write(until_s)
        if self._sound is None:
            return
        while until_s is None or self._sound.written_s < until_s:
            block = next(self._blocks, None)
            if block is None:
                break
            self._sound.write(block)
        if until_s is None:
            self._sound.finish()


def _packets(
    pieces: Sequence[Piece], picture: PictureShape, video: VideoStream
) -> Iterator[tuple[int, Packet[Stream]]]:
    dts = decode_stamps(np.concatenate([piece.survey.pts for piece in pieces])).tolist()
    number = 0
    for piece in pieces:
        for stored in read_packets(piece.path):
            packet = av.Packet(stored.data)
            packet.stream = video
            packet.time_base = picture.time_base
            packet.pts, packet.dts, packet.duration = stored.pts, dts[number], stored.duration
            packet.is_keyframe = stored.is_key
            yield stored.pts, packet
            number += 1


def _refuse_other_encoder(pieces: Sequence[Piece], parameter_sets: bytes | None, output: Path) -> None:
    """One film has one header: pictures of an encoder that was set up otherwise could not be decoded."""
    if any(piece.survey.parameter_sets != (parameter_sets or b"") for piece in pieces):
        raise OutputError(
            "the pieces of its picture were made by different encoders",
            f"Remove the folder {pieces[0].path.parent.name} beside it and render again.",
            where=output,
        )
