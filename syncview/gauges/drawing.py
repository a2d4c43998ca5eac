"""What a coach draws on a still: plain values in shares of the picture, so that they fit any size of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from syncview.errors import SyncviewError

Kind = Literal["arrow", "line", "ellipse", "spotlight"]
KINDS: tuple[Kind, ...] = get_args(Kind)
Place = tuple[float, float]
"""Across and down, each a share of the upright picture from its left top corner."""
LONGEST_LABEL = 60
LEAST_LENGTH = 0.01
"""Of the picture's width or height: what is smaller is a slip of the hand. No source."""


class DrawingError(SyncviewError):
    """A drawing cannot be as asked."""

    exit_code = 8


@dataclass(frozen=True, slots=True)
class Drawing:
    """One shape on the still at a note."""

    kind: Kind
    begin: Place
    """The arrow's tail, an end of the line, or a corner of the box around the ellipse or the light."""
    end: Place
    """The arrow's head, the line's other end, or the box's opposite corner."""
    label: str = ""
    """Written beside it; empty for none."""


def checked(drawing: Drawing) -> Drawing:
    """The drawing, when it lies in the picture and can be seen; raises `DrawingError`."""
    for across, down in (drawing.begin, drawing.end):
        if not (0 <= across <= 1 and 0 <= down <= 1):
            raise DrawingError(
                f"the place {across:g},{down:g} is not in the picture", "Give shares of its width and height, 0 to 1."
            )
    width, height = (abs(drawing.end[axis] - drawing.begin[axis]) for axis in (0, 1))
    if drawing.kind in ("ellipse", "spotlight"):
        too_small = min(width, height) < LEAST_LENGTH
    else:
        too_small = math.hypot(width, height) < LEAST_LENGTH
    if too_small:
        raise DrawingError(f"the {drawing.kind} is too small to be seen", "Give two places farther apart.")
    if len(drawing.label) > LONGEST_LABEL:
        raise DrawingError(
            f"a label of {len(drawing.label)} characters does not fit a picture", f"Keep to {LONGEST_LABEL}."
        )
    if any(ord(sign) < 32 or ord(sign) == 127 for sign in drawing.label):
        raise DrawingError("the label holds a control character", "Remove it.")
    return drawing
