"""Builds a recording's frame index from its packets and checks it against what the decoder presents."""

from __future__ import annotations

from itertools import islice, pairwise
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError
from syncview.media.frame_index import FrameIndex, index_from_stamps
from syncview.media.opening import decoded_pictures, open_container, video_stream
from syncview.media.packet_scan import PacketTable, scan_packets
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from pathlib import Path

    from av.video.frame import VideoFrame

_HEAD_FRAMES = 8
"""Decoded at opening and compared with the index."""
_SEEN_SHARE = 0.75
"""With fewer of the announced frames among the decoded ones, packets are not frames."""


def build_index(path: Path, stream_index: int, *, size_bytes: int, progress: Progress) -> tuple[FrameIndex, VideoFrame]:
    """The index of the video stream and its first presented frame; MediaError as in `open_recording`."""
    with open_container(path) as container:
        stream = video_stream(container, stream_index)
        table = scan_packets(container, stream, size_bytes=size_bytes, progress=part_of(progress, 0.0, 0.95))
    if table.without_stamp or not table.pts:
        raise _no_times(path, table.without_stamp)
    head = _decode_head(path, stream_index)
    index = _index_if_true(table, head)
    if index is None:
        index = index_by_decoding(path, stream_index, progress=part_of(progress, 0.0, 0.95))
    progress(1.0, "reading frame times")
    return index, head[0]


def index_by_decoding(path: Path, stream_index: int, *, progress: Progress = silent) -> FrameIndex:
    """The index from decoded frames: slow, for streams whose packets are not frames (such as paired fields)."""
    rows: list[tuple[int, int, bool]] = []
    with open_container(path) as container:
        stream = video_stream(container, stream_index)
        time_base = stream.time_base
        whole = container.duration / 1e6 if container.duration else None
        begin_s: float | None = None
        for frame in decoded_pictures(container, stream):
            if frame.pts is None:
                raise _no_times(path, 1)
            begin_s = frame.time if begin_s is None else begin_s
            if len(rows) % 64 == 0:
                share = (frame.time - begin_s) / whole if whole else 0.0
                progress(min(max(share, 0.0), 1.0), "decoding frame times")
            rows.append((frame.pts, frame.duration or 0, frame.key_frame))
    if not rows or time_base is None:
        raise _no_times(path, 0)
    stamps, durations, keys = (np.array(column) for column in zip(*rows, strict=True))
    return index_from_stamps(stamps.astype(np.int64), durations.astype(np.int64), keys, time_base=time_base)


def _decode_head(path: Path, stream_index: int) -> list[VideoFrame]:
    """The first presented frames; MediaError when there is none or they come in another order than their stamps."""
    with open_container(path) as container:
        stream = video_stream(container, stream_index)
        stream.codec_context.thread_type = "SLICE"  # no frames decoded ahead in vain
        head = list(islice(decoded_pictures(container, stream), _HEAD_FRAMES))
    if not head:
        raise MediaError(
            "none of its frames can be decoded", "The file is damaged; copy it from the camera again.", where=path
        )
    stamps = [frame.pts for frame in head if frame.pts is not None]
    if len(stamps) < len(head) or any(later < earlier for earlier, later in pairwise(stamps)):
        raise MediaError(
            "its time stamps do not follow the order of the pictures, which this kind of file cannot hold",
            "Convert the file to MP4, coding the picture anew.",
            where=path,
        )
    return head


def _index_if_true(table: PacketTable, head: list[VideoFrame]) -> FrameIndex | None:
    """The index by packets, or None when the decoder presents other frames than the packets announce."""
    pts, duration, is_key = table.columns()
    first, time_base = head[0].pts, head[0].time_base
    if first is None or time_base is None or first not in pts:
        return None
    # Pictures before the first decodable one (a stream that was cut inside a group) are never seen.
    shown = pts >= first
    index = index_from_stamps(pts[shown], duration[shown], is_key[shown], time_base=time_base)
    seen = {frame.pts for frame in head if frame.pts is not None}
    announced = index.pts[index.pts <= max(seen)].tolist()
    # A damaged frame may be missing; where fields are stored in pairs, every second packet gives no frame.
    return index if seen.issubset(announced) and len(seen) >= _SEEN_SHARE * len(announced) else None


def _no_times(path: Path, without_stamp: int) -> MediaError:
    if without_stamp:
        return MediaError(
            "its frames carry no time stamps",
            "Put the video into an MP4 or MKV file with the program that recorded it.",
            where=path,
        )
    return MediaError("the file presents no frame", "Record again, or give another file.", where=path)
