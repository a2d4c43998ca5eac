"""The lap as a small map: its line drawn once, corner numbers where there is room, and a dot that moves along it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges import palette
from syncview.gauges.plates import plate
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.sprites import Sprite, make_sprite
from syncview.gauges.text import advance_px, em_for_cap_height

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.gauges.colour import ColourCoding
    from syncview.media.planes import PlaneLayout

_EDGE = 26.0
"""Between the line and the plate's edge; with numbers, more."""
_NUMBER_EDGE = 46.0
_LINE_WIDTH = 7.0
_DOT_RADIUS, _RING = 10.0, 4.0
_START_HALF = 11.0
_NUMBER_CAP = 21.0
_LEAST_NUMBER_PX = 8.0
"""Numbers with lower capitals cannot be read at the size of a map (no source)."""
_WORTH_TURNING = 1.15
_STEPS = 720
"""Points in which the line is drawn and the dot's place is known."""


@dataclass(frozen=True, slots=True, eq=False)
class MapOutline:
    """The lap's closed line seen from above."""

    x_m: NDArray[np.float64]
    """Shape (n,), to the east, at even steps of lap distance from the start line on; the first is not repeated."""
    y_m: NDArray[np.float64]
    """To the north."""
    lap_length_m: float
    corners: tuple[tuple[int, float], ...] = ()
    """Number and lap distance of each apex."""

    def __post_init__(self) -> None:
        if self.x_m.shape != self.y_m.shape or self.x_m.size < 8 or not self.lap_length_m > 0:
            raise ValueError("a map needs a line of eight points or more, and a lap length")
        if not (np.isfinite(self.x_m).all() and np.isfinite(self.y_m).all()):
            raise ValueError("a map's line has no holes")


class MapPlate:
    """The plate, drawn on construction, and the dot."""

    def __init__(self, outline: MapOutline, place: Box, unit: float, *, hangs_low: bool, coding: ColourCoding,
                 layout: PlaneLayout) -> None:  # fmt: skip
        self._unit = unit
        self._length_m = outline.lap_length_m
        number_px = max(_NUMBER_CAP * unit, _LEAST_NUMBER_PX)
        edge = max((_NUMBER_EDGE if outline.corners else _EDGE) * unit, number_px * 1.6)
        self._points, size = _fitted(outline, place, edge)
        top = place.bottom - size[1] if hangs_low else place.top
        self.place = Box(place.left, top, place.left + size[0], top + size[1])
        """Where the plate lies: as large as the map needs, at the left of its room."""
        sheet = plate(*size, unit)
        self._draw_line(sheet)
        self._draw_numbers(sheet, outline, number_px)
        self.sprite: Sprite = make_sprite(sheet.rgba(), coding=coding, layout=layout)
        self._dot = make_sprite(self._drawn_dot().rgba(), coding=coding, layout=layout)
        self._dot_places = self._places_of_dot()

    def dot_at(self, lap_distance_m: float) -> tuple[Sprite, int, int]:
        """The dot and where it lies on the picture."""
        step = int(lap_distance_m / self._length_m * _STEPS) % _STEPS
        x, y = self._dot_places[step]
        return self._dot, x, y

    def _draw_line(self, sheet: Sheet) -> None:
        ring = [(float(x), float(y)) for x, y in np.vstack((self._points, self._points[:1]))]
        sheet.polyline(ring, _LINE_WIDTH * self._unit, palette.QUIET)
        (x, y), (ahead_x, ahead_y) = self._points[0], self._points[2]
        way = np.array([ahead_x - x, ahead_y - y]) / max(float(np.hypot(ahead_x - x, ahead_y - y)), 1e-9)
        across = np.array([-way[1], way[0]]) * _START_HALF * self._unit
        ends = [(float(x - across[0]), float(y - across[1])), (float(x + across[0]), float(y + across[1]))]
        sheet.polyline(ends, 9 * self._unit, palette.PLATE)
        sheet.polyline(ends, 5 * self._unit, palette.INK)

    def _draw_numbers(self, sheet: Sheet, outline: MapOutline, cap_px: float) -> None:
        """On the outside of the bend or else inside; left out where they would touch the line or each other."""
        em = em_for_cap_height(cap_px, "regular")
        taken: list[tuple[float, float, float, float]] = []
        for number, lap_distance_m in outline.corners:
            text = str(number)
            half = np.array([advance_px(text, em, "regular") / 2, cap_px / 2])
            for middle in self._beside(lap_distance_m, half):
                box = (*(middle - half - 2), *(middle + half + 2))
                if self._is_clear(sheet, box, taken):
                    taken.append(box)
                    left, baseline = float(middle[0] - half[0]), float(middle[1] + half[1])
                    sheet.text(text, left=left, baseline=baseline, em_px=em, weight="regular", colour=palette.QUIET)
                    break

    def _beside(self, lap_distance_m: float, half: NDArray[np.float64]) -> list[NDArray[np.float64]]:
        step = round(lap_distance_m / self._length_m * _STEPS)
        here, before, after = (self._points[(step + aside) % _STEPS] for aside in (0, -12, 12))
        out = here - (before + after) / 2
        size = float(np.hypot(*out))
        if size < 1e-6:
            way = after - before
            out, size = np.array([-way[1], way[0]]), float(np.hypot(*way))
        out = out / max(size, 1e-9)
        reach = float(np.abs(out) @ half) + (_LINE_WIDTH / 2 + 5) * self._unit
        return [here + side * share * reach * out for share in (1.0, 1.35, 1.8) for side in (1, -1)]

    def _is_clear(self, sheet: Sheet, box: tuple[float, ...], taken: list[tuple[float, float, float, float]]) -> bool:
        left, top, right, bottom = box
        edge = 6 * self._unit
        if left < edge or top < edge or right > sheet.width - edge or bottom > sheet.height - edge:
            return False
        x, y, wide = self._points[:, 0], self._points[:, 1], _LINE_WIDTH / 2 * self._unit
        if ((x > left - wide) & (x < right + wide) & (y > top - wide) & (y < bottom + wide)).any():
            return False
        return not any(left < r and l < right and top < b and t < bottom for l, t, r, b in taken)  # noqa: E741

    def _drawn_dot(self) -> Sheet:
        radius, ring = _DOT_RADIUS * self._unit, _RING * self._unit
        side = 2 * int(np.ceil(radius + ring))
        sheet, middle = Sheet(side, side), side / 2
        for reach, colour in ((radius + ring, palette.PLATE), (radius, palette.DOT)):
            sheet.rounded((middle - reach, middle - reach, middle + reach, middle + reach), reach, colour)
        return sheet

    def _places_of_dot(self) -> list[tuple[int, int]]:
        """For each step the even place on the picture of the dot's left top corner."""
        corner = self._points - self._dot.width / 2 + (self.place.left, self.place.top)
        return [(int(x), int(y)) for x, y in 2 * np.rint(corner / 2)]


def _fitted(outline: MapOutline, place: Box, edge: float) -> tuple[NDArray[np.float64], tuple[int, int]]:
    """The line's points in pixels of a plate that is just large enough, shape (_STEPS, 2), and the plate's size."""
    at = np.arange(_STEPS) / _STEPS
    known = np.arange(outline.x_m.size) / outline.x_m.size
    line = np.interp(at, known, outline.x_m, period=1.0) - 1j * np.interp(at, known, outline.y_m, period=1.0)
    room = np.array([place.width - 2 * edge, place.height - 2 * edge])
    line = line * np.exp(1j * _best_turn(line, room))
    points = np.column_stack((line.real, line.imag))
    spans = np.maximum(np.ptp(points, axis=0), 1e-6)
    scale = float((room / spans).min())
    size = (2 * np.ceil((spans * scale + 2 * edge) / 2)).astype(int)
    size = np.minimum(size, [place.width, place.height])
    middle = points.min(axis=0) + spans / 2
    return (points - middle) * scale + size / 2, (int(size[0]), int(size[1]))


def _best_turn(line: NDArray[np.complex128], room: NDArray[np.float64]) -> float:
    """The turn that lets the map be largest; none, so that north is up, where it gains little."""
    turns = np.radians(np.arange(-90, 90, 5))
    turned = line[:, None] * np.exp(1j * turns)[None, :]
    scale = np.minimum(room[0] / np.ptp(turned.real, axis=0), room[1] / np.ptp(turned.imag, axis=0))
    upright = scale[np.argmin(np.abs(turns))]
    return float(turns[np.argmax(scale)]) if scale.max() >= _WORTH_TURNING * upright else 0.0
