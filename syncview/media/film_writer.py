"""Writes a film file completely or not at all."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol, Self

import av
import numpy as np

from syncview.errors import OutputError, describe_os_error
from syncview.output_file import part_beside, place, refuse_bad_target, remedy_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path
    from types import TracebackType

    from av.audio.stream import AudioStream
    from av.container import OutputContainer
    from av.container.core import Chapter as ContainerChapter
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream
    from numpy.typing import NDArray

    from syncview.media.colour_tags import ColourTags

SUFFIXES = (".mp4", ".m4v", ".mov", ".mkv")
"""File names that a film may have; each holds H.264, AAC and chapters."""
_AAC_RATES_HZ = (96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350)
"""ISO/IEC 14496-3, table of sampling frequencies."""


class ChapterMark(Protocol):
    """A chapter by time in the film; `syncview_codecs.chapters.chapter.Chapter` is one."""

    @property
    def start_ms(self) -> int: ...  # noqa: D102
    @property
    def end_ms(self) -> int: ...  # noqa: D102
    @property
    def title(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class EncoderSettings:
    """How the picture and the sound are coded."""

    codec: str = "libx264"
    preset: str = "veryfast"
    """The encoder's trade of time against size."""
    crf: int = 20
    """Constant quality of x264: lower is better and larger; 18 is near transparent (common practice, no source)."""
    key_frame_step_s: float = 2.0
    """Longest time between key frames, so that a viewer jumps to a corner at once."""
    audio_bit_rate: int = 192_000


DRAFT = EncoderSettings(preset="ultrafast", crf=26, audio_bit_rate=128_000)
"""For looking the lesson over."""
WEB = EncoderSettings(preset="veryfast", crf=20)
"""For sending to drivers."""


@dataclass(frozen=True, slots=True)
class PictureShape:
    """What every picture of a film has in common."""

    width: int
    height: int
    pixel_format: str
    time_base: Fraction
    """Seconds per tick of the stamps given to `write_picture`."""
    nominal_rate: Fraction
    colour: ColourTags
    sample_aspect: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class SoundShape:
    """What the sound blocks of a film have in common."""

    rate_hz: int
    channels: int


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
        title: str | None = None,
        sources: Sequence[Path] = (),
        overwrite: bool = False,
    ) -> None:
        _refuse_bad_suffix(output)
        refuse_bad_target(output, overwrite=overwrite, sources=sources)
        self._output = output
        self._overwrite = overwrite
        self._part = part_beside(output)
        self._picture = picture
        self._sound = sound
        self._settings = settings
        self._chapters = tuple(chapters)
        self._title = title
        self._container: OutputContainer | None = None
        self._sound_samples = 0

    def __enter__(self) -> Self:
        try:
            with self._faults_named():
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
            with self._faults_named():
                self._finish()
        except BaseException:
            self._discard()
            raise

    def write_picture(self, frame: VideoFrame, *, pts: int, duration: int) -> None:
        """Append a picture that appears at `pts` and stays `duration` ticks; stamps must ascend from 0."""
        frame.pts, frame.duration = pts, duration
        frame.time_base = self._picture.time_base
        frame.pict_type = 0  # the encoder chooses; a decoded key frame would force one
        with self._faults_named():
            self._opened.mux(self._video.encode(frame))

    def write_sound(self, block: NDArray[np.float32]) -> None:
        """Append samples, shape (channels, n), full scale 1; the first sample of all sounds at time 0."""
        if self._sound is None:
            raise ValueError("this film was opened without sound")
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(block, dtype=np.float32), format="fltp", layout=self._audio.layout.name
        )
        frame.sample_rate = self._sound.rate_hz
        frame.time_base = Fraction(1, self._sound.rate_hz)
        frame.pts = self._sound_samples
        self._sound_samples += block.shape[1]
        with self._faults_named():
            self._opened.mux(self._audio.encode(frame))

    @property
    def _opened(self) -> OutputContainer:
        if self._container is None:
            raise ValueError("the film is not open: use FilmWriter in a with statement")
        return self._container

    def _open(self) -> None:
        # Created here first, because the muxer's own message for an unwritable folder names no reason.
        with self._part.open("wb"):
            pass
        is_iso = self._output.suffix.lower() != ".mkv"
        self._container = av.open(str(self._part), mode="w", options={"movflags": "+faststart"} if is_iso else {})
        self._video = self._add_video(self._container)
        if self._sound is not None:
            self._audio = self._add_audio(self._container, self._sound)
        if self._chapters:
            self._container.set_chapters([_chapter(number, mark) for number, mark in enumerate(self._chapters, 1)])
        if self._title:
            self._container.metadata["title"] = self._title
        self._container.start_encoding()

    def _add_video(self, container: OutputContainer) -> VideoStream:
        shape, settings = self._picture, self._settings
        step = max(1, round(settings.key_frame_step_s * shape.nominal_rate))
        options = {"preset": settings.preset, "crf": str(settings.crf)}
        stream = container.add_stream(settings.codec, rate=shape.nominal_rate, options=options)
        if not isinstance(stream, av.VideoStream):
            raise TypeError(f"{settings.codec} is no picture encoder")
        codec = stream.codec_context
        codec.width, codec.height, codec.pix_fmt = shape.width, shape.height, shape.pixel_format
        codec.time_base = shape.time_base
        stream.time_base = shape.time_base
        codec.gop_size = step
        codec.sample_aspect_ratio = shape.sample_aspect
        codec.colorspace, codec.color_range = shape.colour.matrix_code, shape.colour.range_code
        codec.color_primaries, codec.color_trc = shape.colour.primaries_code, shape.colour.transfer_code
        codec.flags |= av.codec.context.Flags.frame_duration
        codec.thread_count = 0
        codec.thread_type = "AUTO"  # PyAV's default asks x264 for slices, which cost quality
        return stream

    def _add_audio(self, container: OutputContainer, sound: SoundShape) -> AudioStream:
        layout = {1: "mono", 2: "stereo"}.get(sound.channels)
        if layout is None:
            raise ValueError(f"{sound.channels} channels: mix down to one or two first")
        # PyAV resamples on the way into the encoder where the recording's rate is none of AAC's.
        rate_hz = sound.rate_hz if sound.rate_hz in _AAC_RATES_HZ else 48_000
        stream = container.add_stream("aac", rate=rate_hz)
        stream.codec_context.layout = layout
        stream.codec_context.bit_rate = self._settings.audio_bit_rate
        return stream

    def _finish(self) -> None:
        container = self._opened
        container.mux(self._video.encode(None))
        if self._sound is not None:
            container.mux(self._audio.encode(None))
        container.close()
        self._container = None
        place(self._part, self._output, overwrite=self._overwrite)

    def _discard(self) -> None:
        if self._container is not None:
            with contextlib.suppress(av.FFmpegError, OSError):
                self._container.close()
            self._container = None
        with contextlib.suppress(OSError):
            self._part.unlink(missing_ok=True)

    @contextlib.contextmanager
    def _faults_named(self) -> Iterator[None]:
        """Turn FFmpeg's and the system's faults into one sentence."""
        try:
            yield
        except (OSError, av.FFmpegError) as error:
            # FFmpeg's own errors carry the system's number where there is one, but are not always OSError.
            fault = error if isinstance(error, OSError) else None
            problem = describe_os_error(fault) if fault is not None else f"the encoder refused the film ({error})"
            raise OutputError(problem, remedy_for(getattr(error, "errno", None)), where=self._output) from error


def _chapter(number: int, mark: ChapterMark) -> ContainerChapter:
    return {
        "id": number,
        "start": mark.start_ms,
        "end": mark.end_ms,
        "time_base": Fraction(1, 1000),
        "metadata": {"title": mark.title},
    }


def _refuse_bad_suffix(output: Path) -> None:
    if output.suffix.lower() not in SUFFIXES:
        raise OutputError(
            f"a film cannot be a {output.suffix or 'nameless'} file", f"Use one of {', '.join(SUFFIXES)}.", where=output
        )
