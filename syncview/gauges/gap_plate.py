"""The gap to a reference lap: sign and figure, the word, and a bar that grows to the right when this lap is ahead."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Literal

from syncview.gauges import palette
from syncview.gauges.live_plate import LivePlate
from syncview.gauges.plates import FIGURE_CAP, LABEL_CAP, SIDE, plate
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.text import advance_px, em_for_cap_height

if TYPE_CHECKING:
    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.sprites import Sprite
    from syncview.media.planes import PlaneLayout

FULL_BAR_S = 1.0
"""The bar is full at this gap, to either side."""
_TEXT_BASELINE = 64.0
_BAR_TOP, _BAR_BOTTOM = 78.0, 96.0
_BAR_STEP_S = 0.02
_Side = Literal["ahead", "behind"]


def gap_words(gap_s: float) -> tuple[str, str]:
    """Figure and word for a gap: (+0.3, BEHIND), (−1.2, AHEAD), (0.0, LEVEL); minutes from 100 s on.

    Rounded to tenths, for the same reason as the running lap time. ValueError for a gap that is not finite.
    """
    if not math.isfinite(gap_s):
        raise ValueError(f"a gap cannot be {gap_s} s")
    tenths = round(abs(gap_s) * 10)
    if tenths == 0:
        return "0.0", "LEVEL"
    seconds = tenths // 10
    figure = f"{seconds}.{tenths % 10}" if tenths < 1000 else f"{seconds // 60}:{seconds % 60:02d}"
    return ("+" if gap_s > 0 else "−") + figure, "BEHIND" if gap_s > 0 else "AHEAD"


class GapPlate:
    """Paints one plate."""

    def __init__(self, place: Box, unit: float, *, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._unit = unit
        self._width = place.width
        self._middle = 2 * round(place.width / 4)
        self._text = Box.around(SIDE * unit, 8 * unit, place.width - SIDE * unit - 1, (_TEXT_BASELINE + 6) * unit)
        top, bottom = 2 * round(_BAR_TOP * unit / 2), 2 * round(_BAR_BOTTOM * unit / 2)
        side = 2 * round(SIDE * unit / 2)
        gap = 2 * math.ceil(3 * unit / 2)
        self._halves: dict[_Side, Box] = {
            "behind": Box(side, top, self._middle - gap, bottom),
            "ahead": Box(self._middle + gap, top, 2 * self._middle - side, bottom),
        }
        self._live = LivePlate(self._lasting_drawing(place), coding=coding, layout=layout)
        self._shown: tuple[str, int] | None = None

    def plate_for(self, gap_s: float) -> Sprite:
        """What to lay over the frame at the place's left top corner."""
        words = gap_words(gap_s)
        steps = round(gap_s / _BAR_STEP_S)
        if (words[0], steps) != self._shown:
            self._shown = (words[0], steps)
            self._live.show("text", words, self._text, partial(self._paint_text, words=words))
            self._show_bar("behind", max(gap_s, 0.0))
            self._show_bar("ahead", max(-gap_s, 0.0))
        return self._live.sprite

    def _lasting_drawing(self, place: Box) -> Sheet:
        unit = self._unit
        sheet = plate(place.width, place.height, unit)
        for half in self._halves.values():
            sheet.rounded((half.left, half.top, half.right, half.bottom), 3 * unit, palette.TRACK)
        overshoot = 7 * unit
        top, bottom = _BAR_TOP * unit - overshoot, _BAR_BOTTOM * unit + overshoot
        sheet.rounded((self._middle - 3 * unit, top, self._middle + 3 * unit, bottom), 3 * unit, palette.INK)
        return sheet

    def _paint_text(self, sheet: Sheet, *, words: tuple[str, str]) -> None:
        unit, (figure, word) = self._unit, words
        baseline = _TEXT_BASELINE * unit
        em = em_for_cap_height(FIGURE_CAP * unit, "bold")
        sheet.text(figure, left=SIDE * unit, baseline=baseline, em_px=em, weight="bold", colour=palette.INK)
        label_em = em_for_cap_height(LABEL_CAP * unit, "regular")
        left = self._width - SIDE * unit - advance_px(word, label_em, "regular")
        sheet.text(word, left=left, baseline=baseline, em_px=label_em, weight="regular", colour=palette.QUIET)

    def _show_bar(self, side: _Side, size_s: float) -> None:
        half = self._halves[side]
        length = round(min(size_s / FULL_BAR_S, 1.0) * half.width)  # the bar's end; the figure goes on
        first = half.width - length if side == "behind" else 0
        self._live.show_columns(side, (first, first + length), half, partial(self._paint_bar, side=side, box=half))

    def _paint_bar(self, sheet: Sheet, *, side: _Side, box: Box) -> None:
        colour = palette.BEHIND if side == "behind" else palette.AHEAD
        sheet.rounded((box.left, box.top, box.right, box.bottom), 3 * self._unit, colour)
