"""The parameter sets of H.264 in MP4 and Matroska, and its units in a packet (ISO/IEC 14496-15, ITU-T H.264)."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

SLICE_OF_IDR, SEQUENCE_SET, PICTURE_SET = 5, 7, 8
"""Unit types of ITU-T H.264, table 7-1."""
_MOST_SETS = 31
_START = b"\x00\x00\x01"


@dataclass(frozen=True, slots=True)
class AvcRecord:
    """AVCDecoderConfigurationRecord, ISO/IEC 14496-15, 5.3.3.1."""

    profile: int
    compatibility: int
    level: int
    length_size: int
    """Bytes that say how long a unit is, before each unit of a packet."""
    sequence_sets: tuple[bytes, ...]
    picture_sets: tuple[bytes, ...]
    extension: bytes
    """What follows for the high profiles, as it is."""

    @classmethod
    def parse(cls, data: bytes) -> AvcRecord:
        """Read the record; ValueError for anything else, such as sets with start codes."""
        if len(data) < 7 or data[0] != 1:
            raise ValueError("no AVC decoder configuration record")
        sequence_sets, place = _sets(data, 6, data[5] & 31)
        if place >= len(data):
            raise ValueError("the record ends early")
        picture_sets, place = _sets(data, place + 1, data[place])
        return cls(data[1], data[2], data[3], (data[4] & 3) + 1, sequence_sets, picture_sets, data[place:])

    def packed(self) -> bytes:
        """The record's bytes."""
        head = bytes([1, self.profile, self.compatibility, self.level, 0xFC | self.length_size - 1])
        sequence = b"".join(len(s).to_bytes(2, "big") + s for s in self.sequence_sets)
        picture = b"".join(len(s).to_bytes(2, "big") + s for s in self.picture_sets)
        counts = bytes([0xE0 | len(self.sequence_sets)]), bytes([len(self.picture_sets)])
        return head + counts[0] + sequence + counts[1] + picture + self.extension

    def with_sets(self, sets: list[bytes]) -> AvcRecord:
        """The record with more sets; ValueError where it has no room for them."""
        sequence = (*self.sequence_sets, *(s for s in sets if unit_type(s) == SEQUENCE_SET))
        picture = (*self.picture_sets, *(s for s in sets if unit_type(s) == PICTURE_SET))
        if len(sequence) > _MOST_SETS or len(picture) > 255:
            raise ValueError("too many parameter sets")
        return replace(self, sequence_sets=sequence, picture_sets=picture)


def _sets(data: bytes, place: int, count: int) -> tuple[tuple[bytes, ...], int]:
    sets = []
    for _ in range(count):
        size = int.from_bytes(data[place : place + 2], "big")
        unit = data[place + 2 : place + 2 + size]
        if len(unit) != size or not size:
            raise ValueError("the record ends early")
        sets.append(unit)
        place += 2 + size
    return tuple(sets), place


def unit_type(unit: bytes) -> int:
    """nal_unit_type of a unit."""
    return unit[0] & 31


def set_number(unit: bytes) -> int:
    """seq_parameter_set_id or pic_parameter_set_id of a set (ITU-T H.264, 7.3.2.1 and 7.3.2.2)."""
    bits = int.from_bytes((unit[4:9] if unit_type(unit) == SEQUENCE_SET else unit[1:6]).ljust(5, b"\0"), "big")
    zeros = 40 - bits.bit_length()
    if zeros > 15:
        raise ValueError("a parameter set without a number")
    return (bits >> (40 - 2 * zeros - 1)) - 1  # Exp-Golomb, 9.1


def units_after_lengths(data: bytes, length_size: int) -> Iterator[bytes]:
    """The units of a packet that says how long each is; ValueError where the lengths do not add up."""
    place = 0
    while place < len(data):
        size = int.from_bytes(data[place : place + length_size], "big")
        place += length_size
        if not 0 < size <= len(data) - place:
            raise ValueError("lengths of units do not add up")
        yield data[place : place + size]
        place += size


def units_after_start_codes(data: bytes) -> list[bytes]:
    """The units of an Annex B stream, such as an encoder gives."""
    pieces = data.split(_START)[1:]
    # Zeros before a start code belong to it (a unit never ends with one: 7.4.1).
    return [unit for piece in pieces if (unit := piece.rstrip(b"\0"))]


def with_lengths(units: list[bytes], length_size: int) -> bytes:
    """Units as a packet of MP4 or Matroska."""
    return b"".join(len(unit).to_bytes(length_size, "big") + unit for unit in units)
