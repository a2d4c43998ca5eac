"""How pictures are coded: three qualities over three encoders, each with what it takes and how it is set up."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol

import av
from av.codec.context import Flags

from syncview.errors import OutputError
from syncview.media.film_output import is_matroska
from syncview.media.planes import plane_rows

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from av.container import OutputContainer
    from av.packet import Packet
    from av.video.codeccontext import VideoCodecContext
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

    from syncview.media.colour_tags import ColourTags


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
class EncoderSettings:
    """How the picture and the sound are coded."""

    codec: str = "libx264"
    """FFmpeg's name of the encoder, one of `ENCODERS`."""
    preset: str = "veryfast"
    """The encoder's trade of time against size, in its own words."""
    crf: int = 20
    """Constant quality on the encoder's own scale: lower is better and larger. The scales differ: see `SETTINGS`."""
    key_frame_step_s: float = 2.0
    """Longest time between key frames, so that a viewer jumps to a corner at once."""
    audio_bit_rate: int = 192_000


@dataclass(frozen=True, slots=True)
class Encoder:
    """One way of coding pictures."""

    codec: str
    """FFmpeg's name of the encoder."""
    coding: str
    """The word for it in options and documents."""
    shown: str
    """Its name in sentences."""
    pixel_formats: tuple[str, ...]
    """What it takes as it is, of the formats that pictures are worked on in (`planes.LAYOUTS`)."""
    options: Mapping[str, str]
    """Set besides preset and quality."""
    mp4_tag: str | None = None
    """Four letters for the sample entry in MP4 and MOV, where the muxer's own choice is not played everywhere."""


_PLANAR = ("yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p")
_PLANAR_10 = ("yuv420p10le", "yuv422p10le", "yuv444p10le")
ENCODERS: tuple[Encoder, ...] = (
    Encoder("libx264", "h264", "H.264", (*_PLANAR, "nv12", *_PLANAR_10), {}),
    # hvc1 keeps the parameter sets out of the samples; phones do not play the muxer's default, hev1.
    Encoder("libx265", "h265", "H.265", (*_PLANAR, *_PLANAR_10), {"x265-params": "log-level=error"}, mp4_tag="hvc1"),
    Encoder("libsvtav1", "av1", "AV1", ("yuv420p", "yuv420p10le"), {}),
)
"""The first is what every player plays; the others make smaller files and ask for newer players."""

CODINGS = tuple(encoder.coding for encoder in ENCODERS)
QUALITIES = ("draft", "web", "archive")
"""draft: for looking the lesson over; web: for sending to drivers; archive: for cutting again later."""

DRAFT = EncoderSettings(preset="ultrafast", crf=26, audio_bit_rate=128_000)
WEB = EncoderSettings(preset="veryfast", crf=20)
ARCHIVE = EncoderSettings(preset="medium", crf=16, key_frame_step_s=1.0, audio_bit_rate=256_000)
SETTINGS: dict[tuple[str, str], EncoderSettings] = {
    ("draft", "h264"): DRAFT,
    ("web", "h264"): WEB,
    ("archive", "h264"): ARCHIVE,
    ("draft", "h265"): replace(DRAFT, codec="libx265", preset="ultrafast", crf=28),
    ("web", "h265"): replace(WEB, codec="libx265", preset="veryfast", crf=21),
    ("archive", "h265"): replace(ARCHIVE, codec="libx265", preset="medium", crf=18),
    ("draft", "av1"): replace(DRAFT, codec="libsvtav1", preset="10", crf=40),
    ("web", "av1"): replace(WEB, codec="libsvtav1", preset="8", crf=30),
    ("archive", "av1"): replace(ARCHIVE, codec="libsvtav1", preset="6", crf=22),
}
"""By quality and coding. The encoders' scales differ; these were matched by the SSIM of luma.

Measured on a second of noisy 1280x720 at 60 frames/s (the road of tests/bench/render.py), as SSIM, Mbit/s and frames
per second of processor time on one machine, in the order h264, h265, av1:
draft .937 8.8 235, .928 2.3 31, .945 3.2 88; web .966 9.5 42, .964 7.3 9, .970 7.6 46;
archive .975 18.0 13, .974 10.6 5, .977 11.8 25. Which SSIM is good enough is common practice, no source.
"""


def settings_for(quality: str, coding: str = "h264") -> EncoderSettings:
    """The settings of a quality in a coding; ValueError for words outside `QUALITIES` and `CODINGS`."""
    found = SETTINGS.get((quality, coding))
    if found is None:
        raise ValueError(f"no settings for {quality} in {coding}: have {QUALITIES} in {CODINGS}")
    return found


def encoder_of(settings: EncoderSettings) -> Encoder:
    """The registry's row; ValueError for an encoder that has none."""
    for encoder in ENCODERS:
        if encoder.codec == settings.codec:
            return encoder
    raise ValueError(f"{settings.codec} is none of {[encoder.codec for encoder in ENCODERS]}")


def fitted(shape: PictureShape, settings: EncoderSettings) -> tuple[PictureShape, tuple[str, ...]]:
    """The shape in the nearest pixel format that the encoder takes, and what is lost thereby, each a sentence.

    Depth and range are kept. Give pictures of the old format to the writer all the same: it converts them.
    """
    encoder = encoder_of(settings)
    wanted = shape.pixel_format
    if wanted in encoder.pixel_formats:
        return shape, ()
    ten = "10" in wanted
    taken = "yuv420p10le" if ten else "yuv420p"
    if wanted.startswith("yuvj"):
        shape = replace(shape, colour=replace(shape.colour, range_code=2))
    halved = not any(word in wanted for word in ("420", "nv12"))
    lost = f"{encoder.shown} here takes 4:2:0 only, so the colour's resolution was halved ({wanted} to {taken})."
    return replace(shape, pixel_format=taken), (lost,) if halved else ()


def set_up(context: VideoCodecContext, shape: PictureShape, settings: EncoderSettings) -> None:
    """Prepare an encoder's context that is not open yet; ValueError for a format that it does not take."""
    encoder = encoder_of(settings)
    if shape.pixel_format not in encoder.pixel_formats:
        raise ValueError(f"{encoder.codec} does not take {shape.pixel_format}: see `fitted`")
    if encoder.codec == "libsvtav1":
        os.environ.setdefault("SVT_LOG", "1")  # its only switch: errors, not a page of settings for every film
    context.width, context.height, context.pix_fmt = shape.width, shape.height, shape.pixel_format
    context.time_base, context.framerate = shape.time_base, shape.nominal_rate
    context.gop_size = max(1, round(settings.key_frame_step_s * shape.nominal_rate))
    context.sample_aspect_ratio = shape.sample_aspect
    context.colorspace, context.color_range = shape.colour.matrix_code, shape.colour.range_code
    context.color_primaries, context.color_trc = shape.colour.primaries_code, shape.colour.transfer_code
    # Closed groups: every key frame is a place to begin, to cut at and to join at.
    context.flags |= Flags.frame_duration | Flags.closed_gop
    context.options = {"preset": settings.preset, "crf": str(settings.crf), **encoder.options}
    context.thread_count = 0
    context.thread_type = "AUTO"  # PyAV's default asks x264 for slices, which cost quality


def add_picture_stream(
    container: OutputContainer, shape: PictureShape, settings: EncoderSettings, output: Path
) -> VideoStream:
    """The picture's stream, its encoder set up, in a container for `output` that is not started yet."""
    stream = container.add_stream(settings.codec, rate=shape.nominal_rate)
    if not isinstance(stream, av.VideoStream):
        raise TypeError(f"{settings.codec} is no picture encoder")
    set_up(stream.codec_context, shape, settings)
    stream.time_base = shape.time_base
    if settings.codec == "libsvtav1" and is_matroska(output) and shape.sample_aspect != 1:
        # AV1 itself carries no aspect, and PyAV cannot give it to Matroska's header: the film would be seen squeezed.
        raise OutputError("AV1 in Matroska cannot have pixels that are not square here", "Write MP4.", where=output)
    tag = encoder_of(settings).mp4_tag
    if tag is not None and not is_matroska(output):
        stream.codec_context.codec_tag = tag
    return stream


def as_taken(frame: VideoFrame, pixel_format: str) -> VideoFrame:
    """The frame in `pixel_format`, its range kept; itself where nothing is to be done."""
    if frame.format.name == pixel_format:
        return frame
    if frame.format.name.replace("yuvj", "yuv") == pixel_format:
        return _relabelled(frame, pixel_format)
    return frame.reformat(format=pixel_format)


def _relabelled(frame: VideoFrame, pixel_format: str) -> VideoFrame:
    """The same samples under the format's newer name: converting would squeeze full range into limited."""
    made = av.VideoFrame(frame.width, frame.height, pixel_format)
    for view, plane in zip(plane_rows(made), plane_rows(frame), strict=True):
        view[...] = plane
    made.colorspace, made.color_range = frame.colorspace, 2
    made.color_primaries, made.color_trc = frame.color_primaries, frame.color_trc
    return made


class Takes(Protocol):
    """What encodes frames: a stream of a container, or an encoder's context alone."""

    def encode(self, frame: VideoFrame | None = None) -> list[Packet[VideoStream]]: ...  # noqa: D102


class PictureEncoder:
    """Gives pictures to an encoder and gets packets that know how long they stay on screen."""

    def __init__(self, encoder: Takes, shape: PictureShape) -> None:
        self._encoder = encoder
        self._shape = shape
        self._durations: dict[int, int] = {}

    def packets(self, frame: VideoFrame, *, pts: int, duration: int) -> list[Packet[VideoStream]]:
        """Encode a picture that appears at `pts` and stays `duration` ticks."""
        frame = as_taken(frame, self._shape.pixel_format)
        frame.pts, frame.duration = pts, duration
        frame.time_base = self._shape.time_base
        frame.pict_type = 0  # the encoder chooses; a decoded key frame would force one
        self._durations[pts] = duration
        return self._timed(self._encoder.encode(frame))

    def rest(self) -> list[Packet[VideoStream]]:
        """End the encoder and get what it still holds."""
        return self._timed(self._encoder.encode(None))

    def _timed(self, packets: list[Packet[VideoStream]]) -> list[Packet[VideoStream]]:
        for packet in packets:
            # SVT-AV1 says nothing of durations and x265 guesses; the last one cannot be told from the next stamp.
            duration = self._durations.pop(packet.pts, None) if packet.pts is not None else None
            if duration is not None:
                packet.duration = duration
        return packets
