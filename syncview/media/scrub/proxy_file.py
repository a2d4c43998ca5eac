"""One file of small pictures: each coded by itself, found by its number, checked when read."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, BinaryIO

import av
import numpy as np
from av.codec.context import CodecContext
from av.packet import Packet

if TYPE_CHECKING:
    from pathlib import Path

    from av.video.codeccontext import VideoCodecContext
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

SUFFIX = ".small"
_MAGIC = b"syncview small pictures 1\n"
_HEADER = struct.Struct("<32sII")
"""Identity, number of pictures, checksum of the table that follows."""
_ROW = np.dtype([("number", "<u4"), ("offset", "<u8"), ("size", "<u4"), ("checksum", "<u4")])
_CODING = {"preset": "ultrafast", "tune": "fastdecode", "crf": "20", "forced-idr": "1"}
CODING_NAME = "h264-ultrafast-crf20-area-1"
"""Changes when pictures are made in another way, so that older files are not taken for new ones."""


class TornProxyError(Exception):
    """The file is not whole, not ours, or for other pictures; it is to be made again."""


def identity_of(fingerprint: str, size: tuple[int, int]) -> bytes:
    """What a file of small pictures is for: 32 bytes from the recording's fingerprint and how they are made."""
    return hashlib.sha256(f"{fingerprint} {size[0]}x{size[1]} {CODING_NAME}".encode()).digest()


class SmallEncoder:
    """Codes small pictures, each by itself."""

    def __init__(self, width: int, height: int) -> None:
        made = CodecContext.create("libx264", "w")
        assert isinstance(made, av.VideoCodecContext)
        self._codec: VideoCodecContext = made
        made.width, made.height, made.pix_fmt = width, height, "yuv420p"
        made.time_base, made.framerate = Fraction(1, 60), Fraction(60)
        made.gop_size, made.max_b_frames = 1, 0
        made.thread_count = 1  # the decoder beside it takes the other cores
        made.options = dict(_CODING)
        self._sizes: list[bytes] = []
        self._count = 0

    def add(self, small: VideoFrame) -> None:
        """Code one more picture; the frame's stamps are changed."""
        small.pts, small.time_base, small.pict_type = self._count, Fraction(1, 60), 0
        self._count += 1
        self._sizes.extend(bytes(packet) for packet in self._codec.encode(small))

    def finish(self) -> list[bytes]:
        """The coded pictures in the order of adding."""
        if self._count:
            self._sizes.extend(bytes(packet) for packet in self._codec.encode(None))
        return self._sizes


def packed(identity: bytes, pictures: dict[int, bytes]) -> bytes:
    """The content of a file; an empty entry says that the frame cannot be decoded."""
    table = np.zeros(len(pictures), dtype=_ROW)
    offset = len(_MAGIC) + _HEADER.size + table.nbytes
    for row, number in enumerate(sorted(pictures)):
        data = pictures[number]
        table[row] = (number, offset, len(data), zlib.crc32(data))
        offset += len(data)
    rows = table.tobytes()
    out = io.BytesIO()
    out.write(_MAGIC + _HEADER.pack(identity, len(table), zlib.crc32(rows)) + rows)
    for number in sorted(pictures):
        out.write(pictures[number])
    return out.getvalue()


@dataclass(eq=False, slots=True)
class ProxyFile:
    """An open file of small pictures."""

    _file: BinaryIO
    _table: NDArray[np.void]

    @classmethod
    def open(cls, path: Path, identity: bytes) -> ProxyFile:
        """Open and check the table; TornProxyError, or OSError as the system says."""
        file = path.open("rb")
        try:
            return cls(file, _table_of(file, identity))
        except BaseException:
            file.close()
            raise

    def coded(self, number: int) -> bytes | None:
        """The coded picture of a frame; empty when the frame is damaged, None when it is not in this file."""
        row = int(np.searchsorted(self._table["number"], number))
        if row >= len(self._table) or self._table["number"][row] != number:
            return None
        self._file.seek(int(self._table["offset"][row]))
        data = self._file.read(int(self._table["size"][row]))
        if len(data) != self._table["size"][row] or zlib.crc32(data) != self._table["checksum"][row]:
            raise TornProxyError
        return data

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def _table_of(file: BinaryIO, identity: bytes) -> NDArray[np.void]:
    opening = file.read(len(_MAGIC) + _HEADER.size)
    if len(opening) < len(_MAGIC) + _HEADER.size or not opening.startswith(_MAGIC):
        raise TornProxyError
    found, count, checksum = _HEADER.unpack(opening[len(_MAGIC) :])
    rows = file.read(count * _ROW.itemsize)
    if found != identity or len(rows) != count * _ROW.itemsize or zlib.crc32(rows) != checksum:
        raise TornProxyError
    return np.frombuffer(rows, dtype=_ROW)


class SmallDecoder:
    """Decodes coded small pictures, in any order; one thread at a time."""

    def __init__(self) -> None:
        self._codec = self._opened()

    def frame(self, coded: bytes) -> VideoFrame:
        """The picture; TornProxyError when it does not decode."""
        try:
            frames = self._codec.decode(Packet(coded))
        except av.FFmpegError:
            frames = []
        if len(frames) != 1:
            self._codec = self._opened()
            raise TornProxyError
        return frames[0]

    @staticmethod
    def _opened() -> VideoCodecContext:
        codec = CodecContext.create("h264", "r")
        assert isinstance(codec, av.VideoCodecContext)
        codec.thread_type, codec.thread_count = "NONE", 1
        return codec
