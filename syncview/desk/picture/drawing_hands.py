"""From the hand to drawings on a still and back: all in shares of the picture."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from syncview.gauges.drawing import Drawing, DrawingError, checked

if TYPE_CHECKING:
    from collections.abc import Sequence

    from syncview.desk.picture.fit import Fit, Place
    from syncview.gauges.drawing import Kind

End = Literal["begin", "end", "both"]
NEAR_PX = 10.0
"""A pointer this near to a shape means it (no source)."""
_FIGURES = 4
"""Shares are kept to a tenth of a thousandth: less than half a pixel of a picture 3840 pixels wide."""


def drawn(kind: Kind, begin: Place, end: Place, *, label: str = "") -> Drawing | None:
    """The drawing between two places; None when it is too small to be meant."""
    try:
        return checked(Drawing(kind, _rounded(begin), _rounded(end), label))
    except DrawingError:
        return None


def moved(drawing: Drawing, across: float, down: float, *, end: End = "both") -> Drawing:
    """The drawing, or one end of it, moved by shares; it stops at the picture's edge and keeps its size."""
    if end != "both":
        old = drawing.begin if end == "begin" else drawing.end
        new = _rounded((min(max(old[0] + across, 0.0), 1.0), min(max(old[1] + down, 0.0), 1.0)))
        changed = replace(drawing, begin=new) if end == "begin" else replace(drawing, end=new)
        return drawn(changed.kind, changed.begin, changed.end, label=changed.label) or drawing
    xs, ys = (drawing.begin[0], drawing.end[0]), (drawing.begin[1], drawing.end[1])
    across = min(max(across, -min(xs)), 1 - max(xs))
    down = min(max(down, -min(ys)), 1 - max(ys))
    return replace(
        drawing,
        begin=_rounded((drawing.begin[0] + across, drawing.begin[1] + down)),
        end=_rounded((drawing.end[0] + across, drawing.end[1] + down)),
    )


def drawing_under(drawings: Sequence[Drawing], fit: Fit, x: float, y: float, *, near_px: float = NEAR_PX) -> int | None:
    """Which drawing a pointer means, the last drawn first; None for none."""
    for number in range(len(drawings) - 1, -1, -1):
        if _away_px(drawings[number], fit, x, y) <= near_px:
            return number
    return None


def _away_px(drawing: Drawing, fit: Fit, x: float, y: float) -> float:
    begin, end = fit.point_of(drawing.begin), fit.point_of(drawing.end)
    if drawing.kind in ("arrow", "line"):
        return _from_line(begin, end, (x, y))
    half_width, half_height = abs(end[0] - begin[0]) / 2, abs(end[1] - begin[1]) / 2
    middle = ((begin[0] + end[0]) / 2, (begin[1] + end[1]) / 2)
    outward = math.hypot((x - middle[0]) / half_width, (y - middle[1]) / half_height)
    if drawing.kind == "spotlight" and outward <= 1:
        return 0.0
    return abs(outward - 1) * min(half_width, half_height)


def _from_line(begin: Place, end: Place, point: Place) -> float:
    along = (end[0] - begin[0], end[1] - begin[1])
    length2 = along[0] ** 2 + along[1] ** 2
    share = ((point[0] - begin[0]) * along[0] + (point[1] - begin[1]) * along[1]) / length2 if length2 else 0.0
    share = min(max(share, 0.0), 1.0)
    return math.hypot(begin[0] + share * along[0] - point[0], begin[1] + share * along[1] - point[1])


def _rounded(place: Place) -> Place:
    return round(place[0], _FIGURES), round(place[1], _FIGURES)
