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
    SLICE_OF_IDR,
    AvcRecord,
    set_number,
    unit_type,
    units_after_lengths,
)
from syncview.media.caption_stream import CaptionStream
from syncview.media.edge_coding import PROFILES, EdgeCoder, EdgePacket
from syncview.media.film_join import decode_stamps
from syncview.media.film_output import faults_named, is_matroska, let_go, open_film, refuse_bad_film
from syncview.media.opening import open_container
from syncview.media.packet_pick import SpanPick, pick_span, picked_packets
from syncview.media.reading import FrameReader
from syncview.media.stream_copy import CopyExtras, copied_streams, same_stream
from syncview.output_file import part_beside, place
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from av.container import InputContainer, OutputContainer
    from av.packet import Packet
    from av.stream import Stream

    from syncview.media.recording import Recording

_AHEAD_S = Fraction(1, 2)
_NOTHING = CopyExtras()


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Which frames of a clip are copied; numbers as in the recording's frame index."""

    begin: int
    copy_begin: int
    """The first copied frame, a key frame; frames before it are coded again."""
    copy_end: int
    """The key frame after the last copied one; frames from it on are coded again."""
    end: int
    why_not: str | None = None
    """Why nothing can be copied, a phrase; the whole clip must then be coded again (`render_film`)."""

    @property
    def frames(self) -> int:
        """Pictures of the clip."""
        return self.end - self.begin

    @property
    def frames_coded_again(self) -> int:
        """Pictures that are not copied."""
        return self.frames - (self.copy_end - self.copy_begin)


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


def plan_cut(recording: Recording, begin_s: Fraction | float, end_s: Fraction | float) -> CutPlan:
    """What of the pictures with begin_s <= media_s < end_s can be copied.

    Raises MediaError when there is no such picture. Reads only what decides it, not the pictures.
    """
    pick = pick_span(recording, begin_s, end_s)
    index = recording.frames
    keys = np.flatnonzero(index.is_key)
    starts = keys[(keys >= pick.begin) & (keys <= pick.end)].tolist()
    if pick.end == len(index):
        starts.append(pick.end)
    plan = CutPlan(pick.begin, pick.begin, pick.begin, pick.end)
    if recording.codec != "h264":
        return _refused(plan, f"the picture is {recording.codec}, and only H.264 can be joined here")
    if recording.frames.repeated_stamps:
        return _refused(plan, "some frames share their stamp with the next one")
    try:
        starts = _joinable(recording, starts)
    except ValueError as error:
        return _refused(plan, str(error))
    if len(starts) < 2:
        return _refused(plan, "no whole group of pictures lies inside")
    return CutPlan(pick.begin, starts[0], starts[-1], pick.end)


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


def _refused(plan: CutPlan, why: str) -> CutPlan:
    return CutPlan(plan.begin, plan.begin, plan.begin, plan.end, why_not=why)


def _joinable(recording: Recording, starts: list[int]) -> list[int]:
    """The key frames among `starts` that a decoder can be switched at; ValueError says why there can be none."""
    index = recording.frames
    with open_container(recording.path) as source:
        stream = source.streams[recording.stream_index]
        record = AvcRecord.parse(stream.codec_context.extradata or b"")
        if record.profile not in PROFILES:
            raise ValueError(f"H.264 profile {record.profile} cannot be coded here")

        def usable(number: int) -> bool:
            return number == len(index) or _is_idr(source, stream, int(index.pts[number]), record)

        ends = [next(filter(usable, numbers), None) for numbers in (starts, starts[::-1])]
    found = sorted({number for number in ends if number is not None})
    if found:
        with FrameReader(recording) as reader:
            if reader.frame(min(found[0], len(index) - 1)).interlaced_frame:
                raise ValueError("the picture is interlaced")
    return found


def _is_idr(source: InputContainer, stream: Stream, pts: int, record: AvcRecord) -> bool:
    """True for a key frame that nothing after it looks back across (ITU-T H.264, 3.69)."""
    source.seek(pts, stream=stream, backward=True)
    for packet in source.demux(stream):
        if packet.pts == pts:
            return any(unit_type(u) == SLICE_OF_IDR for u in units_after_lengths(bytes(packet), record.length_size))
        if packet.dts is not None and packet.dts > pts:
            break
    return False


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
        recording, plan = self._recording, self._plan
        with open_container(recording.path) as pictures, open_container(recording.path) as sounds:
            record = AvcRecord.parse(pictures.streams[recording.stream_index].codec_context.extradata or b"")
            middle_pts, numbers = self._survey(record)
            coder = EdgeCoder(recording, record, taken_numbers=numbers)
            edges = []
            shares = (0.0, 0.4, 0.7)
            for part_number, (begin, end) in enumerate(((plan.begin, plan.copy_begin), (plan.copy_end, plan.end))):
                step = part_of(progress, shares[part_number], shares[part_number + 1])
                edges.append(coder.coded(begin, end, step))
            dts = decode_stamps(
                np.array([*(p.pts for p in edges[0]), *middle_pts, *(p.pts for p in edges[1])], dtype=np.int64)
            )
            self.container = open_film(part, chapters=extras.chapters, title=extras.title)
            made = {s.index: same_stream(self.container, s, self._output) for s in copied_streams(pictures, recording)}
            made[recording.stream_index].codec_context.extradata = coder.record.packed()
            captions = [CaptionStream(self.container, self._output, track) for track in extras.captions]
            self.container.start_encoding()
            flows = [self._pictures(edges, pictures, dts.tolist())]
            if recording.audio is not None:
                flows.append(self._sound(sounds))
            for film_s, stream_index, packet in heapq.merge(*flows, key=lambda timed: timed[0]):
                for stream in captions:
                    stream.write(film_s + _AHEAD_S)
                packet.stream = made[stream_index]
                self.container.mux(packet)
            for stream in captions:
                stream.write(None)
            self.container.close()
            self.container = None
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
