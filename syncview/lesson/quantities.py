"""Quantities in words (“12 L”, “slicks at 1.8 bar”), shown in both unit systems. Units are Pint's."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal

from syncview.shown_units import Units

System = Literal["metric", "imperial"]


@dataclass(frozen=True, slots=True)
class ShownAs:
    """How one kind of quantity is shown in one system."""

    label: str
    unit: str
    """As the units library reads it."""
    decimals: int


KINDS: Mapping[str, Mapping[Units, ShownAs]] = {
    "K": {"metric": ShownAs("°C", "°C", 1), "imperial": ShownAs("°F", "°F", 1)},
    "m³": {"metric": ShownAs("L", "liter", 2), "imperial": ShownAs("US gal", "gallon", 2)},
    "Pa": {"metric": ShownAs("bar", "bar", 2), "imperial": ShownAs("psi", "psi", 1)},
    "kg": {"metric": ShownAs("kg", "kilogram", 1), "imperial": ShownAs("lb", "pound", 1)},
    "m": {"metric": ShownAs("mm", "millimeter", 1), "imperial": ShownAs("in", "inch", 2)},
    "m/s": {"metric": ShownAs("km/h", "km/h", 0), "imperial": ShownAs("mph", "mph", 0)},
}
"""By SI unit: what a value is converted to when it was said in the other system."""

_SPELLINGS: tuple[tuple[str, str, System, str], ...] = (
    (r"(?:°|º|deg(?:rees?)?)\s?C(?:elsius)?|degC|C", "°C", "metric", "°C"),
    (r"(?:°|º|deg(?:rees?)?)\s?F(?:ahrenheit)?|degF|F", "°F", "imperial", "°F"),
    (r"K|kelvin", "kelvin", "metric", "K"),
    (r"L|l|ltr|lit(?:re|er)s?", "liter", "metric", "L"),
    (r"(?:US\s?)?(?:gal|gallons?)", "gallon", "imperial", "US gal"),
    (r"bar", "bar", "metric", "bar"),
    (r"kPa", "kilopascal", "metric", "kPa"),
    (r"psi", "psi", "imperial", "psi"),
    (r"kg|kilos?|kilograms?", "kilogram", "metric", "kg"),
    (r"lbs?|pounds?", "pound", "imperial", "lb"),
    (r"mm", "millimeter", "metric", "mm"),
    (r"cm", "centimeter", "metric", "cm"),
    (r"inch(?:es)?", "inch", "imperial", "in"),
    (r"km/h|kph|kmh", "km/h", "metric", "km/h"),
    (r"mph", "mph", "imperial", "mph"),
)
"""How people write a unit, what the units library calls it, its system, and how it is shown. A gallon is the US one."""

_NUMBER = r"[-−]?\d+(?:[.,]\d+)?"
_UNIT = "|".join(f"(?P<u{i}>{spelling[0]})" for i, spelling in enumerate(_SPELLINGS))
_QUANTITY = re.compile(rf"(?<![\w.,/])(?P<number>{_NUMBER})(?P<blank>\s?)(?:{_UNIT})(?![\w/])")


@dataclass(frozen=True, slots=True)
class Said:
    """A quantity as it stands in a text."""

    begin: int
    end: int
    number: Decimal
    unit: str
    """As the units library reads it."""
    system: System
    label: str
    si_unit: str


def quantities_in(text: str) -> tuple[Said, ...]:
    """All quantities of a text whose units are known.

    A bare C, F or K behind a blank counts only when nothing else is said.
    """
    found = []
    for match in _QUANTITY.finditer(text):
        i = next(i for i in range(len(_SPELLINGS)) if match[f"u{i}"])
        _, unit, system, label = _SPELLINGS[i]
        alone = match.start() == 0 and match.end() == len(text)
        if match["blank"] and match[f"u{i}"] in ("C", "F", "K") and not alone:
            continue
        number = Decimal(match["number"].replace(",", ".").replace("−", "-"))
        found.append(Said(match.start(), match.end(), number, unit, system, label, _si_unit(unit)))
    return tuple(found)


def in_system(text: str, system: Units) -> str:
    """The text with every quantity in one system; those said in it stay as they were written."""
    result, done = [], 0
    for said in quantities_in(text):
        result.append(text[done : said.begin])
        result.append(_shown(said, system))
        done = said.end
    return "".join(result) + text[done:]


def from_si(value: float, si_unit: str, system: Units) -> str:
    """A measured value in one system."""
    shown = KINDS[si_unit][system]
    return f"{_rounded(_converted_from_si(Decimal(repr(value)), shown.unit), shown.decimals)} {shown.label}"


def _shown(said: Said, system: Units) -> str:
    if said.system == system:
        return f"{said.number} {said.label}"
    shown = KINDS[said.si_unit][system]
    return f"{_rounded(_converted(said.number, said.unit, shown.unit), shown.decimals)} {shown.label}"


def _si_unit(unit: str) -> str:
    from syncview_codecs.logs.units import conversion

    known = conversion(unit)
    if known is None or known.si_unit not in KINDS:
        raise LookupError(f"the units library does not know {unit}")
    return known.si_unit


def _converted(number: Decimal, unit: str, other: str) -> Decimal:
    from syncview_codecs.logs.units import conversion

    known = conversion(unit)
    assert known is not None
    return _converted_from_si(Decimal(repr(float(number) * known.scale + known.shift)), other)


def _converted_from_si(value: Decimal, unit: str) -> Decimal:
    from syncview_codecs.logs.units import conversion

    known = conversion(unit)
    assert known is not None
    return Decimal(repr((float(value) - known.shift) / known.scale))


def _rounded(value: Decimal, decimals: int) -> str:
    """Half away from zero, as people round; what floating point adds behind the ninth digit is not seen."""
    settled = round(value, 9)
    text = str(settled.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP))
    return text.replace("-", "−") if Decimal(text) != 0 else text.lstrip("-")
