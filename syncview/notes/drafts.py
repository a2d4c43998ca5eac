"""First drafts of notes, made only from facts: what is not known is not mentioned.

Rounding of what is said (no source; a coach speaks in whole numbers): speeds to 1 km/h or 1 mph, distances to 1 m or
1 yd, pedals to 5 % (sensors of one make differ by more than 1 %), brake pressure to 1 bar or 10 psi.
"""

from __future__ import annotations

from typing import Literal

from syncview.track.brake_facts import NOT_BRAKED
from syncview.track.corner_facts import CornerFacts, Fact
from syncview.track.corners import Corner

Units = Literal["metric", "imperial"]

KMH_PER_MPS = 3.6
MPH_PER_MPS = 1 / 0.44704
YD_PER_M = 1 / 0.9144
PA_PER_BAR = 100_000.0
PA_PER_PSI = 6894.757293168
"""NIST SP 811, Appendix B.8 and B.9."""

AT_APEX_M = 5.0
"""Nearer than a car's length is “at the apex”."""
STILL_TURNED = 0.85
NEARLY_STRAIGHT = 0.35
"""Shares of the most steering held in the corner. Common practice, no source."""

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def draft_note(facts: CornerFacts, corner: Corner, *, units: Units) -> str:
    """One or two plain sentences on how a corner was driven on one lap; about 25 words."""
    if corner.flat and _stayed_open(facts):
        return _flat(facts, units)
    first = _approach(facts, units)
    second = "; ".join(filter(None, (_slowest(facts, units), _throttle(facts, units))))
    third = _corrections(facts)
    sentences = [_sentence(text) for text in (first, second, third) if text]
    return " ".join(sentences) or f"Corner {corner.number}, {corner.side}."


def _stayed_open(facts: CornerFacts) -> bool:
    return not (facts.brake.distance_m.known or facts.pickup.distance_m.known or facts.full.distance_m.known)


def _flat(facts: CornerFacts, units: Units) -> str:
    gear = f" in {_gear(facts.gears.lowest.value)}" if facts.gears.lowest.value is not None else ""
    speed = facts.apex.speed_mps.value
    return _sentence(", ".join(filter(None, (f"flat{gear}", None if speed is None else _speed(speed, units)))))


def _approach(facts: CornerFacts, units: Units) -> str:
    """Brakes and gears."""
    parts = []
    brake = facts.brake
    if brake.before_apex_m.value is not None:
        at = f" at {_speed(brake.speed_mps.value, units)}" if brake.speed_mps.value is not None else ""
        parts.append(f"brake {_distance(brake.before_apex_m.value, units)} before the apex{at}")
        if brake.peak.value is not None:
            parts.append(_peak(brake.peak, units))
    elif brake.before_apex_m.why_unknown == NOT_BRAKED:
        parts.append("lift, no brakes" if facts.pickup.distance_m.known else "no brakes")
    if facts.gears.down:
        parts.append(f"down to {_gear(facts.gears.down[-1].to_gear)}")
    elif facts.gears.lowest.value is not None:
        parts.append(f"in {_gear(facts.gears.lowest.value)}")
    return ", ".join(parts)


def _slowest(facts: CornerFacts, units: Units) -> str:
    speed, after_m = facts.slowest.speed_mps.value, facts.slowest.after_apex_m.value
    if speed is None or after_m is None:
        return ""
    if abs(after_m) <= AT_APEX_M:
        return f"apex {_speed(speed, units)}"
    return f"slowest {_speed(speed, units)}, {_beside_apex(after_m, units)}"


def _throttle(facts: CornerFacts, units: Units) -> str:
    """Pickup by its place, full throttle by its place and by how the wheel stood: what the foot waited for."""
    parts = []
    if facts.pickup.after_apex_m.value is not None:
        parts.append(f"throttle {_beside_apex(facts.pickup.after_apex_m.value, units)}")
    if facts.full.after_apex_m.value is not None:
        lead = "full" if parts else "full throttle"
        parts.append(f"{lead} {_beside_apex(facts.full.after_apex_m.value, units, short=bool(parts))}{_wheel(facts)}")
    return ", ".join(parts)


def _wheel(facts: CornerFacts) -> str:
    """How the wheel stood at full throttle, if that is known."""
    held, peak = facts.full.steering_rad.value, facts.steering.peak_rad.value
    if held is None or peak is None or peak <= 0:
        return ""
    if held < 0:
        return ", wheel past straight"
    share = held / peak
    if share >= STILL_TURNED:
        return ", wheel still turned"
    return " as the wheel opens" if share > NEARLY_STRAIGHT else ", wheel almost straight"


def _corrections(facts: CornerFacts) -> str:
    count = facts.steering.reversals.value
    if not count:
        return ""
    return "one steering correction" if count == 1 else f"{count:.0f} steering corrections"


def _beside_apex(after_m: float, units: Units, *, short: bool = False) -> str:
    if abs(after_m) <= AT_APEX_M:
        return "at the apex"
    apex = "" if short else " the apex"
    return f"{_distance(abs(after_m), units)} {'past' if after_m > 0 else 'before'}{apex}"


def _peak(peak: Fact, units: Units) -> str:
    assert peak.value is not None
    if peak.unit != "Pa":
        return f"{5 * round(peak.value * 20)} % peak"
    if units == "metric":
        return f"{peak.value / PA_PER_BAR:.0f} bar peak"
    return f"{10 * round(peak.value / PA_PER_PSI / 10)} psi peak"


def _speed(speed_mps: float, units: Units) -> str:
    if units == "metric":
        return f"{speed_mps * KMH_PER_MPS:.0f} km/h"
    return f"{speed_mps * MPH_PER_MPS:.0f} mph"


def _distance(length_m: float, units: Units) -> str:
    return f"{length_m:.0f} m" if units == "metric" else f"{length_m * YD_PER_M:.0f} yd"


def _gear(number: float) -> str:
    gear = round(number)
    return ORDINALS[gear - 1] if 1 <= gear <= len(ORDINALS) else f"gear {gear}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."
