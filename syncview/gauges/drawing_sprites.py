"""Drawings on a still turned into one sprite for a picture: shapes with an edge that shows on any ground."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges import palette
from syncview.gauges.sheet import Point, Sheet
from syncview.gauges.sprites import Sprite, make_sprite
from syncview.gauges.text import advance_px, em_for_cap_height, shortened

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.drawing import Drawing
    from syncview.media.planes import PlaneLayout

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


def drawn_sprite(
    drawings: Sequence[Drawing], width: int, height: int, *, coding: ColourCoding, layout: PlaneLayout
) -> Sprite:
    """All drawings of a still as one sprite of the picture's size (even sides)."""
    return make_sprite(drawn_rgba(drawings, width, height), coding=coding, layout=layout)


def drawn_rgba(drawings: Sequence[Drawing], width: int, height: int) -> NDArray[np.uint8]:
    """All drawings of a still over nothing, shape (height, width, 4), straight alpha."""
    sheet = Sheet(width, height)
    unit = min(width, height) / 1080 if height > width else height / 1080
    lights = [drawing for drawing in drawings if drawing.kind == "spotlight"]
    if lights:
        sheet.pixels[..., 3] = _DIM * np.min([_shade(light, width, height) for light in lights], axis=0)
    for drawing in drawings:
        _draw_shape(sheet, drawing, unit)
    for drawing in drawings:
        if drawing.label:
            _draw_label(sheet, drawing, unit)
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


def _draw_label(sheet: Sheet, drawing: Drawing, unit: float) -> None:
    """The label on a plate: at an arrow's tail, else above the shape; moved where it would leave the safe area."""
    em = em_for_cap_height(_LABEL_CAP * unit, "bold")
    pad, edge_x, edge_y = _LABEL_PAD * unit, 0.05 * sheet.width, 0.05 * sheet.height
    text = shortened(drawing.label, em_px=em, weight="bold", width_px=sheet.width - 2 * (edge_x + pad))
    width, height = advance_px(text, em, "bold") + 2 * pad, _LABEL_CAP * unit + 2 * pad
    (x0, y0), (x1, y1) = _on(sheet, drawing.begin), _on(sheet, drawing.end)
    if drawing.kind == "arrow":
        left = x0 - width / 2
        top = y0 - height - pad if y0 < y1 else y0 + pad
    else:
        left, top = (x0 + x1 - width) / 2, min(y0, y1) - height - pad
        if top < edge_y:
            top = max(y0, y1) + pad
    left = min(max(left, edge_x), sheet.width - edge_x - width)
    top = min(max(top, edge_y), sheet.height - edge_y - height)
    sheet.rounded((left, top, left + width, top + height), pad, palette.PLATE, opacity=palette.PLATE_OPACITY)
    sheet.text(text, left=left + pad, baseline=top + pad + _LABEL_CAP * unit, em_px=em, weight="bold",
               colour=palette.INK)  # fmt: skip
