"""The rate of a recording, judged from the frame times and not from what its header claims."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from syncview.media.frame_index import FrameIndex


@dataclass(frozen=True, slots=True)
class FrameRate:
    """How frames follow one another."""

    nominal: Fraction
    """Frames a second by the most common step."""
    is_variable: bool
    """True when steps differ by more than the rounding of the stamps to ticks."""


def rate_of(index: FrameIndex, *, stated_rates: tuple[Fraction, ...]) -> FrameRate:
    """Rate by the steps between frames; a stated rate is taken when it explains the steps within a tick.

    Stamps in a coarse time base (1 ms in Matroska) show a steady rate as steps that differ by one tick; the stated
    rate then tells 30 from 30000/1001.
    """
    steps = np.diff(index.pts)
    if len(steps) == 0:
        shown = int(index.duration[0]) * index.time_base
        return FrameRate(stated_rates[0] if stated_rates else 1 / shown if shown else Fraction(1), is_variable=False)
    values, counts = np.unique(steps, return_counts=True)
    common = int(values[np.argmax(counts)])
    is_variable = int(values[-1] - values[0]) > 1
    near = steps[np.abs(steps - common) <= 1]
    mean_step_s = Fraction(int(near.sum()), len(near)) * index.time_base
    slack = index.time_base * Fraction(3, 2) / len(near)  # both ends of the run are rounded
    for rate in stated_rates:
        if abs(1 / rate - mean_step_s) <= (index.time_base if is_variable else slack):
            return FrameRate(rate, is_variable)
    return FrameRate(1 / mean_step_s if not is_variable else 1 / (common * index.time_base), is_variable)
