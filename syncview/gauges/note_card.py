"""The note that is said at the moment, written into the place that the gauges leave free for captions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from syncview.gauges import palette
from syncview.gauges.plates import plate
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.sprites import Sprite, make_sprite
from syncview.gauges.text import advance_px, em_for_cap_height

if TYPE_CHECKING:
    from syncview.gauges.colour import ColourCoding
    from syncview.media.planes import PlaneLayout

_CAP = 38.0
"""Height of capitals in units; with the spacing below this keeps to the broadcast line height of 8 % or less."""
_LINE = 1.95
"""Distance of baselines in cap heights."""
_SIDE, _TOP = 26.0, 24.0
_SMALLEST = 0.6
"""Lines that are too wide are written smaller, down to this share; what is wider still is shortened by the planner."""


class NoteCard:
    """Paints notes, each once."""

    def __init__(self, place: Box, unit: float, *, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._place = place
        self._unit = unit
        self._coding = coding
        self._layout = layout
        self._cards: dict[str, tuple[Sprite, Box]] = {}

    def card_for(self, text: str) -> tuple[Sprite, Box]:
        """What to lay over the frame for a note of one or more lines, and where."""
        if text not in self._cards:
            sheet, place = self._drawn([line for line in text.split("\n") if line.strip()])
            self._cards[text] = (make_sprite(sheet.rgba(), coding=self._coding, layout=self._layout), place)
        return self._cards[text]

    def _drawn(self, lines: list[str]) -> tuple[Sheet, Box]:
        unit, room = self._unit, self._place.width - 2 * _SIDE * self._unit
        room_down = self._place.height - 2 * _TOP * unit
        cap = min(_CAP * unit, room_down / (1 + _LINE * (len(lines) - 1)))
        em = em_for_cap_height(cap, "regular")
        widest = max(advance_px(line, em, "regular") for line in lines)
        if widest > room:
            cap = max(cap * room / widest, _SMALLEST * cap)
            em = em_for_cap_height(cap, "regular")
            widest = max(advance_px(line, em, "regular") for line in lines)
        width = min(2 * math.ceil((widest + 2 * _SIDE * unit) / 2), self._place.width)
        height = 2 * math.ceil((cap * (1 + _LINE * (len(lines) - 1)) + 2 * _TOP * unit) / 2)
        sheet = plate(width, height, unit)
        for row, line in enumerate(lines):
            baseline = _TOP * unit + cap * (1 + _LINE * row)
            sheet.text(line, left=_SIDE * unit, baseline=baseline, em_px=em, weight="regular", colour=palette.INK)
        left, bottom = self._place.left, self._place.bottom
        return sheet, Box(left, bottom - height, left + width, bottom)
