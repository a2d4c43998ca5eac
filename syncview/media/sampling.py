"""Samples of a plane between its grid points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_ONE_MAP: Any = None
"""OpenCV takes places as one array of pairs or as two arrays; None is the second of one, which its types leave out."""


def sampled(values: NDArray[Any], places: NDArray[np.float32], *, is_relative: bool = False) -> NDArray[Any]:
    """Values at `places`, shape (rows, columns, 2) of column and row, linearly between grid points; edges go on.

    With `is_relative` places count from each result's own grid point. The type of `values` is kept, and rounded to
    where it is whole numbers.
    """
    import cv2

    how = cv2.INTER_LINEAR | (cv2.WARP_RELATIVE_MAP if is_relative else 0)
    return np.asarray(cv2.remap(values, places, _ONE_MAP, how, borderMode=cv2.BORDER_REPLICATE))
