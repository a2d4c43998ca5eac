"""Rows of figures in cells of fixed width, so that nothing moves while they change."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges import palette
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.text import advance_px, digit_cell_px, em_for_cap_height

if TYPE_CHECKING:
    from syncview.gauges.fonts import Weight
    from syncview.gauges.live_plate import LivePlate

MISSING = "–"
"""Stands for a value that the log does not have."""


class Figures:
    """Figures written right-aligned into the cells of `pattern`, in which a 0 stands for any digit."""

    def __init__(
        self, name: str, pattern: str, *, right: float, baseline: float, cap_px: float, weight: Weight = "bold"
    ) -> None:
        self._name = name
        self._baseline = round(baseline)
        self._weight: Weight = weight
        self._shown: str | None = None
        self._em_px = em_for_cap_height(cap_px, weight)
        top, bottom = baseline - cap_px * 1.08, baseline + cap_px * 0.08
        self.boxes: list[Box] = []
        edge = 2 * round(right / 2)
        for sign in reversed(pattern):
            left = edge - self._cell_px(sign)
            self.boxes.insert(0, Box.around(left, top, edge, bottom))
            edge = left

    @property
    def left(self) -> int:
        """Left edge of the first cell."""
        return self.boxes[0].left

    def show(self, plate: LivePlate, text: str) -> None:
        """Write `text` on the plate, always the same one; ValueError when it is longer than the pattern."""
        if len(text) > len(self.boxes):
            raise ValueError(f"{text!r} does not fit into {len(self.boxes)} cells of the {self._name} gauge")
        cells = text.rjust(len(self.boxes))
        for number, (sign, box) in enumerate(zip(cells, self.boxes, strict=True)):
            if self._shown is None or self._shown[number] != sign:
                paint = None if sign == " " else partial(self._paint, sign=sign, box=box)
                plate.show(f"{self._name} {number}", sign, box, paint)
        self._shown = cells

    def show_missing(self, plate: LivePlate) -> None:
        """Write a dash into the middle cell and leave the others empty."""
        middle = len(self.boxes) // 2
        self.show(plate, MISSING.ljust(len(self.boxes) - middle))

    def _cell_px(self, sign: str) -> int:
        if sign == "0":
            return digit_cell_px(self._em_px, self._weight)
        return 2 * int(np.ceil(advance_px(sign, self._em_px, self._weight) / 2))

    def _paint(self, sheet: Sheet, *, sign: str, box: Box) -> None:
        left = box.left + (box.width - advance_px(sign, self._em_px, self._weight)) / 2
        sheet.text(sign, left=left, baseline=self._baseline, em_px=self._em_px, weight=self._weight, colour=palette.INK)
