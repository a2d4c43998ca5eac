"""Colours of the gauges, after Okabe and Ito's set for all kinds of colour vision."""

from __future__ import annotations

Colour = tuple[int, int, int]
"""Red, green, blue, 0 to 255, in the sRGB sense."""

PLATE: Colour = (12, 15, 20)
PLATE_OPACITY = 0.76
"""White text keeps at least 4.5:1 on it over a white picture (tested on rendered frames)."""
INK: Colour = (255, 255, 255)
QUIET: Colour = (214, 220, 228)
"""Labels: less loud than figures."""
TRACK: Colour = (38, 43, 51)
"""The empty part of the bar; opaque, so that bar colours keep 3:1 against it over any picture."""
LINE: Colour = (150, 159, 171)
BRAKE: Colour = (236, 112, 20)
"""#D55E00 lightened."""
BRAKE_HATCH: Colour = (140, 58, 0)
THROTTLE: Colour = (58, 160, 222)
"""#0072B2 lightened to keep 3:1 against the track."""
AHEAD: Colour = (64, 190, 150)
"""#009E73 lightened; tells gain from pedals by hue and by its place."""
BEHIND: Colour = (214, 134, 178)
"""#CC79A7 lightened."""
DOT: Colour = (240, 228, 66)
"""#F0E442."""
