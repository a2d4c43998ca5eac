"""The two fonts that gauges are written in, and which characters each can write."""

from __future__ import annotations

import struct
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

Weight = Literal["regular", "bold"]

_OWN = Path(__file__).parent / "fonts"
_OWN_FILES: dict[Weight, str] = {"regular": "B612-Regular.ttf", "bold": "B612-Bold.ttf"}
_WIDE_FILES: dict[Weight, str] = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}


@cache
def font_files(weight: Weight) -> tuple[Path, ...]:
    """Font files in order of preference: B612, then DejaVu Sans out of matplotlib's wheel (not imported)."""
    found = [_OWN / _OWN_FILES[weight]]
    spec = find_spec("matplotlib")
    for folder in (spec.submodule_search_locations or ()) if spec is not None else ():
        wide = Path(folder) / "mpl-data" / "fonts" / "ttf" / _WIDE_FILES[weight]
        if wide.is_file():
            found.append(wide)
    return tuple(found)


@cache
def font(path: Path, size_px: int) -> FreeTypeFont:
    """The font at an em of `size_px`, laid out by raqm where Pillow has it."""
    from PIL import ImageFont, features

    engine = ImageFont.Layout.RAQM if features.check("raqm") else ImageFont.Layout.BASIC
    return ImageFont.truetype(str(path), size_px, layout_engine=engine)


@cache
def characters(path: Path) -> frozenset[int]:
    """Code points that the font maps to a glyph: formats 4 and 12 of the OpenType cmap table."""
    data = path.read_bytes()
    table_count = struct.unpack_from(">H", data, 4)[0]
    records = (struct.unpack_from(">4sIII", data, 12 + 16 * number) for number in range(table_count))
    start = next(offset for tag, _sum, offset, _length in records if tag == b"cmap")
    found: set[int] = set()
    for number in range(struct.unpack_from(">H", data, start + 2)[0]):
        subtable = start + struct.unpack_from(">I", data, start + 4 + 8 * number + 4)[0]
        kind = struct.unpack_from(">H", data, subtable)[0]
        if kind == 4:
            found |= _format_4(data, subtable)
        elif kind == 12:
            found |= _format_12(data, subtable)
    return frozenset(found)


def _format_4(data: bytes, at: int) -> set[int]:
    count = struct.unpack_from(">H", data, at + 6)[0] // 2
    ends_at = at + 14
    starts_at, deltas_at, offsets_at = (ends_at + 2 + 2 * count * column for column in (1, 2, 3))
    found: set[int] = set()
    for number in range(count):
        first, last, delta, offset = (
            struct.unpack_from(">H", data, column + 2 * number)[0]
            for column in (starts_at, ends_at, deltas_at, offsets_at)
        )
        if offset == 0:
            found |= {code for code in range(first, last + 1) if (code + delta) & 0xFFFF}
            continue
        glyphs_at = offsets_at + 2 * number + offset  # the offset counts from its own place in the file
        glyphs = struct.unpack_from(f">{last - first + 1}H", data, glyphs_at) if first != 0xFFFF else ()
        found |= {first + step for step, glyph in enumerate(glyphs) if glyph}
    return found


def _format_12(data: bytes, at: int) -> set[int]:
    groups = struct.unpack_from(">I", data, at + 12)[0]
    spans = (struct.unpack_from(">II", data, at + 16 + 12 * number) for number in range(groups))
    return {code for first, last in spans for code in range(first, last + 1)}
