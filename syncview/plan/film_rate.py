"""How many pictures a second a retimed film has."""

from __future__ import annotations

import math
from fractions import Fraction

USUAL_RATES = tuple(Fraction(*rate) for rate in (
    (24000, 1001), (24, 1), (25, 1), (30000, 1001), (30, 1), (48, 1), (50, 1), (60000, 1001), (60, 1),
))  # fmt: skip
"""Rates of SMPTE ST 2036-1 and ST 274 that players and editing programs know."""
_MOST = USUAL_RATES[-1]
_AS_GOOD = Fraction(2, 100)
"""A usual rate this much below the recording's own serves as well: a phone's 30 is often 29.8 on the whole."""


def film_rate(recorded_rate: Fraction, *, usual_step_s: Fraction, is_variable: bool) -> Fraction:
    """The film's rate: the recording's own; of a high-speed one the largest whole part of it up to 60; of one with
    variable rate the lowest usual rate that has a picture for each of its usual steps.

    Raises:
        ValueError: The recording has no rate.
    """
    if recorded_rate <= 0 or usual_step_s <= 0:
        raise ValueError("a recording without a frame rate")
    if not is_variable:
        return recorded_rate / math.ceil(recorded_rate / _MOST)
    needed = (1 - _AS_GOOD) / usual_step_s
    return next((rate for rate in USUAL_RATES if rate >= needed), _MOST)
