"""Clips that begin and end where asked, with only their edges coded again and the middle copied bit by bit."""

from __future__ import annotations

import contextlib
import heapq
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.errors import MediaError
from syncview.media.avc_sets import (
    PICTURE_SET,
    SEQUENCE_SET,
    AvcRecord,
    set_number,
    unit_type,
    units_after_lengths,
)
from syncview.media.caption_stream import CaptionStream
from syncview.media.cut_plan import CutPlan
from syncview.media.edge_coding import EdgeCoder, EdgePacket
from syncview.media.film_join import decode_stamps
from syncview.media.film_output import faults_named, is_matroska, let_go, open_film, refuse_bad_film
from syncview.media.opening import open_container
from syncview.media.packet_pick import SpanPick, picked_packets
from syncview.media.stream_copy import CopyExtras, copied_streams, same_stream
from syncview.output_file import part_beside, place
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from av.container import InputContainer, OutputContainer
    from av.packet import Packet
    from av.stream import Stream

    from syncview.media.recording import Recording

_AHEAD_S = Fraction(1, 2)
_NOTHING = CopyExtras()


@dataclass(frozen=True, slots=True)
class CutReport:
    """What was written."""

    output: Path
    begin_media_s: Fraction
    """Media time of the first picture, at film time 0."""
    end_media_s: Fraction
    frames: int
    frames_coded_again: int
    size_bytes: int


def cut_clip(
    recording: Recording,
    plan: CutPlan,
    *,
    output: Path,
    extras: CopyExtras = _NOTHING,
    overwrite: bool = False,
    progress: Progress = silent,
) -> CutReport:
    """Write the clip of `plan`, turned as the recording states it, with the sound copied.

    Film time 0 is the first picture; times of `extras` count from it. Raises ValueError for a plan with `why_not`,
    OutputError when the film cannot be written, MediaError when a frame of the edges is damaged, Cancelled when
    `progress` says so; then nothing is left.
    """
    if plan.why_not is not None:
        raise ValueError(f"this plan copies nothing: {plan.why_not}")
    refuse_bad_film(output, overwrite=overwrite, sources=(recording.path,))
    part = part_beside(output)
    cut = _Cut(recording, plan, output)
    try:
        with faults_named(output):
            cut.write(part, extras, progress)
            place(part, output, overwrite=overwrite)
    finally:
        let_go(cut.container)
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
    index = recording.frames
    end_s = index.media_s(plan.end) if plan.end < len(index) else index.end_s
    return CutReport(
        output=output,
        begin_media_s=index.media_s(plan.begin),
        end_media_s=end_s,
        frames=plan.frames,
        frames_coded_again=plan.frames_coded_again,
        size_bytes=output.stat().st_size,
    )


class _Cut:
    """One clip under way."""

    def __init__(self, recording: Recording, plan: CutPlan, output: Path) -> None:
        self.container: OutputContainer | None = None
        self._recording = recording
        self._plan = plan
        self._output = output
        self._tick_s = recording.frames.time_base
        self._zero_pts = int(recording.frames.pts[plan.begin])

    def write(self, part: Path, extras: CopyExtras, progress: Progress) -> None:
        """Write into `part`."""
        recording = self._recording
        with open_container(recording.path) as pictures, open_container(recording.path) as sounds:
            record = AvcRecord.parse(pictures.streams[recording.stream_index].codec_context.extradata or b"")
            middle_pts, numbers = self._survey(record)
            coder = EdgeCoder(recording, record, taken_numbers=numbers)
            edges = self._coded_edges(coder, part_of(progress, 0, 0.7))
            stamps = [*(p.pts for p in edges[0]), *middle_pts, *(p.pts for p in edges[1])]
            dts = decode_stamps(np.array(stamps, dtype=np.int64)).tolist()
            self.container = open_film(part, chapters=extras.chapters, title=extras.title)
            made = {s.index: same_stream(self.container, s, self._output) for s in copied_streams(pictures, recording)}
            made[recording.stream_index].codec_context.extradata = coder.record.packed()
            captions = [CaptionStream(self.container, self._output, track) for track in extras.captions]
            self.container.start_encoding()
            flows = [self._pictures(edges, pictures, dts)]
            if recording.audio is not None:
                flows.append(self._sound(sounds))
            self._mux(heapq.merge(*flows, key=lambda timed: timed[0]), made, captions, part_of(progress, 0.7, 1))
            self.container.close()
            self.container = None

    def _coded_edges(self, coder: EdgeCoder, progress: Progress) -> list[list[EdgePacket]]:
        plan = self._plan
        return [
            coder.coded(plan.begin, plan.copy_begin, part_of(progress, 0, 0.5)),
            coder.coded(plan.copy_end, plan.end, part_of(progress, 0.5, 1)),
        ]

    def _mux(
        self,
        packets: Iterable[tuple[Fraction, int, Packet[Stream]]],
        made: dict[int, Stream],
        captions: list[CaptionStream],
        progress: Progress,
    ) -> None:
        """Write packets in the order of their film times, and captions ahead of them."""
        assert self.container is not None  # opened by `write`
        last_pts = int(self._recording.frames.pts[self._plan.end - 1])
        whole_s = float((last_pts - self._zero_pts + 1) * self._tick_s)
        for number, (film_s, stream_index, packet) in enumerate(packets):
            for stream in captions:
                stream.write(film_s + _AHEAD_S)
            packet.stream = made[stream_index]
            self.container.mux(packet)
            if number % 500 == 0:
                progress(min(max(float(film_s) / whole_s, 0.0), 1.0), "cutting the clip")
        for stream in captions:
            stream.write(None)
        progress(1.0, "cutting the clip")

    def _middle(self) -> SpanPick:
        pts, plan = self._recording.frames.pts, self._plan
        return SpanPick(
            begin=plan.copy_begin,
            end=plan.copy_end,
            key_pts=int(pts[plan.copy_begin]),
            begin_pts=int(pts[plan.copy_begin]),
            end_pts=int(pts[plan.copy_end]) if plan.copy_end < len(pts) else None,
        )

    def _survey(self, record: AvcRecord) -> tuple[list[int], set[int]]:
        """Stamps of the copied pictures in decoding order, and the numbers of all parameter sets among them."""
        pts = []
        sets = [*record.sequence_sets, *record.picture_sets]
        with open_container(self._recording.path) as source:
            for packet in picked_packets(source, self._recording, self._middle(), sound=False):
                pts.append(packet.pts or 0)
                units = units_after_lengths(bytes(packet), record.length_size)
                sets.extend(unit for unit in units if unit_type(unit) in (SEQUENCE_SET, PICTURE_SET))
        if len(pts) != self._plan.copy_end - self._plan.copy_begin:
            raise MediaError(
                f"{self._plan.copy_end - self._plan.copy_begin} pictures were to be copied and {len(pts)} were found",
                "Code the clip again instead.",
                where=self._recording.path,
            )
        return pts, {set_number(unit) for unit in sets}

    def _pictures(
        self, edges: list[list[EdgePacket]], source: InputContainer, dts: list[int]
    ) -> Iterator[tuple[Fraction, int, Packet[Stream]]]:
        """All picture packets with the film's stamps, by decoding time."""
        for packet, stamp in zip(self._picture_packets(edges, source), dts, strict=True):
            packet.pts, packet.dts = (packet.pts or 0) - self._zero_pts, stamp - self._zero_pts
            yield packet.dts * self._tick_s, self._recording.stream_index, packet

    def _picture_packets(self, edges: list[list[EdgePacket]], source: InputContainer) -> Iterator[Packet[Stream]]:
        yield from map(self._fresh, edges[0])
        yield from picked_packets(source, self._recording, self._middle(), sound=False)
        yield from map(self._fresh, edges[1])

    def _fresh(self, coded: EdgePacket) -> Packet[Stream]:
        packet = av.Packet(coded.data)
        packet.pts, packet.duration, packet.is_keyframe = coded.pts, coded.duration, coded.is_key
        packet.time_base = self._tick_s
        return packet

    def _sound(self, source: InputContainer) -> Iterator[tuple[Fraction, int, Packet[Stream]]]:
        """The sound's packets; what lies before the clip is hidden by an edit list, or left out in Matroska."""
        pts, plan = self._recording.frames.pts, self._plan
        span = SpanPick(
            begin=plan.begin,
            end=plan.end,
            key_pts=self._zero_pts,
            begin_pts=self._zero_pts,
            end_pts=int(pts[plan.end]) if plan.end < len(pts) else None,
        )
        for packet in picked_packets(source, self._recording, span, pictures=False):
            ticks = round(self._zero_pts * self._tick_s / packet.time_base)
            packet.pts = (packet.pts or 0) - ticks
            packet.dts = packet.pts
            if packet.pts >= 0 or not is_matroska(self._output):
                yield packet.pts * packet.time_base, packet.stream_index, packet
