"""Reads the stamps of all video packets once, without decoding a picture."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.stream import VideoStream
    from numpy.typing import NDArray

    from syncview.progress import Progress

_REPORT_EVERY = 2048  # packets; about 20 ms of work, so that a stop is felt at once


@dataclass(slots=True)
class PacketTable:
    """Presented packets in file order; columns grow together."""

    pts: array[int] = field(default_factory=lambda: array("q"))
    duration: array[int] = field(default_factory=lambda: array("q"))
    is_key: bytearray = field(default_factory=bytearray)
    without_stamp: int = 0
    """Packets that carry no stamp at all; they are not in the table."""
    hidden: int = 0
    """Packets that the file's edit list keeps off the screen."""

    def columns(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
        """Stamps, durations and key flags as arrays, shape (n,) each."""
        return (
            np.array(self.pts, dtype=np.int64),
            np.array(self.duration, dtype=np.int64),
            np.frombuffer(bytes(self.is_key), dtype=np.bool_),
        )


def scan_packets(container: InputContainer, stream: VideoStream, *, size_bytes: int, progress: Progress) -> PacketTable:
    """List the packets of `stream`; the container is read to its end."""
    from av.stream import Discard

    for other in container.streams:
        if other.index != stream.index:
            other.discard = Discard.all
    table = PacketTable()
    for number, packet in enumerate(container.demux(stream)):
        if number % _REPORT_EVERY == 0 and packet.pos is not None and packet.pos > 0:
            progress(min(packet.pos / max(size_bytes, 1), 1.0), "reading frame times")
        stamp = packet.pts
        if packet.size == 0:
            continue  # the flush packet at the end
        if packet.is_discard:
            table.hidden += 1
            continue
        if stamp is None:
            stamp = packet.dts
        if stamp is None:
            table.without_stamp += 1
            continue
        table.pts.append(stamp)
        table.duration.append(packet.duration or 0)
        table.is_key.append(packet.is_keyframe)
    return table
