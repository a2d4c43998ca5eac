"""A recording: what it is, what it holds, and the times of all its frames."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import av
from av.stream import Disposition

from syncview.errors import MediaError, describe_os_error
from syncview.media.colour_tags import ColourTags
from syncview.media.frame_index import FrameIndex
from syncview.media.frame_steps import rate_of
from syncview.media.indexing import build_index
from syncview.media.opening import audio_stream, open_container
from syncview.media.turning import Turn, turn_of
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream


@dataclass(frozen=True, slots=True)
class AudioTrack:
    """The sound that belongs to the picture."""

    stream_index: int
    codec: str
    rate_hz: int
    channels: int
    start_s: float
    """Media time of the first sample: negative when sound comes before the first presented frame."""


@dataclass(frozen=True, eq=False, slots=True)
class Recording:
    """A video file, indexed; nothing stays open."""

    path: Path
    format_name: str
    """FFmpeg's name of the container format."""
    size_bytes: int
    stream_index: int
    """Which of the file's streams is the picture."""
    codec: str
    width: int
    """Pixels per row as coded, before turning."""
    height: int
    display_width: int
    """Pixels per row as seen: turned upright and with square pixels."""
    display_height: int
    sample_aspect: Fraction
    """Width over height of one coded pixel."""
    turn: Turn
    """How to turn the coded picture upright."""
    pixel_format: str
    colour: ColourTags
    frames: FrameIndex
    audio: AudioTrack | None
    is_variable_rate: bool
    """True when frame steps differ by more than the rounding of the stamps."""
    nominal_rate: Fraction
    """Frames a second by the most common frame step."""
    tags: Mapping[str, str]
    """The container's own text tags, such as creation_time."""
    notes: tuple[str, ...]
    """What a person should know about this file, each a sentence."""

    @property
    def rotation_deg(self) -> int:
        """Clockwise turn that makes the coded picture upright: 0, 90, 180 or 270."""
        return self.turn.clockwise_deg

    @property
    def duration_s(self) -> float:
        """Media time from the first frame's appearance to the last one's end."""
        return float(self.frames.end_s)

    @property
    def container_start_s(self) -> float:
        """The container's own stamp of the first presented frame."""
        return float(self.frames.start_pts * self.frames.time_base)


@dataclass(frozen=True, slots=True)
class _StreamFacts:
    """What the container says before anything is decoded."""

    format_name: str
    stream_index: int
    codec: str
    sample_aspect: Fraction
    stated_rates: tuple[Fraction, ...]
    stated_end_s: Fraction | None
    """End of the picture on the container's clock, as its header claims."""
    audio_index: int | None
    tags: dict[str, str]


def open_recording(path: Path, *, progress: Progress = silent) -> Recording:
    """Index the video file at `path`.

    Reads the whole file once, about a second per 100 000 frames when it is in memory. Raises MediaError when the
    file is missing, is no video, is cut short so that it cannot be read, or presents no frame; Cancelled when
    `progress` says so.
    """
    size_bytes = _file_size(path)
    with open_container(path) as container:
        facts = _stream_facts(container, _picture_stream(container, path))
    index, first = build_index(path, facts.stream_index, size_bytes=size_bytes, progress=progress)
    rate = rate_of(index, stated_rates=facts.stated_rates)
    turn = turn_of(first)
    upright_width, upright_height = turn.size(first.width, first.height)
    return Recording(
        path=path,
        format_name=facts.format_name,
        size_bytes=size_bytes,
        stream_index=facts.stream_index,
        codec=facts.codec,
        width=first.width,
        height=first.height,
        display_width=round(upright_width * turn.aspect(facts.sample_aspect)),
        display_height=upright_height,
        sample_aspect=facts.sample_aspect,
        turn=turn,
        pixel_format=first.format.name,
        colour=_colour_of(first),
        frames=index,
        audio=None if facts.audio_index is None else _audio_track(path, facts.audio_index, index),
        is_variable_rate=rate.is_variable,
        nominal_rate=rate.nominal,
        tags=facts.tags,
        notes=_notes(index, facts),
    )


def _file_size(path: Path) -> int:
    try:
        if path.is_dir():
            raise MediaError("this is a folder", "Give the video file inside it.", where=path)
        return path.stat().st_size
    except FileNotFoundError:
        raise MediaError("there is no such file", "Check the name and the folder.", where=path) from None
    except OSError as error:
        raise MediaError(describe_os_error(error), "Check that the file may be read.", where=path) from None


def _picture_stream(container: InputContainer, path: Path) -> VideoStream:
    """The moving picture, not the cover art that some files carry."""
    stills = Disposition.attached_pic | Disposition.timed_thumbnails | Disposition.still_image
    moving = [stream for stream in container.streams.video if not stream.disposition & stills]
    if not moving:
        raise MediaError("the file holds no moving picture", "Give the onboard recording itself.", where=path)
    if moving[0].codec_context is None:
        raise MediaError(
            "the picture is coded in a way that cannot be read here", "Convert the file to H.264.", where=path
        )
    best = container.streams.best("video")
    return next((stream for stream in moving if best is not None and stream.index == best.index), moving[0])


def _stream_facts(container: InputContainer, stream: VideoStream) -> _StreamFacts:
    sound = container.streams.best("audio", related=stream)
    rates = (stream.guessed_rate, stream.average_rate, stream.base_rate)
    base = stream.time_base
    end = None
    if stream.duration is not None and base is not None:
        end = ((stream.start_time or 0) + stream.duration) * base
    return _StreamFacts(
        format_name=container.format.name,
        stream_index=stream.index,
        codec=stream.codec_context.name,
        sample_aspect=stream.sample_aspect_ratio or Fraction(1),
        stated_rates=tuple(rate for rate in rates if rate),
        stated_end_s=end,
        audio_index=None if sound is None or sound.codec_context is None else sound.index,
        tags={**container.metadata, **stream.metadata},
    )


def _colour_of(frame: VideoFrame) -> ColourTags:
    return ColourTags(
        matrix_code=frame.colorspace,
        range_code=frame.color_range,
        primaries_code=frame.color_primaries,
        transfer_code=frame.color_trc,
    )


def _audio_track(path: Path, audio_index: int, index: FrameIndex) -> AudioTrack | None:
    """The audio stream with the time of its first decoded sample; None when none of it can be decoded."""
    picture_start_s = index.start_pts * index.time_base
    with open_container(path) as container:
        stream = audio_stream(container, audio_index)
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.FFmpegError:
                continue
            for frame in frames:
                if frame.pts is None or frame.time_base is None:
                    continue
                return AudioTrack(
                    stream_index=audio_index,
                    codec=stream.codec_context.name,
                    rate_hz=frame.sample_rate,
                    channels=frame.layout.nb_channels,
                    start_s=float(frame.pts * frame.time_base - picture_start_s),
                )
    return None


def _notes(index: FrameIndex, facts: _StreamFacts) -> tuple[str, ...]:
    notes = []
    end_s = index.end_s + index.start_pts * index.time_base
    if facts.stated_end_s is not None and facts.stated_end_s - end_s > 1:
        notes.append(
            f"The file says that its picture lasts until {float(facts.stated_end_s):.1f} s "
            f"but its frames end at {float(end_s):.1f} s: it may be cut short."
        )
    if index.repeated_stamps:
        notes.append(f"{index.repeated_stamps} frames share the stamp of the next one and are never on screen.")
    return tuple(notes)
