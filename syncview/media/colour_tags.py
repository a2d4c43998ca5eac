"""How a recording says its colours are coded, by the code points of ITU-T H.273 (names as FFmpeg writes them)."""

from __future__ import annotations

from dataclasses import dataclass

_MATRIX = {
    0: "gbr", 1: "bt709", 4: "fcc", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "ycgco",
    9: "bt2020nc", 10: "bt2020c", 14: "ictcp",
}  # fmt: skip
_RANGE = {1: "limited", 2: "full"}
_PRIMARIES = {
    1: "bt709", 4: "bt470m", 5: "bt470bg", 6: "smpte170m", 7: "smpte240m", 8: "film", 9: "bt2020",
    11: "smpte431", 12: "smpte432",
}  # fmt: skip
_TRANSFER = {
    1: "bt709", 4: "gamma22", 5: "gamma28", 6: "smpte170m", 7: "smpte240m", 8: "linear",
    13: "iec61966-2-1", 14: "bt2020-10", 15: "bt2020-12", 16: "smpte2084", 18: "arib-std-b67",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ColourTags:
    """The four colour tags as their H.273 code points; a property is None where the recording is untagged."""

    matrix_code: int
    range_code: int
    """FFmpeg's own numbering: 1 limited, 2 full."""
    primaries_code: int
    transfer_code: int

    @property
    def matrix(self) -> str | None:
        """Name of the RGB to Y'CbCr matrix."""
        return _MATRIX.get(self.matrix_code)

    @property
    def range(self) -> str | None:
        """ "limited" (black at 16 of 255) or "full"."""
        return _RANGE.get(self.range_code)

    @property
    def primaries(self) -> str | None:
        """Name of the colour primaries."""
        return _PRIMARIES.get(self.primaries_code)

    @property
    def transfer(self) -> str | None:
        """Name of the transfer characteristic."""
        return _TRANSFER.get(self.transfer_code)
