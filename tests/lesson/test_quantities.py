"""Quantities in words, in both systems."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.lesson.quantities import from_si, in_system


@pytest.mark.parametrize(
    ("said", "metric", "imperial"),
    [
        # Common practice check values (no source): 79 °F = 26.1 °C, 3 US gal = 11.36 L. The others: factors of
        # NIST SP 811, B.8 and B.9: 1 US gal 3.785 412 L, 1 psi 6.894 757 kPa, 1 lb 0.453 592 37 kg, 1 in 25.4 mm.
        ("79 °F", "26.1 °C", "79 °F"),
        ("26.1 °C", "26.1 °C", "79.0 °F"),
        ("3 US gal", "11.36 L", "3 US gal"),
        ("3 gallons", "11.36 L", "3 US gal"),
        ("12 L", "12 L", "3.17 US gal"),
        ("12,5 litres", "12.5 L", "3.30 US gal"),
        ("1.8 bar", "1.8 bar", "26.1 psi"),
        ("26.1 psi", "1.80 bar", "26.1 psi"),
        ("180 kPa", "180 kPa", "26.1 psi"),
        ("100 kg", "100 kg", "220.5 lb"),
        ("50 lbs", "22.7 kg", "50 lb"),
        ("60 mm", "60 mm", "2.36 in"),
        ("-40 C", "-40 °C", "−40.0 °F"),
        ("0 °F", "−17.8 °C", "0 °F"),
        ("32 °F", "0.0 °C", "32 °F"),
        ("slicks, 1.9 bar front and 27 psi rear", "slicks, 1.9 bar front and 1.86 bar rear",
         "slicks, 27.6 psi front and 27 psi rear"),
    ],
)  # fmt: skip
def test_both_systems(said: str, metric: str, imperial: str) -> None:
    assert (in_system(said, "metric"), in_system(said, "imperial")) == (metric, imperial)


@pytest.mark.parametrize(
    "words", ["5 in second", "4 laps old", "lap 12 F side", "P255 tyres", "14:30", "3 barriers", ""]
)
def test_words_that_are_no_quantity_stay(words: str) -> None:
    assert in_system(words, "metric") == in_system(words, "imperial") == words


def test_from_si() -> None:
    # 304.65 K = 31.5 °C = 88.7 °F, NIST SP 811 B.9.
    assert (from_si(304.65, "K", "metric"), from_si(304.65, "K", "imperial")) == ("31.5 °C", "88.7 °F")


@given(st.text(max_size=40), st.sampled_from(["metric", "imperial"]))
def test_no_text_breaks_it(text: str, system: str) -> None:
    shown = in_system(text, system)  # type: ignore[arg-type]
    assert shown == text or any(sign.isdecimal() for sign in text)
