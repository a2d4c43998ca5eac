"""Which packets of a recording a copy of a span needs, in the order of the file."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from av.container import InputContainer
    from av.packet import Packet
    from av.stream import Stream

    from syncview.media.recording import Recording

_SEEK_EARLY_S = Fraction(1, 5)
"""Seek this much before the key frame: some containers store the sound that belongs to it before it."""


@dataclass(frozen=True, slots=True)
class SpanPick:
    """A span of frames in the recording's own ticks."""

    begin: int
    """Number of the first frame to be seen."""
    end: int
    """Number of the frame after the last one to be seen."""
    key_pts: int | None
    """Stamp of the key frame that decoding begins at; None: only a hidden one at the start of the file serves."""
    begin_pts: int
    end_pts: int | None
    """Stamp of the frame `end`; None when the span goes to the end of the recording."""


def pick_span(recording: Recording, begin_s: Fraction | float, end_s: Fraction | float) -> SpanPick:
    """The frames with begin_s <= media_s < end_s and their key frame; MediaError when there is none."""
    index = recording.frames
    begin, end = index.first_from(begin_s), index.first_from(end_s)
    if begin >= end:
        raise MediaError(
            f"no frame lies between {float(begin_s):.3f} s and {float(end_s):.3f} s",
            f"Choose a part of its {recording.duration_s:.3f} s.",
            where=recording.path,
        )
    key = index.key_before(begin)
    return SpanPick(
        begin=begin,
        end=end,
        key_pts=None if key is None else int(index.pts[key]),
        begin_pts=int(index.pts[begin]),
        end_pts=int(index.pts[end]) if end < len(index) else None,
    )


def picked_packets(
    source: InputContainer, recording: Recording, pick: SpanPick, *, pictures: bool = True, sound: bool = True
) -> Iterator[Packet[Stream]]:
    """Packets of picture and sound with stamps as in the file and decoding stamps made whole.

    `source` must be freshly opened.

    Pictures run from the key frame to the last one that any picture of the span needs; sound covers the same time.
    """
    video = source.streams[recording.stream_index]
    sound_index = recording.audio.stream_index if sound and recording.audio is not None else None
    wanted = [
        stream
        for stream in source.streams
        if stream.index == sound_index or (pictures and stream.index == recording.stream_index)
    ]
    index = recording.frames
    first_pts = pick.begin_pts if pick.key_pts is None else pick.key_pts
    if pick.key_pts is not None and pick.key_pts > index.start_pts:
        source.seek(pick.key_pts - int(_SEEK_EARLY_S / index.time_base), stream=video, backward=True)
    end_s = None if pick.end_pts is None else pick.end_pts * index.time_base
    gate = _Pictures(pick, step=int(np.median(index.duration)))
    gate.are_over = not pictures
    sound_is_over = sound_index is None
    for packet in source.demux(wanted):
        if packet.size == 0 or packet.pts is None:
            continue  # the end of a stream
        if packet.stream_index == recording.stream_index:
            yield from gate.take(packet)
        else:
            begins_s = packet.pts * packet.time_base
            lasts_s = (packet.duration or 0) * packet.time_base
            if end_s is not None and begins_s >= end_s:
                sound_is_over = True
            elif begins_s + 2 * lasts_s > first_pts * index.time_base:
                yield packet  # one packet more than heard: an AAC frame needs the one before it (ISO/IEC 14496-3)
        if gate.are_over and sound_is_over:
            break
    yield from gate.rest()


class _Pictures:
    """Lets pass the picture packets from the key frame to the last that is needed."""

    def __init__(self, pick: SpanPick, *, step: int) -> None:
        self._pick = pick
        self._step = max(step, 1)
        self._begun = False
        self._unstamped: list[Packet[Stream]] = []
        self._held: list[Packet[Stream]] = []
        self._last_dts: int | None = None
        self.are_over = False

    def take(self, packet: Packet[Stream]) -> Iterator[Packet[Stream]]:
        """What may be written now that this packet was read."""
        pts, key_pts = packet.pts or 0, self._pick.key_pts
        if self.are_over:
            return
        if not self._begun:
            self._begun = packet.is_keyframe and (key_pts is None or pts == key_pts)
        if not self._begun or (key_pts is not None and pts < key_pts):
            return  # pictures that lead an open group need the group before it
        end_pts = self._pick.end_pts
        if end_pts is not None and packet.dts is not None and packet.dts >= end_pts:
            self.are_over = True
            return
        for stamped in self._stamped(packet):
            self._held.append(stamped)
            if end_pts is None or (stamped.pts or 0) < end_pts:
                yield from self._held
                self._held.clear()

    def rest(self) -> Iterable[Packet[Stream]]:
        """What is left when the file ended before any packet had a decoding stamp."""
        if not self._unstamped:
            return ()
        return self._filled(0 if self._pick.key_pts is None else self._pick.key_pts)

    def _stamped(self, packet: Packet[Stream]) -> list[Packet[Stream]]:
        """The packet, after those before it that had no decoding stamp (as after a seek in Matroska)."""
        if packet.dts is None:
            self._unstamped.append(packet)
            return []
        waiting = self._filled(packet.dts)
        if self._last_dts is not None and packet.dts <= self._last_dts:
            packet.dts = self._last_dts + 1
        self._last_dts = packet.dts
        return [*waiting, packet]

    def _filled(self, next_dts: int) -> list[Packet[Stream]]:
        waiting, self._unstamped = self._unstamped, []
        for places, packet in enumerate(reversed(waiting), 1):
            packet.dts = next_dts - places * self._step
        return waiting
