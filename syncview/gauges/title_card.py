"""A card that fills the picture: a heading over tiles of label and value, and the cautions at its foot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from syncview.gauges import palette
from syncview.gauges.fonts import Weight
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.text import advance_px, shortened, unwritable

GROUND: palette.Colour = (7, 9, 13)
TILE: palette.Colour = (22, 27, 35)
MARGIN = 110.0
"""In units; more than the 5 % of graphics-safe area (EBU R 95) in a wide picture."""
_GAP = 28.0
_PAD = 34.0
_RADIUS = 18.0
_HEADING_EM, _LABEL_EM, _OTHER_EM, _FOOT_EM = 84, 30, 34, 24
_VALUE_EMS = (96, 80, 64, 54, 46, 38, 32, 28, 24)
"""A value is written as large as fits its tile."""
_TALLEST_TILE = 300.0
_LOW = 170.0
"""In a lower tile the other units stand beside the label."""
_LINE = 1.16
"""Distance of a value's lines, in ems."""
_LEAST_EM_PX = 11


@dataclass(frozen=True, slots=True)
class CardTile:
    """One entry of a card."""

    label: str
    value: str
    other: str = ""
    """The same in other units; empty where there is nothing to convert."""
    remark: str = ""
    """A word in the corner, such as where the value comes from."""


@dataclass(frozen=True, slots=True)
class TitleCard:
    """What stands on a card."""

    heading: str
    tiles: tuple[CardTile, ...] = ()
    foot: tuple[str, ...] = ()
    """Sentences at the bottom."""
    empty: str = ""
    """Said where there are no tiles."""


def draw_card(card: TitleCard, width: int, height: int) -> tuple[Sheet, list[str]]:
    """The card in a picture of that size, and a sentence for each text that had to be cut to fit."""
    return _Face(width, height).drawn(card)


@dataclass(frozen=True, slots=True)
class _Place:
    left: float
    top: float
    width: float
    height: float


class _Face:
    """Sizes of a card in a picture of one size; lengths are in units of it, as in `syncview.gauges.arrangement`."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.is_tall = height > 1.2 * width
        self.unit = width / 1080 if self.is_tall else min(height / 1080, width / 1440)
        self.margin = max(MARGIN * self.unit * (0.7 if self.is_tall else 1.0), 0.055 * width)
        self.edge = max(MARGIN * self.unit, 0.055 * height)
        """Distance of the heading from the top."""
        self.foot_edge = max(72 * self.unit, 0.058 * height)
        """Distance of the last line's baseline from the bottom."""

    def drawn(self, card: TitleCard) -> tuple[Sheet, list[str]]:
        sheet = Sheet(self.width, self.height)
        self._ground(sheet)
        top, remarks = self._draw_heading(sheet, card.heading)
        bottom = self._draw_foot(sheet, card.foot)
        if not card.tiles and card.empty:
            em = self.em(44)
            for line in _wrapped(card.empty, em, self.width - 2 * self.margin, "regular"):
                top += 1.3 * em
                sheet.text(
                    line, left=self.margin, baseline=top, em_px=em, weight="regular", colour=palette.QUIET
                )  # fmt: skip
        for tile, place in zip(card.tiles, self.places(len(card.tiles), top, bottom), strict=True):
            remarks += self._draw_tile(sheet, place, tile)
        return sheet, remarks

    def em(self, units: float) -> int:
        """A size of letters in whole pixels."""
        return max(_LEAST_EM_PX, round(units * self.unit))

    def places(self, count: int, top: float, bottom: float) -> list[_Place]:
        """Places for so many tiles, row by row, between two heights; a last row that is short is widened."""
        if not count:
            return []
        most = 1 if self.is_tall and count <= 5 else 2 if self.is_tall else 3 if count <= 9 else 4
        columns = min(most, {1: 1, 2: 2, 3: 3, 4: 2}.get(count, most))
        lines, gap = math.ceil(count / columns), _GAP * self.unit
        tall = min((bottom - top - gap * (lines - 1)) / lines, _TALLEST_TILE * self.unit)
        found = []
        for line in range(lines):
            here = min(columns, count - line * columns)
            wide = (self.width - 2 * self.margin - gap * (here - 1)) / here
            row = top + line * (tall + gap)
            found += [_Place(self.margin + i * (wide + gap), row, wide, tall) for i in range(here)]
        return found

    def _ground(self, sheet: Sheet) -> None:
        sheet.pixels[...] = [*(part / 255 for part in GROUND), 1.0]

    def _draw_heading(self, sheet: Sheet, heading: str) -> tuple[float, list[str]]:
        """The heading over a see-saw's bar (brake to the left of the middle, throttle to the right); where it ends."""
        em, room = self.em(_HEADING_EM), self.width - 2 * self.margin
        smallest = max(_LEAST_EM_PX, em // 2)
        while em > smallest and advance_px(heading, em, "bold") > room:
            em -= 1
        text = shortened(heading, em_px=em, weight="bold", width_px=room)
        baseline = self.edge + 0.75 * self.em(_HEADING_EM)
        sheet.text(text, left=self.margin, baseline=baseline, em_px=em, weight="bold", colour=palette.INK)
        top, middle, half = baseline + 34 * self.unit, self.width / 2, 4 * self.unit
        below = top + 2 * half
        sheet.rounded((self.margin, top, middle - 1.25 * half, below), half, palette.BRAKE)
        sheet.rounded((middle + 1.25 * half, top, self.width - self.margin, below), half, palette.THROTTLE)
        remarks = [] if text == heading else [f"the heading “{heading}” is too long for the picture and was cut there"]
        return below + 40 * self.unit, remarks

    def _draw_foot(self, sheet: Sheet, foot: Sequence[str]) -> float:
        """The sentences at the bottom; the height above which tiles may lie."""
        em, room = self.em(_FOOT_EM), self.width - 2 * self.margin
        lines = [line for sentence in foot for line in _wrapped(sentence, em, room, "regular")]
        baseline = self.height - self.foot_edge - 1.35 * em * (len(lines) - 1)
        top = baseline - em
        for line in lines:
            sheet.text(line, left=self.margin, baseline=baseline, em_px=em, weight="regular", colour=palette.LINE)
            baseline += 1.35 * em
        return top - _GAP * self.unit

    def _draw_tile(self, sheet: Sheet, place: _Place, tile: CardTile) -> list[str]:
        right, bottom = place.left + place.width, place.top + place.height
        box = Box.around(place.left, place.top, right, bottom)
        part = sheet.part(box)  # a text costs as much time as the sheet it is written on is large
        part.rounded((place.left, place.top, right, bottom), _RADIUS * self.unit, TILE)
        beside = place.height < _LOW * self.unit
        cut = self._draw_value(part, place, tile.value, "" if beside else tile.other)
        corner = tile.other if beside and tile.other else tile.remark
        cut |= self._draw_label(part, place, tile.label, corner, palette.QUIET if beside else palette.LINE)
        sheet.pixels[box.top : box.bottom, box.left : box.right] = part.pixels
        return _remarks(tile, cut=cut)

    def _label_base(self, place: _Place) -> float:
        return place.top + min(58 * self.unit, 0.24 * place.height + 8 * self.unit)

    def _draw_label(self, sheet: Sheet, place: _Place, label: str, corner: str, colour: palette.Colour) -> bool:
        """The label, and at the right a smaller word; whether either had to be cut."""
        pad, baseline = _PAD * self.unit, self._label_base(place)
        left, inner = place.left + pad, place.width - 2 * pad
        em, small = self.em(_LABEL_EM), self.em(_FOOT_EM)
        shown = shortened(corner, em_px=small, weight="regular", width_px=0.6 * inner) if corner else ""
        corner_px = advance_px(shown, small, "regular") if shown else 0.0
        text = shortened(label, em_px=em, weight="regular", width_px=inner - corner_px - 20 * self.unit)
        sheet.text(text, left=left, baseline=baseline, em_px=em, weight="regular", colour=palette.QUIET)
        if shown:
            sheet.text(shown, left=left + inner - corner_px, baseline=baseline, em_px=small, weight="regular",
                       colour=colour)  # fmt: skip
        return shown != corner or text != label

    def _draw_value(self, sheet: Sheet, place: _Place, value: str, other: str) -> bool:
        """The value as large as fits, and below it the other units; whether either had to be cut."""
        pad, above = _PAD * self.unit, self._label_base(place)
        left, inner = place.left + pad, place.width - 2 * pad
        below, small = min(30 * self.unit, 0.16 * place.height), self.em(_OTHER_EM)
        room = place.top + place.height - below - above - (small * 1.25 if other else 0)
        em, lines, cut = self._fitted(value, inner, room)
        baseline = above + min(0.5 * self.em(_LABEL_EM), 0.06 * place.height) + em * 0.96
        for text in lines:
            sheet.text(text, left=left, baseline=baseline, em_px=em, weight="bold", colour=palette.INK)
            baseline += em * _LINE
        if other:
            shown = shortened(other, em_px=small, weight="regular", width_px=inner)
            sheet.text(shown, left=left, baseline=place.top + place.height - below, em_px=small, weight="regular",
                       colour=palette.QUIET)  # fmt: skip
            cut = cut or shown != other
        return cut

    def _fitted(self, text: str, width_px: float, height_px: float) -> tuple[int, list[str], bool]:
        """The largest size at which a text fits, its lines, and whether it had to be cut at the smallest."""
        for em in map(self.em, _VALUE_EMS):
            lines = _wrapped(text, em, width_px, "bold")
            if len(lines) * em * _LINE <= height_px and all(advance_px(line, em, "bold") <= width_px for line in lines):
                return em, lines, False
        em = self.em(_VALUE_EMS[-1])
        most = max(1, int(height_px / (em * _LINE)))
        lines = _wrapped(text, em, width_px, "bold")
        kept = [*lines[: most - 1], " ".join(lines[most - 1 :])][:most]
        return em, [shortened(line, em_px=em, weight="bold", width_px=width_px) for line in kept], True


def _remarks(tile: CardTile, *, cut: bool) -> list[str]:
    remarks = [f"“{tile.label}” is too long for the picture and was cut there; the project keeps it"] if cut else []
    unknown = unwritable(tile.label + tile.value, "bold")
    if unknown:
        remarks.append(f"no font has the characters “{unknown}” of “{tile.label}”")
    return remarks


def _wrapped(text: str, em: int, width_px: float, weight: Weight) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and advance_px(longer, em, weight) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
