"""Unit texts against published factors."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.logs.units import conversion, split_heading


@pytest.mark.parametrize(
    ("text", "written", "si", "unit"),
    [
        # NIST SP 811 (2008), Appendix B.8 and B.9: exact factors.
        ("mph", 60.0, 26.8224, "m/s"),
        ("mile/h", 100.0, 44.704, "m/s"),
        ("km/h", 100.0, 27.7778, "m/s"),
        ("kn", 10.0, 5.144444, "m/s"),
        ("psi", 32.0, 220632.233, "Pa"),
        ("bar", 2.2, 220000.0, "Pa"),
        ("°F", 212.0, 373.15, "K"),
        ("degF", -40.0, 233.15, "K"),
        ("°C", 0.0, 273.15, "K"),
        ("g", 1.2, 11.76798, "m/s²"),
        ("rpm", 6000.0, 628.3185, "rad/s"),
        ("1/min", 6000.0, 628.3185, "rad/s"),
        ("ft", 1.0, 0.3048, "m"),
        ("gal", 10.0, 0.03785411784, "m³"),
        ("deg", 180.0, np.pi, "rad"),
        ("°/s", 180.0, np.pi, "rad/s"),
        ("%", 50.0, 0.5, "1"),
        ("ms", 1500.0, 1.5, "s"),
        ("m/s^2", 3.0, 3.0, "m/s²"),
        ("m/s²", 3.0, 3.0, "m/s²"),
    ],
)
def test_factors_of_nist_sp_811(text: str, written: float, si: float, unit: str) -> None:
    known = conversion(text)
    assert known is not None
    assert known.to_si(np.array([written]))[0] == pytest.approx(si, rel=2e-6)
    assert known.si_unit == unit


def test_common_practice_values_a_coach_would_check() -> None:
    # Common practice, no source: 116 mph = 186.7 km/h, 3 US gal = 11.36 L, 79 °F = 26.1 °C.
    mph, gallon, fahrenheit = conversion("mph"), conversion("gal"), conversion("F")
    assert mph is not None
    assert gallon is not None
    assert fahrenheit is not None
    assert mph.to_si(np.array([116.0]))[0] * 3.6 == pytest.approx(186.7, abs=0.05)
    assert gallon.to_si(np.array([3.0]))[0] * 1000 == pytest.approx(11.36, abs=0.005)
    assert fahrenheit.to_si(np.array([79.0]))[0] - 273.15 == pytest.approx(26.1, abs=0.05)


@given(st.floats(-1e4, 1e4), st.sampled_from(["km/h", "knot", "deg", "psi", "degF", "hour", "inch"]))
def test_agrees_with_pint_itself(value: float, text: str) -> None:
    import pint

    registry = pint.get_application_registry()  # type: ignore[no-untyped-call]  # Pint's own gap
    known = conversion(text)
    assert known is not None
    expected = registry.Quantity(value, text).to_base_units().magnitude
    assert known.to_si(np.array([value]))[0] == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("text", ["", "blorp", "km/", "@@", "(", "2 m", "m**", "//", "raw counts", "٣"])
def test_what_is_no_unit_is_not_guessed(text: str) -> None:
    assert conversion(text) is None


@given(st.text(max_size=12))
def test_no_text_breaks_it(text: str) -> None:
    conversion(text)


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("speed [km/h]", "speed", "km/h"),
        ("speed (mph)", "speed", "mph"),
        ("speed", "speed", ""),
        ("[m/s]", "[m/s]", ""),
        ("brake pressure (front) [bar]", "brake pressure (front)", "bar"),
        (" gear ", "gear", ""),
    ],
)
def test_headings(heading: str, name: str, unit: str) -> None:
    assert split_heading(heading) == (name, unit)
