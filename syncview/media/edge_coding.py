"""Codes the edges of a clip so that its copied middle fits between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import av
from av.codec.context import Flags

from syncview.errors import MediaError
from syncview.media.avc_sets import AvcRecord, units_after_start_codes, with_lengths
from syncview.media.encoders import EncoderSettings, PictureEncoder, PictureShape, set_up
from syncview.media.reading import FrameReader
from syncview.progress import Progress

if TYPE_CHECKING:
    from syncview.media.recording import Recording

PROFILES = {66: "baseline", 77: "main", 100: "high", 110: "high10", 122: "high422"}
"""profile_idc of ITU-T H.264, A.2, as x264 calls them."""
_SETTINGS = EncoderSettings(preset="medium", crf=16)
"""Few pictures, so that they may be large: the edges should look like the middle."""


@dataclass(frozen=True, slots=True)
class EdgePacket:
    """A coded picture of an edge; stamps in the recording's ticks."""

    pts: int
    duration: int
    is_key: bool
    data: bytes


class EdgeCoder:
    """Codes frames of a recording with parameter sets of their own, beside the recording's in one record."""

    def __init__(self, recording: Recording, record: AvcRecord, *, taken_numbers: set[int]) -> None:
        """`taken_numbers` are those of the recording's parameter sets; ValueError when none is left."""
        self._recording = recording
        self._length_size = record.length_size
        free = next((number for number in range(32) if number not in taken_numbers), None)
        if free is None:
            raise ValueError("no number is left for parameter sets")
        self._options = {
            "profile": PROFILES[record.profile],
            "level": f"{record.level // 10}.{record.level % 10}",
            "bf": "0",  # the order of decoding is that of showing, so nothing reaches across the joints
            "x264-params": f"sps-id={free}",
        }
        sets = units_after_start_codes(self._context().extradata or b"")
        self.record = record.with_sets(sets)
        """The decoder's record for both kinds of pictures."""

    def coded(self, begin: int, end: int, progress: Progress) -> list[EdgePacket]:
        """Frames begin <= number < end of the recording, coded; MediaError when one of them is damaged."""
        if begin >= end:
            return []
        index = self._recording.frames
        encoder = PictureEncoder(self._context(), self._shape())
        packets = []
        with FrameReader(self._recording) as reader:
            for number, frame in reader.frames(begin, end):
                stamps = {"pts": int(index.pts[number]), "duration": int(index.duration[number])}
                packets += encoder.packets(frame, **stamps)
                progress((number - begin) / (end - begin), "coding the clip's edges")
            if reader.missing:
                raise MediaError(
                    f"the frame at {float(index.media_s(reader.missing[0])):.3f} s cannot be decoded",
                    "Begin and end the clip elsewhere.",
                    where=self._recording.path,
                )
        packets += encoder.rest()
        return [
            EdgePacket(
                pts=packet.pts or 0,
                duration=packet.duration or 0,
                is_key=packet.is_keyframe,
                data=with_lengths(units_after_start_codes(bytes(packet)), self._length_size),
            )
            for packet in packets
        ]

    def _context(self) -> av.VideoCodecContext:
        context = av.CodecContext.create(_SETTINGS.codec, "w")
        if not isinstance(context, av.VideoCodecContext):
            raise TypeError("x264 is no picture encoder")
        set_up(context, self._shape(), _SETTINGS)
        context.options = {**context.options, **self._options}
        context.flags |= Flags.global_header
        context.open()
        return context

    def _shape(self) -> PictureShape:
        recording = self._recording
        return PictureShape(
            width=recording.width,
            height=recording.height,
            pixel_format=recording.pixel_format,
            time_base=recording.frames.time_base,
            nominal_rate=recording.nominal_rate,
            colour=recording.colour,
            sample_aspect=recording.sample_aspect,
        )
