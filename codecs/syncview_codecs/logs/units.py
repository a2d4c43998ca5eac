"""Unit texts as loggers write them, turned into SI by the units library Pint.

Pint reads most unit texts. The table below holds only those that loggers write differently from Pint: `g` is
standard gravity in a log but a gram in Pint, `C` is a temperature and not a charge.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from syncview_codecs.logs.table import FloatArray

LOGGER_SPELLINGS: dict[str, str] = {
    "": "",
    "-": "dimensionless",
    "1": "dimensionless",
    "#": "dimensionless",
    "bool": "dimensionless",
    "count": "dimensionless",
    "%": "percent",
    "pct": "percent",
    "percent": "percent",
    "kph": "kilometer / hour",
    "kmh": "kilometer / hour",
    "km/hr": "kilometer / hour",
    "mph": "mile / hour",
    "kn": "knot",
    "kt": "knot",
    "kts": "knot",
    "g": "standard_gravity",
    "gn": "standard_gravity",
    "m/s2": "meter / second ** 2",
    "m/s/s": "meter / second ** 2",
    "°": "degree",
    "º": "degree",
    "°/s": "degree / second",
    "deg/sec": "degree / second",
    "c": "degC",
    "°c": "degC",
    "degc": "degC",
    "f": "degF",
    "°f": "degF",
    "degf": "degF",
    "sec": "second",
    "secs": "second",
    "ms": "millisecond",
    "us": "microsecond",
    "µs": "microsecond",
    "1/min": "revolution / minute",
    "min-1": "revolution / minute",
    "rev/min": "revolution / minute",
    "r/min": "revolution / minute",
    "nm": "newton * meter",
    "ft": "foot",
    "ft-lb": "foot * pound_force",
    "lbft": "foot * pound_force",
    "v": "volt",
    "gal": "gallon",
    "hpa": "hectopascal",
    "kpa": "kilopascal",
    "mpa": "megapascal",
}
"""Lower-case spelling -> Pint expression. Common practice among loggers, no source."""

_SI_TEXT = {
    "": "1",
    "meter / second": "m/s",
    "meter / second ** 2": "m/s²",
    "radian": "rad",
    "radian / second": "rad/s",
    "1 / second": "1/s",
    "meter": "m",
    "second": "s",
    "kelvin": "K",
    "kilogram / meter / second ** 2": "Pa",
    "meter ** 3": "m³",
}


@dataclass(frozen=True, slots=True)
class UnitConversion:
    """`si = scale * written + shift`."""

    scale: float
    shift: float
    si_unit: str

    def to_si(self, written: FloatArray) -> FloatArray:
        """Convert values, shape (n,), from the written unit."""
        if self.scale == 1.0 and self.shift == 0.0:
            return written
        return written * self.scale + self.shift


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@cache
def _not_a_unit() -> tuple[type[Exception], ...]:
    """What Pint raises on a text that is no unit: an unknown word, a stray sign and a bad power all differ."""
    import tokenize

    import pint

    return (
        pint.errors.PintError,
        tokenize.TokenError,
        ArithmeticError,
        AssertionError,
        AttributeError,
        LookupError,
        SyntaxError,
        TypeError,
        ValueError,
    )


@cache
def conversion(unit_text: str) -> UnitConversion | None:
    """How to bring a unit text to SI; None when the text is empty or not a unit that Pint knows.

    Angles are kept as radians (SI's derived unit), fractions as `1`, temperatures as kelvin.
    """
    expression = _expression(unit_text)
    if not expression:
        return None
    ureg = _registry()
    try:
        unit = ureg.Unit(expression)
        zero = ureg.Quantity(0.0, unit).to_base_units()
        one = ureg.Quantity(1.0, unit).to_base_units()
    except _not_a_unit():
        return None
    si_text = _SI_TEXT.get(str(one.units).replace("dimensionless", ""), f"{one.units:~C}")
    return UnitConversion(
        scale=float(one.magnitude) - float(zero.magnitude), shift=float(zero.magnitude), si_unit=si_text
    )


def is_unit_text(text: str) -> bool:
    """Whether a text is a unit: one that loggers write, or one that Pint knows."""
    return text.strip().lower() in LOGGER_SPELLINGS or conversion(text) is not None


def _expression(unit_text: str) -> str:
    text = " ".join(unit_text.split())
    known = LOGGER_SPELLINGS.get(text.lower())
    if known is not None:
        return known
    text = text.replace("²", "**2").replace("³", "**3").replace("·", "*").replace("°", "deg")
    # A number in front would be a scaled unit ("2 m"), a bare number is none at all.
    return "" if re.match(r"^[\d.]", text) else text


_HEADING = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*$", re.DOTALL)


def split_heading(heading: str) -> tuple[str, str]:
    """A heading such as `speed [km/h]` or `speed (mph)` as name and unit text (empty when none is given)."""
    match = _HEADING.match(heading)
    if match is None or not match["name"].strip():
        return heading.strip(), ""
    return match["name"].strip(), match["unit"].strip()
