"""Which frames of a clip can be copied, and why none can where that is so."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.media.avc_sets import SLICE_OF_IDR, AvcRecord, unit_type, units_after_lengths
from syncview.media.edge_coding import PROFILES
from syncview.media.opening import open_container
from syncview.media.packet_pick import pick_span
from syncview.media.reading import FrameReader

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.stream import Stream

    from syncview.media.recording import Recording


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
