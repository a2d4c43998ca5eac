"""Drawings on a still as one see-through picture: shapes with an edge that shows on any ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges import palette
from syncview.gauges.arrangement import SAFE_SHARE
from syncview.gauges.sheet import Box, Point, Sheet
from syncview.gauges.text import advance_px, em_for_cap_height, shortened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.gauges.drawing import Drawing

INK: palette.Colour = (240, 228, 66)
"""Okabe and Ito's yellow: neither pedal's colour, and bright on road and grass."""
EDGE: palette.Colour = (12, 15, 20)
_STROKE, _EDGE = 9.0, 4.0
"""Width of a line and of the dark edge on each side, in units (see `syncview.gauges.arrangement`)."""
_HEAD = 46.0
_DIM = 0.62
"""How much of the picture's light a spotlight takes away around it."""
_SOFT = 0.12
"""The spotlight's edge fades over this share of its radius."""
_LABEL_CAP, _LABEL_PAD = 30.0, 16.0
_RING = 72
"""Corners of the polygon that stands for an ellipse."""


def drawn_rgba(drawings: Sequence[Drawing], width: int, height: int, *, taken: Sequence[Box] = ()) -> NDArray[np.uint8]:
    """All drawings of a still over nothing, shape (height, width, 4), straight alpha.

    Labels keep clear of the `taken` parts of the picture and of each other where there is room.
    """
    sheet = Sheet(width, height)
    unit = min(width, height) / 1080 if height > width else height / 1080
    lights = [drawing for drawing in drawings if drawing.kind == "spotlight"]
    if lights:
        sheet.pixels[..., 3] = _DIM * np.min([_shade(light, width, height) for light in lights], axis=0)
    for drawing in drawings:
        _draw_shape(sheet, drawing, unit)
    occupied = list(taken)
    for drawing in drawings:
        if drawing.label:
            occupied.append(_draw_label(sheet, drawing, unit, occupied))
    return sheet.rgba()


def _on(sheet: Sheet, place: Point) -> Point:
    return place[0] * sheet.width, place[1] * sheet.height


def _shade(light: Drawing, width: int, height: int) -> NDArray[np.float32]:
    """0 inside the light, 1 outside, with a soft edge."""
    (x0, y0), (x1, y1) = light.begin, light.end
    across = ((np.arange(width, dtype=np.float32) + 0.5) / width - (x0 + x1) / 2) / (abs(x1 - x0) / 2)
    down = ((np.arange(height, dtype=np.float32) + 0.5) / height - (y0 + y1) / 2) / (abs(y1 - y0) / 2)
    radius = np.hypot(across[None, :], down[:, None])
    return np.clip((radius - 1) / _SOFT, 0, 1).astype(np.float32)


def _draw_shape(sheet: Sheet, drawing: Drawing, unit: float) -> None:
    for grow, colour in ((_EDGE * unit, EDGE), (0.0, INK)):
        width = _STROKE * unit + 2 * grow
        if drawing.kind == "line":
            sheet.polyline([_on(sheet, drawing.begin), _on(sheet, drawing.end)], width, colour)
        elif drawing.kind == "ellipse":
            sheet.polyline(_ring(sheet, drawing), width, colour)
        elif drawing.kind == "arrow":
            _draw_arrow(sheet, drawing, width, grow, unit, colour)


def _ring(sheet: Sheet, drawing: Drawing) -> list[Point]:
    (x0, y0), (x1, y1) = _on(sheet, drawing.begin), _on(sheet, drawing.end)
    angles = [2 * math.pi * step / _RING for step in range(_RING + 1)]
    middle_x, middle_y = (x0 + x1) / 2, (y0 + y1) / 2
    return [(middle_x + abs(x1 - x0) / 2 * math.cos(a), middle_y + abs(y1 - y0) / 2 * math.sin(a)) for a in angles]


def _draw_arrow(sheet: Sheet, drawing: Drawing, width: float, grow: float, unit: float, colour: palette.Colour) -> None:
    """A shaft and a head whose point lies at the arrow's end."""
    (x0, y0), (x1, y1) = _on(sheet, drawing.begin), _on(sheet, drawing.end)
    length = math.hypot(x1 - x0, y1 - y0)
    along_x, along_y = (x1 - x0) / length, (y1 - y0) / length
    head = min(_HEAD * unit, 0.6 * length)

    def at(along: float, aside: float) -> Point:
        return x1 - along * along_x - aside * along_y, y1 - along * along_y + aside * along_x

    sheet.polyline([(x0, y0), at(0.8 * head, 0)], width, colour)
    half = 0.5 * head
    # The dark edge is the same triangle, its sides moved outwards: the point goes out farther than the sides do.
    tip = grow * math.hypot(head, half) / half
    wide = half + grow * (math.hypot(head, half) + half) / head
    sheet.polygon([at(-tip, 0), at(head + grow, wide), at(head + grow, -wide)], colour)


def _draw_label(sheet: Sheet, drawing: Drawing, unit: float, occupied: Sequence[Box]) -> Box:
    """Write the label on a plate of its own near the shape, inside the safe area; where it lies."""
    em = em_for_cap_height(_LABEL_CAP * unit, "bold")
    pad, room = _LABEL_PAD * unit, (1 - 2 * SAFE_SHARE) * sheet.width
    text = shortened(drawing.label, em_px=em, weight="bold", width_px=room - 2 * pad)
    width, height = advance_px(text, em, "bold") + 2 * pad, _LABEL_CAP * unit + 2 * pad
    places = [_kept_inside(sheet, place, width, height) for place in _label_places(sheet, drawing, width, height, pad)]
    left, top = min(places, key=lambda place: _overlap(place, width, height, occupied))
    sheet.rounded((left, top, left + width, top + height), pad, palette.PLATE, opacity=palette.PLATE_OPACITY)
    sheet.text(text, left=left + pad, baseline=top + pad + _LABEL_CAP * unit, em_px=em, weight="bold",
               colour=palette.INK)  # fmt: skip
    return Box.around(left, top, left + width, top + height)


def _label_places(sheet: Sheet, drawing: Drawing, width: float, height: float, pad: float) -> list[Point]:
    """Left top corners to try, the best first: behind an arrow's tail, or around the shape; then up and down."""
    near = _near_places(sheet, drawing, width, height, pad)
    x, y = near[0]
    steps = [step * height / 2 for step in range(1, int(2 * sheet.height / height))]
    return [*near, *((x, y + side * step) for step in steps for side in (-1, 1))]


def _near_places(sheet: Sheet, drawing: Drawing, width: float, height: float, pad: float) -> list[Point]:
    (x0, y0), (x1, y1) = _on(sheet, drawing.begin), _on(sheet, drawing.end)
    if drawing.kind == "arrow":
        above, below = (x0 - width / 2, y0 - height - pad), (x0 - width / 2, y0 + pad)
        beside = [(x0 - width - pad, y0 - height / 2), (x0 + pad, y0 - height / 2)]
        ends = [above, below] if y0 < y1 else [below, above]
        return [*ends, *(beside if x0 < x1 else beside[::-1])]
    middle_x, middle_y = (x0 + x1 - width) / 2, (y0 + y1 - height) / 2
    return [
        (middle_x, min(y0, y1) - height - pad),
        (middle_x, max(y0, y1) + pad),
        (min(x0, x1) - width - pad, middle_y),
        (max(x0, x1) + pad, middle_y),
    ]


def _kept_inside(sheet: Sheet, place: Point, width: float, height: float) -> Point:
    edge_x, edge_y = SAFE_SHARE * sheet.width, SAFE_SHARE * sheet.height
    return (
        min(max(place[0], edge_x), sheet.width - edge_x - width),
        min(max(place[1], edge_y), sheet.height - edge_y - height),
    )


def _overlap(place: Point, width: float, height: float, occupied: Sequence[Box]) -> float:
    """How much of a plate there would cover what is drawn there already, in square pixels."""
    left, top = place
    return sum(
        max(0.0, min(left + width, box.right) - max(left, box.left))
        * max(0.0, min(top + height, box.bottom) - max(top, box.top))
        for box in occupied
    )
