"""A straight line through measurements of which some are wrong: offset against log time gives place and drift."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PRIOR_DRIFT = 200e-6
"""Standard deviation of the drift expected before anything is measured: quartz clocks of cameras and loggers keep
within ±100 ppm or so. Common practice, no source. It matters only where the measurements span a short time."""
REJECT_SIGMAS = 3.5
_MAD_TO_SIGMA = 1.4826


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """`y = at_pivot + slope * (x - pivot)`; place and slope are uncorrelated about the pivot."""

    pivot: float
    at_pivot: float
    slope: float
    sigma_at_pivot: float
    sigma_slope: float
    scatter: float
    """Robust standard deviation of the kept measurements about the line, relative to their stated sigma."""
    kept: NDArray[np.bool_]
    """Shape (n,), which measurements the line goes through."""

    def __call__(self, x: FloatArray) -> FloatArray:
        """The line's height at x."""
        return self.at_pivot + self.slope * (x - self.pivot)


def robust_line(x: FloatArray, y: FloatArray, sigma: FloatArray, *, prior_slope: float = PRIOR_DRIFT) -> Line:
    """Fit a line to measurements y ± sigma at x, all shape (n,), n >= 1, leaving out those that do not belong.

    Starts from the median line of all pairs (Theil-Sen, breakdown point 29 %), then repeats weighted least squares on
    what lies within `REJECT_SIGMAS`. The stated sigmas are widened, never narrowed, to what the scatter shows.
    """
    slope, height = _median_line(x, y, sigma, prior_slope)
    kept = np.ones(x.size, dtype=bool)
    line = Line(0.0, height, slope, 0.0, 0.0, 1.0, kept)
    for _ in range(10):
        residual = np.abs(y - line(x)) / sigma
        width = max(1.0, _MAD_TO_SIGMA * float(np.median(residual)))
        again = residual <= REJECT_SIGMAS * width
        line = weighted_line(x, y, sigma, again, prior_slope)
        if (again == kept).all():
            break
        kept = again
    return line


def weighted_line(x: FloatArray, y: FloatArray, sigma: FloatArray, kept: NDArray[np.bool_], prior_slope: float) -> Line:
    """Weighted least squares through the kept measurements, with the slope held near zero by its prior."""
    xs, ys, weight = x[kept], y[kept], 1.0 / sigma[kept] ** 2
    pivot = float(np.average(xs, weights=weight))
    at_pivot = float(np.average(ys, weights=weight))
    lever = float((weight * (xs - pivot) ** 2).sum())
    slope = float((weight * (xs - pivot) * (ys - at_pivot)).sum()) / (lever + prior_slope**-2)
    residual = (ys - at_pivot - slope * (xs - pivot)) / sigma[kept]
    freedom = max(1, xs.size - 2)
    scatter = float(np.sqrt((residual**2).sum() / freedom))
    widened = max(1.0, scatter)
    return Line(
        pivot,
        at_pivot,
        slope,
        widened / float(np.sqrt(weight.sum())),
        1.0 / float(np.sqrt(lever / widened**2 + prior_slope**-2)),
        scatter,
        kept,
    )


def _median_line(x: FloatArray, y: FloatArray, sigma: FloatArray, prior_slope: float) -> tuple[float, float]:
    i, j = np.triu_indices(min(x.size, 400), 1)
    chosen = np.linspace(0, x.size - 1, min(x.size, 400)).round().astype(int)
    dx = x[chosen[j]] - x[chosen[i]]
    far = np.abs(dx) > 0.2 * (np.ptp(x) or 1.0)
    slope = float(np.median((y[chosen[j]] - y[chosen[i]])[far] / dx[far])) if far.any() else 0.0
    # A slope that the lever arm cannot tell from noise is no slope.
    if np.ptp(x) * prior_slope < float(np.median(sigma)):
        slope = 0.0
    return slope, float(np.median(y - slope * x))
