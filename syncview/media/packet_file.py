"""Encoded pictures on disk, whole and checked: what a broken render goes on from.

A film file will not do: MP4 rounds and shifts stamps by edit lists, Matroska has ticks of 1 ms. Here stamps stay exact,
and an ending with a checksum tells a whole file from a torn one.
"""

from __future__ import annotations

import os
import struct
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from av.packet import Packet
    from av.video.stream import VideoStream
    from numpy.typing import NDArray

_MAGIC = b"syncview packets 1\n"
_HEADER = struct.Struct("<I")
"""Bytes of the encoder's parameter sets, which follow."""
_RECORD = struct.Struct("<qqI?")
"""Stamp, duration (both in ticks), bytes of the packet that follows, whether it is a key frame."""
_ENDING = struct.Struct("<qqI?")
"""As a record, so that one read serves both: number of packets, -1, checksum, False."""
_NO_DURATION = -1


@dataclass(frozen=True, slots=True)
class StoredPacket:
    """One encoded picture, in the order of decoding."""

    pts: int
    duration: int
    is_key: bool
    data: bytes


@dataclass(frozen=True, eq=False, slots=True)
class PacketSurvey:
    """What a whole packet file holds, without its pictures."""

    parameter_sets: bytes
    pts: NDArray[np.int64]
    """Stamps in the order of decoding, shape (n,), n >= 1."""


class PacketFile:
    """Writes encoded pictures; the file counts only after `finish`."""

    def __init__(self, path: Path, parameter_sets: bytes) -> None:
        self._file: BinaryIO = path.open("wb")
        self._count = 0
        self._checksum = 0
        self._put(_MAGIC + _HEADER.pack(len(parameter_sets)) + parameter_sets)

    def add(self, packet: Packet[VideoStream]) -> None:
        """Append a packet; ValueError when it has no stamp or does not know how long it stays."""
        if packet.pts is None or not packet.duration:
            raise ValueError("an encoded picture without stamp or duration")
        data = bytes(packet)
        self._put(_RECORD.pack(packet.pts, packet.duration, len(data), packet.is_keyframe) + data)
        self._count += 1

    def finish(self) -> None:
        """End the file and wait until the disk has it."""
        self._file.write(_ENDING.pack(self._count, _NO_DURATION, self._checksum, False))
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()

    def close(self) -> None:
        """Let go of an unfinished file."""
        self._file.close()

    def _put(self, data: bytes) -> None:
        self._file.write(data)
        self._checksum = zlib.crc32(data, self._checksum)


def read_packets(path: Path) -> Iterator[StoredPacket]:
    """The pictures in the order of decoding; EOFError where the file is torn or altered."""
    with path.open("rb") as file:
        _parameter_sets(file)
        yield from _packets(file, checksum=None)


def survey(path: Path) -> PacketSurvey:
    """Read the whole file and check it; EOFError where it is torn or altered, OSError as the system says."""
    with path.open("rb") as file:
        parameter_sets, checksum = _parameter_sets(file)
        pts = [packet.pts for packet in _packets(file, checksum=checksum)]
    if not pts:
        raise EOFError(f"{path.name} holds no picture")
    return PacketSurvey(parameter_sets, np.array(pts, dtype=np.int64))


def _parameter_sets(file: BinaryIO) -> tuple[bytes, int]:
    opening = _exactly(file, len(_MAGIC) + _HEADER.size)
    if not opening.startswith(_MAGIC):
        raise EOFError("not a packet file")
    sets = _exactly(file, *_HEADER.unpack(opening[len(_MAGIC) :]))
    return sets, zlib.crc32(opening + sets)


def _packets(file: BinaryIO, *, checksum: int | None) -> Iterator[StoredPacket]:
    count = 0
    while True:
        record = _exactly(file, _RECORD.size)
        pts, duration, size, is_key = _RECORD.unpack(record)
        if duration == _NO_DURATION:
            if pts != count or (checksum is not None and size != checksum):
                raise EOFError("the checksum differs")
            return
        data = _exactly(file, size)
        if checksum is not None:
            checksum = zlib.crc32(data, zlib.crc32(record, checksum))
        yield StoredPacket(pts, duration, is_key, data)
        count += 1


def _exactly(file: BinaryIO, size: int) -> bytes:
    data = file.read(size)
    if len(data) != size:
        raise EOFError("the file is torn")
    return data
