"""Arrays of samples as Qt's pictures, without a copy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtGui import QImage

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def image_over(samples: NDArray[np.uint8], form: QImage.Format) -> QImage:
    """The picture of shape (rows, columns, bytes per pixel), C-contiguous; keep the array as long as the picture."""
    rows, columns, pixel_bytes = samples.shape
    image: QImage = QImage(samples.data, columns, rows, pixel_bytes * columns, form)  # type: ignore[call-overload]
    return image
