"""The marker countdown: “100 board in 40 m”, with figures that are drawn once each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from syncview.gauges import palette
from syncview.gauges.figures import Figures
from syncview.gauges.live_plate import LivePlate
from syncview.gauges.plates import FIGURE_CAP, LABEL_CAP, NAME_CAP, SIDE, plate
from syncview.gauges.text import advance_px, em_for_cap_height, shortened
from syncview.shown_units import LENGTH, Units

if TYPE_CHECKING:
    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.sheet import Box
    from syncview.gauges.sprites import Sprite
    from syncview.gauges.values import MarkerAhead
    from syncview.media.planes import PlaneLayout

_BLANK = 12.0
_UNIT_BLANK = 8.0


class MarkerPlate:
    """Paints the plate of each marker once, and its figures as they change."""

    def __init__(self, place: Box, unit: float, *, units: Units, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._place = place
        self._unit = unit
        self._units: Units = units
        self._coding = coding
        self._layout = layout
        self._plates: dict[tuple[str, int], tuple[LivePlate, Figures]] = {}

    def plate_for(self, marker: MarkerAhead) -> Sprite:
        """What to lay over the frame at the place's left top corner; ValueError for a distance out of range.

        Counts in whole metres or yards. The plate is narrower when a figure falls away.
        """
        if not 0 <= marker.distance_m < 1000:
            raise ValueError(f"a marker cannot be {marker.distance_m} m ahead")
        text = str(round(LENGTH[self._units].of(marker.distance_m)))
        key = (marker.words, len(text))
        if key not in self._plates:
            self._plates[key] = self._made(*key)
        live, figures = self._plates[key]
        figures.show(live, text)
        return live.sprite

    def _made(self, words: str, cells: int) -> tuple[LivePlate, Figures]:
        unit, place = self._unit, self._place
        baseline = (place.height + FIGURE_CAP * unit) / 2
        name_em, label_em = (em_for_cap_height(cap * unit, "regular") for cap in (NAME_CAP, LABEL_CAP))
        label = LENGTH[self._units].label
        label_px = advance_px(label, label_em, "regular")
        from_right = (SIDE + _UNIT_BLANK) * unit + label_px
        probe = Figures("marker", "0" * cells, right=0, baseline=baseline, cap_px=FIGURE_CAP * unit)
        fixed = advance_px("in", label_em, "regular") - probe.left + from_right + (SIDE + 2 * _BLANK) * unit
        name = shortened(words, em_px=name_em, weight="regular", width_px=place.width - fixed - 2)
        name_px = advance_px(name, name_em, "regular")
        width = 2 * math.ceil((fixed + name_px) / 2)
        sheet = plate(width, place.height, unit)
        sheet.text(name, left=SIDE * unit, baseline=baseline, em_px=name_em, weight="regular", colour=palette.INK)
        for text, left in (("in", (SIDE + _BLANK) * unit + name_px), (label, width - SIDE * unit - label_px)):
            sheet.text(text, left=left, baseline=baseline, em_px=label_em, weight="regular", colour=palette.QUIET)
        figures = Figures("marker", "0" * cells, right=width - from_right, baseline=baseline, cap_px=FIGURE_CAP * unit)
        return LivePlate(sheet, coding=self._coding, layout=self._layout), figures
