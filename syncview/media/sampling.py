"""Samples of a plane between its grid points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_ONE_MAP: Any = None
"""OpenCV takes places as two arrays or as one of pairs; None is the second of one, which its types leave out."""


def sampled(values: NDArray[Any], places: NDArray[np.float32], rows: NDArray[np.float32] | None = None) -> NDArray[Any]:
    """Values at `places`, linearly between grid points; outside the edges go on.

    `places` are pairs of column and row, shape (..., 2), or columns alone with the `rows` beside them. The type of
    `values` is kept; whole numbers are rounded.
    """
    import cv2

    second = _ONE_MAP if rows is None else rows
    return np.asarray(cv2.remap(values, places, second, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
