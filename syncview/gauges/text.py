"""Text of any script as coverage masks, each run in the first font that can write it."""

from __future__ import annotations

import unicodedata
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges.fonts import Weight, characters, font, font_files

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray


def unwritable(text: str, weight: Weight = "regular") -> str:
    """The characters of `text` that none of the fonts can write, each once."""
    known = frozenset().union(*(characters(path) for path in font_files(weight)))
    return "".join(dict.fromkeys(sign for sign in text if ord(sign) not in known))


def em_for_cap_height(cap_height_px: float, weight: Weight) -> int:
    """The em, in whole pixels, at which capitals of the first font are at least `cap_height_px` tall."""
    probe = 1000
    _left, top, _right, bottom = font(font_files(weight)[0], probe).getbbox("H", anchor="ls")
    return int(np.ceil(cap_height_px * probe / (bottom - top)))


def advance_px(text: str, em_px: int, weight: Weight) -> float:
    """Width that `text` takes on its line."""
    return float(sum(font(path, em_px).getlength(run) for path, run in _runs(text, weight)))


@cache
def digit_cell_px(em_px: int, weight: Weight) -> int:
    """Even width nearest to the widest digit, so that changing figures do not move."""
    widest = max(advance_px(digit, em_px, weight) for digit in "0123456789–")
    return 2 * round(widest / 2)


def draw_text(
    mask: NDArray[np.uint8], text: str, *, left_px: float, baseline_px: int, em_px: int, weight: Weight
) -> None:
    """Add the text's coverage (0 to 255) to `mask`, shape (rows, columns); what lies outside is cut off."""
    from PIL import Image, ImageDraw

    image = Image.fromarray(mask)
    pen = ImageDraw.Draw(image)
    for path, run in _runs(text, weight):
        face = font(path, em_px)
        pen.text((left_px, baseline_px), run, font=face, fill=255, anchor="ls")
        left_px += face.getlength(run)
    mask[...] = np.asarray(image)


def shortened(text: str, *, em_px: int, weight: Weight, width_px: float) -> str:
    """The text, or as much of it as fits into `width_px` with an ellipsis."""
    if advance_px(text, em_px, weight) <= width_px:
        return text
    for length in range(len(text) - 1, 0, -1):
        short = text[:length].rstrip() + "…"
        if advance_px(short, em_px, weight) <= width_px:
            return short
    return "…"


def _runs(text: str, weight: Weight) -> list[tuple[Path, str]]:
    """The text cut where the font has to change.

    Text with right-to-left letters stays one run in one font, so that the layout engine orders it as a whole.
    """
    files = font_files(weight)
    if any(unicodedata.bidirectional(sign) in ("R", "AL") for sign in text):
        return [(max(files, key=lambda path: _written(text, path)), text)]
    runs: list[tuple[Path, str]] = []
    for sign in text:
        clings = runs and (unicodedata.combining(sign) or sign.isspace())
        able = next((path for path in files if ord(sign) in characters(path)), files[-1])
        if runs and (clings or runs[-1][0] == able):
            runs[-1] = (runs[-1][0], runs[-1][1] + sign)
        else:
            runs.append((able, sign))
    return runs


def _written(text: str, path: Path) -> int:
    return sum(ord(sign) in characters(path) for sign in text)
