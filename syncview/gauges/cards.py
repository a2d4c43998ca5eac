"""The two small plates: the lap time, and the card of the corner that the car is in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from syncview.gauges import palette
from syncview.gauges.figures import Figures
from syncview.gauges.live_plate import LivePlate
from syncview.gauges.plates import FIGURE_CAP, LABEL_CAP, NAME_CAP, SIDE, plate
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.sprites import Sprite, make_sprite
from syncview.gauges.text import advance_px, em_for_cap_height, shortened

if TYPE_CHECKING:
    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.values import CornerLabel
    from syncview.media.planes import PlaneLayout

_ARROW = 52.0
_GAP = 18.0


def running_time_text(lap_time_s: float) -> str:
    """Minutes, seconds and the tenths that have passed: 83.456 s is 1:23.4, 59.9996 s (60 000 ms) is 1:00.0.

    A running clock stops at tenths: later figures change with every frame, cannot be read, and cost the encoder as
    much as all other gauges together. Laps of an hour and more keep counting minutes. ValueError for a negative time.
    """
    if lap_time_s < 0:
        raise ValueError(f"a lap time cannot be {lap_time_s} s")
    minutes, tenths = divmod(round(lap_time_s * 1000) // 100, 600)
    return f"{minutes}:{tenths // 10:02d}.{tenths % 10}"


class LapClock:
    """Paints the lap time's plate; one drawing per count of minute figures."""

    def __init__(self, place: Box, unit: float, *, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._place = place
        self._unit = unit
        self._coding = coding
        self._layout = layout
        self._clocks: dict[int, tuple[LivePlate, Figures, Box]] = {}

    def plate_for(self, lap_time_s: float | None) -> tuple[Sprite, Box]:
        """What to lay over the frame, and where."""
        known = lap_time_s is not None and math.isfinite(lap_time_s)
        text = running_time_text(lap_time_s) if known and lap_time_s is not None else None
        minute_cells = 1 if text is None else text.index(":")
        if minute_cells not in self._clocks:
            self._clocks[minute_cells] = self._made(minute_cells)
        live, figures, place = self._clocks[minute_cells]
        if text is None:
            figures.show_missing(live)
        else:
            figures.show(live, text)
        return live.sprite, place

    def _made(self, minute_cells: int) -> tuple[LivePlate, Figures, Box]:
        unit, height = self._unit, self._place.height
        pattern = "0" * minute_cells + ":00.0"
        baseline = (height + FIGURE_CAP * unit) / 2
        probe = Figures("lap", pattern, right=0, baseline=baseline, cap_px=FIGURE_CAP * unit)
        em = em_for_cap_height(LABEL_CAP * unit, "regular")
        label_px = advance_px("LAP", em, "regular")
        width = 2 * math.ceil((2 * SIDE * unit + label_px + _GAP * unit - probe.left) / 2)
        sheet = plate(width, height, unit)
        sheet.text("LAP", left=SIDE * unit, baseline=baseline, em_px=em, weight="regular", colour=palette.QUIET)
        figures = Figures("lap", pattern, right=width - SIDE * unit, baseline=baseline, cap_px=FIGURE_CAP * unit)
        place = Box(self._place.right - width, self._place.top, self._place.right, self._place.bottom)
        return LivePlate(sheet, coding=self._coding, layout=self._layout), figures, place


class CornerCard:
    """Paints corner cards, each once."""

    def __init__(self, place: Box, unit: float, *, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._place = place
        self._unit = unit
        self._coding = coding
        self._layout = layout
        self._cards: dict[CornerLabel, Sprite] = {}

    def card_for(self, label: CornerLabel) -> Sprite:
        """The card to lay at the place's left top corner."""
        if label not in self._cards:
            self._cards[label] = make_sprite(self._drawn(label).rgba(), coding=self._coding, layout=self._layout)
        return self._cards[label]

    def _drawn(self, label: CornerLabel) -> Sheet:
        unit, height = self._unit, self._place.height
        number_em, name_em = (
            em_for_cap_height(FIGURE_CAP * unit, "bold"),
            em_for_cap_height(NAME_CAP * unit, "regular"),
        )
        number_px = advance_px(str(label.number), number_em, "bold")
        fixed_px = (2 * SIDE + _ARROW + _GAP) * unit + number_px
        dot_px = 2 * _GAP * unit
        name = shortened(
            label.name or "", em_px=name_em, weight="regular", width_px=self._place.width - fixed_px - dot_px
        )
        name_px = dot_px + advance_px(name, name_em, "regular") if name else 0.0
        width = 2 * math.ceil((fixed_px + name_px) / 2)
        sheet = plate(width, height, unit)
        left = SIDE * unit + (_ARROW + _GAP) * unit * (label.side == "left")
        baseline = (height + FIGURE_CAP * unit) / 2
        sheet.text(str(label.number), left=left, baseline=baseline, em_px=number_em, weight="bold", colour=palette.INK)
        if name:
            self._draw_name(sheet, name, left + number_px, baseline, name_em)
        arrow_left = SIDE * unit if label.side == "left" else width - (SIDE + _ARROW) * unit
        self._draw_arrow(sheet, arrow_left, points_left=label.side == "left")
        return sheet

    def _draw_name(self, sheet: Sheet, name: str, left: float, baseline: float, em_px: int) -> None:
        unit = self._unit
        x, y, half = left + _GAP * unit, baseline - FIGURE_CAP * unit / 2, 4.5 * unit
        sheet.rounded((x - half, y - half, x + half, y + half), half, palette.QUIET)
        sheet.text(
            name, left=left + 2 * _GAP * unit, baseline=baseline, em_px=em_px, weight="regular", colour=palette.INK
        )

    def _draw_arrow(self, sheet: Sheet, left: float, *, points_left: bool) -> None:
        """A way that comes from below and bends to the side."""
        unit, top = self._unit, (sheet.height - _ARROW * self._unit) / 2

        def at(x: float, y: float) -> tuple[float, float]:
            return left + (x if points_left else 1 - x) * _ARROW * unit, top + y * _ARROW * unit

        bend = [at(0.70 - 0.22 * (1 - math.cos(a)), 0.54 - 0.22 * math.sin(a)) for a in _QUARTER]
        sheet.polyline([at(0.70, 0.93), *bend, at(0.34, 0.32)], 0.17 * _ARROW * unit, palette.INK)
        sheet.polygon([at(0.0, 0.32), at(0.40, 0.0), at(0.40, 0.64)], palette.INK)


_QUARTER = [math.pi / 2 * step / 8 for step in range(9)]
