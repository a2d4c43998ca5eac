"""The conditions card as a picture: tiles of label, value in the coach's units, and the same in the other units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from syncview.gauges import palette
from syncview.gauges.fonts import Weight
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.text import advance_px, shortened, unwritable
from syncview.lesson.conditions import ConditionRow
from syncview.lesson.quantities import quantities_in
from syncview.output_file import whole_file
from syncview.shown_units import Units

WIDTH, HEIGHT = 1920, 1080
MARGIN = 110
"""More than the 5 % of graphics-safe area (EBU R 95)."""
_TOP = 250
_GAP = 28
_PAD = 34
_GROUND: palette.Colour = (7, 9, 13)
_TILE: palette.Colour = (22, 27, 35)
_LOW = 170.0
"""In a lower tile the other units stand beside the label."""
_VALUE_EMS = (64, 54, 46, 38, 32, 28, 24)
"""A value is written as large as fits its tile."""
_LABEL_EM, _OTHER_EM, _FOOT_EM = 30, 34, 24
_FOOT = "Figures hold for this car, these tyres, this surface and weather only: build up to them with margin."


@dataclass(frozen=True, slots=True)
class _Tile:
    left: float
    top: float
    width: float
    height: float


def card_picture(rows: Sequence[ConditionRow], *, units: Units, title: str = "Conditions") -> tuple[Sheet, list[str]]:
    """The card, 1920 x 1080, and a sentence for each text that had to be cut to fit."""
    sheet = Sheet(WIDTH, HEIGHT)
    sheet.polygon([(0, 0), (WIDTH, 0), (WIDTH, HEIGHT), (0, HEIGHT)], _GROUND)
    _header(sheet, title)
    remarks: list[str] = []
    if not rows:
        sheet.text("Nothing was said of the day.", left=MARGIN, baseline=_TOP + 60, em_px=44, weight="regular",
                   colour=palette.QUIET)  # fmt: skip
    for row, tile in zip(rows, _tiles(len(rows)), strict=True):
        remarks += _draw_tile(sheet, tile, row, units)
    sheet.text(_FOOT, left=MARGIN, baseline=HEIGHT - 72, em_px=_FOOT_EM, weight="regular", colour=palette.LINE)
    return sheet, remarks


def write_card(rows: Sequence[ConditionRow], path: Path, *, units: Units, overwrite: bool = False) -> list[str]:
    """Write the card as a PNG; returns what a person should know. Raises `OutputError`."""
    from PIL import Image

    from syncview.errors import OutputError

    if path.suffix.lower() != ".png":
        raise OutputError("the card is drawn as a PNG", "End the name with .png.", where=path)
    sheet, remarks = card_picture(rows, units=units)
    with whole_file(path, overwrite=overwrite) as part:
        Image.fromarray(sheet.rgba()[..., :3].copy()).save(part, format="PNG")
    return remarks


def _header(sheet: Sheet, title: str) -> None:
    """The title over a see-saw's bar: brake to the left, throttle to the right of the middle mark."""
    sheet.text(title, left=MARGIN, baseline=168, em_px=84, weight="bold", colour=palette.INK)
    top, bottom, middle = 202.0, 210.0, WIDTH / 2
    sheet.rounded((MARGIN, top, middle - 5, bottom), 4, palette.BRAKE)
    sheet.rounded((middle + 5, top, WIDTH - MARGIN, bottom), 4, palette.THROTTLE)


def _tiles(count: int) -> list[_Tile]:
    """Places for so many tiles, row by row, filling the free part of the card; a last row that is short is widened."""
    if not count:
        return []
    columns = {1: 1, 2: 2, 3: 3, 4: 2}.get(count, 3 if count <= 9 else 4)
    lines = math.ceil(count / columns)
    free = HEIGHT - 130 - _TOP
    height = min((free - _GAP * (lines - 1)) / lines, 300.0)
    tiles = []
    for line in range(lines):
        here = min(columns, count - line * columns)
        width = (WIDTH - 2 * MARGIN - _GAP * (here - 1)) / here
        tiles += [_Tile(MARGIN + i * (width + _GAP), _TOP + line * (height + _GAP), width, height) for i in range(here)]
    return tiles


def _draw_tile(sheet: Sheet, tile: _Tile, row: ConditionRow, units: Units) -> list[str]:
    """One entry: label, value, and the same in the other units; what the log measured carries the word."""
    box = Box.around(tile.left, tile.top, tile.left + tile.width, tile.top + tile.height)
    part = sheet.part(box)  # a text costs as much time as the sheet it is written on is large
    part.rounded((tile.left, tile.top, tile.left + tile.width, tile.top + tile.height), 18, _TILE)
    main, other = _texts(row, units)
    beside = tile.height < _LOW
    cut = _draw_value(part, tile, main, other if other != main and not beside else "")
    corner = other if beside and other != main else "measured" if row.source.startswith("log") else ""
    cut |= _draw_label(part, tile, row.label, corner, palette.QUIET if beside else palette.LINE)
    sheet.pixels[box.top : box.bottom, box.left : box.right] = part.pixels
    return _remarks(row, main, cut=cut)


def _label_base(tile: _Tile) -> float:
    return tile.top + min(58, 0.24 * tile.height + 8)


def _draw_label(sheet: Sheet, tile: _Tile, label: str, corner: str, colour: palette.Colour) -> bool:
    """The label, and at the right a smaller word; whether the word had to be cut."""
    left, inner, baseline = tile.left + _PAD, tile.width - 2 * _PAD, _label_base(tile)
    shown = shortened(corner, em_px=_FOOT_EM, weight="regular", width_px=0.6 * inner) if corner else ""
    corner_px = advance_px(shown, _FOOT_EM, "regular") if shown else 0.0
    text = shortened(label, em_px=_LABEL_EM, weight="regular", width_px=inner - corner_px - 20)
    sheet.text(text, left=left, baseline=baseline, em_px=_LABEL_EM, weight="regular", colour=palette.QUIET)
    if shown:
        sheet.text(shown, left=left + inner - corner_px, baseline=baseline, em_px=_FOOT_EM, weight="regular",
                   colour=colour)  # fmt: skip
    return shown != corner or text != label


def _draw_value(sheet: Sheet, tile: _Tile, main: str, other: str) -> bool:
    """The value as large as fits, and below it the other units; whether either had to be cut."""
    left, inner, above = tile.left + _PAD, tile.width - 2 * _PAD, _label_base(tile)
    below = min(30, 0.16 * tile.height)
    room = tile.top + tile.height - below - above - (_OTHER_EM * 1.25 if other else 0)
    em, lines, cut = _fitted(main, inner, room)
    baseline = above + min(0.5 * _LABEL_EM, 0.06 * tile.height) + em * 0.96
    for text in lines:
        sheet.text(text, left=left, baseline=baseline, em_px=em, weight="bold", colour=palette.INK)
        baseline += em * 1.16
    if other:
        shown = shortened(other, em_px=_OTHER_EM, weight="regular", width_px=inner)
        sheet.text(shown, left=left, baseline=tile.top + tile.height - below, em_px=_OTHER_EM, weight="regular",
                   colour=palette.QUIET)  # fmt: skip
        cut = cut or shown != other
    return cut


def _texts(row: ConditionRow, units: Units) -> tuple[str, str]:
    """What is written large, and below it only the quantities in the other units; equal where there are none."""
    main, other = (row.metric, row.imperial) if units == "metric" else (row.imperial, row.metric)
    if main == other:
        return main, main
    found = [other[said.begin : said.end] for said in quantities_in(other)]
    return main, ", ".join(found)


def _remarks(row: ConditionRow, text: str, *, cut: bool) -> list[str]:
    remarks = [f"“{row.label}” is too long for the picture and was cut there; the project keeps it"] if cut else []
    unknown = unwritable(row.label + text, "bold")
    if unknown:
        remarks.append(f"no font has the characters “{unknown}” of “{row.label}”")
    return remarks


def _fitted(text: str, width_px: float, height_px: float) -> tuple[int, list[str], bool]:
    """The largest size at which a text fits, its lines, and whether it had to be cut at the smallest."""
    for em in _VALUE_EMS:
        lines = _wrapped(text, em, width_px)
        if len(lines) * em * 1.16 <= height_px and all(advance_px(line, em, "bold") <= width_px for line in lines):
            return em, lines, False
    em = _VALUE_EMS[-1]
    most = max(1, int(height_px / (em * 1.16)))
    lines = _wrapped(text, em, width_px)
    kept = [*lines[: most - 1], " ".join(lines[most - 1 :])][:most]
    weight: Weight = "bold"
    return em, [shortened(line, em_px=em, weight=weight, width_px=width_px) for line in kept], True


def _wrapped(text: str, em: int, width_px: float) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and advance_px(longer, em, "bold") <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
