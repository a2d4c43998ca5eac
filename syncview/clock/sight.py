"""Sight: the same place looks the same each lap, so the pictures tell how long it took to come round to a place again.

A whole lap off, or with a foreign log, pictures and logged lap times disagree. Needs two laps or more. Pure functions:
pictures in, values out.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.clock.places import peak_or_border

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
GreyPicture = NDArray[np.uint8]

COLUMNS, ROWS = 48, 27
"""Size at which places are compared: what a driver would recognise with half-closed eyes."""
STEP_S = 0.06
"""Pictures come at least about this often; places are found between them by interpolation."""
LEAST_LIKENESS = 0.45
"""Correlation of two pictures of one place, seen on two laps. No source."""
LEAST_LEAD = 0.06
"""By how much the best match must beat the best one at another place. No source."""
CLOSE_S = 0.5
"""Pictures nearer in time than this to the best match are of the same place."""


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """What was seen, reduced to what tells places apart."""

    time_s: FloatArray
    """Shape (n,), media times."""
    picture: Float32Array
    """Shape (n, ROWS * COLUMNS): contrast against the surroundings, zero mean, unit length."""


def reduced(pictures: Iterable[tuple[float, GreyPicture]]) -> Views:
    """Keep the structure of small grey pictures: exposure, haze and headlights fall away with the local mean."""
    import cv2

    times: list[float] = []
    kept: list[Float32Array] = []
    for media_s, picture in pictures:
        small = cv2.resize(picture, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA).astype(np.float32)
        contrast = small - cv2.GaussianBlur(small, (0, 0), 3.0)
        contrast /= np.sqrt(cv2.GaussianBlur(contrast**2, (0, 0), 5.0)) + 4.0
        flat = np.asarray(contrast, dtype=np.float32).ravel()
        flat = flat - flat.mean()
        times.append(media_s)
        kept.append(flat / (np.linalg.norm(flat) + 1e-9))
    width = ROWS * COLUMNS
    return Views(np.array(times), np.array(kept, dtype=np.float32).reshape(-1, width))


def seen_lag_s(views: Views, moment_s: float, shortest_s: float, longest_s: float) -> float | None:
    """Time until the place under a moment is seen again, between two times; by the best match of the pictures.

    None when it is not seen again there, looks like another place, or looks like nothing.
    """
    i = _nearest(views.time_s, moment_s)
    return None if i is None else _lag(views, i, shortest_s, longest_s)


def _nearest(time_s: FloatArray, moment: float) -> int | None:
    """Index of the picture nearest to a moment; None when there is none within two steps."""
    if not time_s.size:
        return None
    i = int(np.argmin(np.abs(time_s - moment)))
    return i if abs(time_s[i] - moment) <= 2 * STEP_S else None


def _lag(views: Views, i: int, shortest_s: float, longest_s: float) -> float | None:
    begin = views.time_s[i]
    first, stop = np.searchsorted(views.time_s, (begin + shortest_s, begin + longest_s))
    # The pictures must cover the whole stretch in which the place may come again.
    wanted = (longest_s - shortest_s) / STEP_S
    if stop - first < max(5, 0.4 * wanted):
        return None
    likeness = (views.picture[first:stop] @ views.picture[i]).astype(np.float64)
    place, height = peak_or_border(likeness)
    times = views.time_s[first:stop]
    at = float(np.interp(place, np.arange(times.size), times))
    lead = height - float(likeness[np.abs(times - at) > CLOSE_S].max(initial=-1.0))
    if height < LEAST_LIKENESS or lead < LEAST_LEAD or not 0 < place < times.size - 1:
        return None
    return at - float(begin)
