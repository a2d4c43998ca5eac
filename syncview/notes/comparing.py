"""What the comparisons of claims share: words for what was measured, and numbers within their tolerance."""

from __future__ import annotations

from dataclasses import replace

from syncview.notes.check import ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.drafts import ORDINALS
from syncview.shown_units import KMH_MPS, LENGTH, MPH_MPS, SPEED, YARD_M, Units
from syncview.track.corner_facts import Fact


def units_of(shown: ShownOver) -> Units:
    """The coach's system of units."""
    return "imperial" if shown.imperial else "metric"


def speed_words(speed_mps: float, shown: ShownOver) -> str:
    """A speed as the coach reads it."""
    unit = SPEED[units_of(shown)]
    return f"{unit.of(speed_mps):.0f} {unit.label}"


def length_words(length_m: float, shown: ShownOver) -> str:
    """A length as the coach reads it."""
    unit = LENGTH[units_of(shown)]
    return f"{unit.of(length_m):.0f} {unit.label}"


def gear_words(number: float) -> str:
    """A gear as it is said."""
    gear = round(number)
    return ORDINALS[gear - 1] if 1 <= gear <= len(ORDINALS) else f"gear {gear}"


def within(claim: Claim, measured: float, tolerance: float, shown: ShownOver) -> bool:
    """Whether a number is as said, to a tolerance and to how roughly it was said."""
    assert claim.value is not None
    over = measured - claim.value
    wide = tolerance * shown.tolerances.roughly
    if claim.about == "at_least":
        return over >= -tolerance
    if claim.about == "at_most":
        return over <= tolerance
    if claim.about == "nearly":
        return -wide <= over <= tolerance
    if claim.about == "over":
        return -tolerance <= over <= wide
    return abs(over) <= (wide if claim.about else tolerance)


def unknown(claim: Claim, fact: Fact) -> Verdict:
    """Cannot tell, and why the fact is not known."""
    return Verdict(claim, "cannot tell", fact.why_unknown or "it is not known")


def number(claim: Claim, measured: float, tolerance: float, words: str, shown: ShownOver) -> Verdict:
    """Agree or disagree on a number."""
    assert claim.value is not None
    if within(claim, measured, tolerance, shown):
        return Verdict(claim, "agree", words, measured)
    return Verdict(claim, "disagree", words, measured, measured - claim.value)


def in_other_unit(claim: Claim, shown: ShownOver) -> Claim:
    """The claim as it would be if its unsaid unit were the other system's."""
    assert claim.value is not None
    metric, imperial = (KMH_MPS, MPH_MPS) if claim.unit == "m/s" else (1.0, YARD_M)
    said = claim.value / (imperial if shown.imperial else metric)
    return replace(claim, value=said * (metric if shown.imperial else imperial), unit_said=True)
