"""Where the plates lie in a picture of any size, and where captions may go."""

from __future__ import annotations

from dataclasses import dataclass

from syncview.gauges.sheet import Box

SAFE_SHARE = 0.05
"""Nothing is drawn nearer to an edge than this share of the side (EBU R 95 calls the rest graphics-safe)."""
_LEAST_HEIGHT = 144
_CAPTION_SHARE = 0.22
"""Height kept for captions, of the picture's: two lines at the broadcast line height of 8 % and their plate."""
_NARROW = 0.5
"""Captions beside the see-saw need this share of the width, else they go above it."""

_WIDEST = 0.62
"""In upright pictures the see-saw takes this share of the width, and sizes follow from it instead of the height."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Places in pixels of the upright picture; all coordinates are even."""

    unit: float
    """Pixels for one of the design's units; 1 in a picture 1080 rows tall."""
    seesaw: Box
    """Bottom right."""
    lap: Box
    """Top right: room for 999 minutes; shorter times have a narrower plate at its right end."""
    card: Box
    """Top left, the widest that a corner card may become; below the lap time where the picture is narrow."""
    captions: Box
    """Captions inside it cover no gauge."""


def arrange(width: int, height: int) -> Arrangement:
    """Lay out a picture of `width` by `height` pixels; ValueError when it is too small for legible gauges."""
    safe_x, safe_y = width * SAFE_SHARE, height * SAFE_SHARE
    left, right, top, bottom = safe_x, width - safe_x, safe_y, height - safe_y
    unit = min(height / 1080, _WIDEST * width / SEESAW_WIDTH)
    if height < _LEAST_HEIGHT or unit * 1080 < _LEAST_HEIGHT:
        raise ValueError(f"a picture of {width} x {height} is too small for gauges")
    gap = 20 * unit
    seesaw = _inside(right - SEESAW_WIDTH * unit, bottom - SEESAW_HEIGHT * unit, right, bottom)
    lap = _inside(right - LAP_WIDTH * unit, top, right, top + CARD_HEIGHT * unit)
    beside = lap.left - gap - left >= 520 * unit
    card_top = top if beside else lap.bottom + gap
    card = _inside(left, card_top, lap.left - gap if beside else right, card_top + CARD_HEIGHT * unit)
    if seesaw.left - gap - left >= _NARROW * width:
        captions = _inside(left, bottom - _CAPTION_SHARE * height, seesaw.left - gap, bottom)
    else:
        captions = _inside(left, seesaw.top - gap - _CAPTION_SHARE * height, right, seesaw.top - gap)
    return Arrangement(unit=unit, seesaw=seesaw, lap=lap, card=card, captions=captions)


SEESAW_WIDTH = 448
SEESAW_HEIGHT = 310
LAP_WIDTH = 424
CARD_HEIGHT = 84
"""Sizes in units."""


def _inside(left: float, top: float, right: float, bottom: float) -> Box:
    """The largest box with even coordinates inside the given sides."""
    outer = Box.around(left, top, right, bottom)
    return Box(
        outer.left + (2 if outer.left < left else 0),
        outer.top + (2 if outer.top < top else 0),
        outer.right - (2 if outer.right > right else 0),
        outer.bottom - (2 if outer.bottom > bottom else 0),
    )
