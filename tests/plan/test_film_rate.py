"""Rates of retimed films."""

from __future__ import annotations

from fractions import Fraction

import pytest

from syncview.plan.film_rate import USUAL_RATES, film_rate


@pytest.mark.parametrize(
    ("recorded", "wanted"),
    [
        (Fraction(25), Fraction(25)),
        (Fraction(60000, 1001), Fraction(60000, 1001)),  # SMPTE ST 12-1: 59.94
        (Fraction(120), Fraction(60)),
        (Fraction(240000, 1001), Fraction(60000, 1001)),
        (Fraction(100), Fraction(50)),
        (Fraction(15), Fraction(15)),
    ],
)
def test_steady_recordings(recorded: Fraction, wanted: Fraction) -> None:
    assert film_rate(recorded, usual_step_s=1 / recorded, is_variable=False) == wanted


@pytest.mark.parametrize(
    ("step_ms", "wanted"), [("33.5", 30000), ("33.3", 30000), ("16.7", 60000), ("40", 24000), ("4", 60000)]
)
def test_variable_recordings_get_a_usual_rate(step_ms: str, wanted: int) -> None:
    rate = film_rate(Fraction(300, 7), usual_step_s=Fraction(step_ms) / 1000, is_variable=True)
    assert rate in USUAL_RATES
    assert round(rate * 1000) in (wanted, round(wanted * 1000 / 1001), 25000 if wanted == 24000 else wanted)


def test_no_rate() -> None:
    with pytest.raises(ValueError, match="without a frame rate"):
        film_rate(Fraction(0), usual_step_s=Fraction(1, 30), is_variable=False)
