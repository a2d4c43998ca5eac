"""The values and filters that a template for drafts may use; all numbers in the coach's units.

Rounding of what is said (no source; a coach speaks in whole numbers): speeds to 1 km/h or 1 mph, distances to 1 m or
1 yd, pedals to 5 % (sensors of one make differ by more than 1 %), brake pressure to 1 bar or 10 psi.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from syncview.shown_units import BAR_PA, LENGTH, PSI_PA, SPEED, Units
from syncview.track.brake_facts import NOT_BRAKED
from syncview.track.corner_facts import CornerFacts, Fact
from syncview.track.corners import Corner

AT_APEX_M = 5.0
"""Nearer than a car's length is “at the apex”."""
STILL_TURNED = 0.85
NEARLY_STRAIGHT = 0.35
"""Shares of the most steering held in the corner. Common practice, no source."""

ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")

VALUES: Mapping[str, str] = {
    "number": "the corner's number",
    "name": "its name; empty without one",
    "side": "left or right",
    "flat": "true where the corner is taken without lifting",
    "not_braked": "true where it is known that the brakes stay off",
    "lifted": "true where the throttle was closed",
    "brake_before_apex": "distance from the braking point to the apex",
    "brake_marker": "words for the braking point against a marker, such as “18 m past the 100 board”",
    "brake_speed": "speed when the brakes go on",
    "brake_peak": "hardest braking, in % of the pedal, or in bar or psi",
    "gear_down_to": "the gear that is changed down to",
    "gear_down_from": "the gear before the first change down",
    "gear_lowest": "lowest gear from entry to exit",
    "slowest_speed": "least speed",
    "slowest_after_apex": "where that is: distance past the apex, negative before it",
    "slowest_at_apex": "true where that is within 5 m of the apex",
    "apex_speed": "speed at the apex",
    "entry_speed": "speed at the corner's entry",
    "exit_speed": "speed at the corner's exit",
    "throttle_after_apex": "where the throttle is picked up: distance past the apex",
    "full_after_apex": "where it is fully open: distance past the apex",
    "wheel_at_full": "words for how the wheel stands then; empty when unknown",
    "corrections": "steering corrections; unknown when there were none",
    "time": "seconds from entry to exit",
    "detail": "3, 2 or 1: how much may be said",
    "metric": "true when the units are metric",
}
"""Every value with its meaning."""

FILTERS: Mapping[str, str] = {
    "speed": "72 becomes “72 km/h”, or “72 mph”",
    "distance": "18 becomes “18 m”, or “18 yd”",
    "pressure": "the brake's peak with its unit: “70 %”, “62 bar”, “900 psi”",
    "ordinal": "2 becomes “second”",
    "beside_apex": "-7 becomes “7 m before the apex”, 1 becomes “at the apex”",
    "beside_apex_briefly": "the same without “the apex” where there is a distance",
    "correction_words": "1 becomes “one steering correction”",
    "round": "decimals, such as “| round(1)”; numbers are printed whole without it",
    "upper": "capital letters",
    "lower": "small letters",
    "default": "what is said instead of an unknown value, such as “| default('?')”",
}
"""Every filter with its meaning."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A value that the data do not hold, and why."""

    why: str


Value = float | str | bool | Unknown


def draft_values(facts: CornerFacts, corner: Corner, *, units: Units, detail: int = 3) -> dict[str, Value]:
    """All values of `VALUES` for one corner on one lap."""
    length, speed = LENGTH[units].of, SPEED[units].of
    down = facts.gears.down or ()
    no_down = "no gear is changed down" if facts.gears.down is not None else facts.gears.lowest.why_unknown
    slowest_m = facts.slowest.after_apex_m.value
    return {
        "number": float(corner.number),
        "name": corner.name,
        "side": corner.side,
        "flat": corner.flat and _stayed_open(facts),
        "not_braked": facts.brake.before_apex_m.why_unknown == NOT_BRAKED,
        "lifted": facts.pickup.distance_m.known,
        "brake_before_apex": _known(facts.brake.before_apex_m, length),
        "brake_marker": marker_words(facts, units),
        "brake_speed": _known(facts.brake.speed_mps, speed),
        "brake_peak": _known(facts.brake.peak, lambda value: _peak(value, facts.brake.peak.unit, units)),
        "gear_down_to": float(down[-1].to_gear) if down else Unknown(no_down),
        "gear_down_from": float(down[0].from_gear) if down else Unknown(no_down),
        "gear_lowest": _known(facts.gears.lowest, float),
        "slowest_speed": Unknown(facts.slowest.after_apex_m.why_unknown) if slowest_m is None
        else _known(facts.slowest.speed_mps, speed),
        "slowest_after_apex": _known(facts.slowest.after_apex_m, length),
        "slowest_at_apex": slowest_m is not None and abs(slowest_m) <= AT_APEX_M,
        "apex_speed": _known(facts.apex.speed_mps, speed),
        "entry_speed": _known(facts.span.entry_speed_mps, speed),
        "exit_speed": _known(facts.span.exit_speed_mps, speed),
        "throttle_after_apex": _known(facts.pickup.after_apex_m, length),
        "full_after_apex": _known(facts.full.after_apex_m, length),
        "wheel_at_full": wheel_words(facts),
        "corrections": _known(facts.steering.reversals, float) if facts.steering.reversals.value != 0.0
        else Unknown("there were no steering corrections"),
        "time": _known(facts.span.time_s, float),
        "detail": float(detail),
        "metric": units == "metric",
    }  # fmt: skip


def _known(fact: Fact, of: Callable[[float], float]) -> Value:
    return Unknown(fact.why_unknown or "not in the data") if fact.value is None else of(fact.value)


def _stayed_open(facts: CornerFacts) -> bool:
    return not (facts.brake.distance_m.known or facts.pickup.distance_m.known or facts.full.distance_m.known)


def _peak(value: float, unit: str, units: Units) -> float:
    """The brake's peak, rounded as it is said: to 5 %, 1 bar or 10 psi."""
    if unit != "Pa":
        return 5.0 * round(value * 20)
    return float(round(value / BAR_PA)) if units == "metric" else 10.0 * round(value / PSI_PA / 10)


def marker_words(facts: CornerFacts, units: Units) -> Value:
    """The braking point against its marker: “18 m past the 100 board”, “at the bridge”."""
    past, marker = facts.brake.past_marker_m, facts.brake.marker
    if past.value is None or marker is None:
        return Unknown(past.why_unknown or "no marker is known here")
    the = "" if marker.words.lower().startswith(("the ", "a ")) else "the "
    shown = round(LENGTH[units].of(past.value))
    if abs(shown) < 1:
        return f"at {the}{marker.words}"
    return f"{abs(shown)} {LENGTH[units].label} {'past' if shown > 0 else 'before'} {the}{marker.words}"


def wheel_words(facts: CornerFacts) -> str:
    """How the wheel stood at full throttle, if that is known."""
    held, peak = facts.full.steering_rad.value, facts.steering.peak_rad.value
    if held is None or peak is None or peak <= 0:
        return ""
    if held < 0:
        return ", wheel past straight"
    share = held / peak
    if share >= STILL_TURNED:
        return ", wheel still turned"
    return "as the wheel opens" if share > NEARLY_STRAIGHT else ", wheel almost straight"


def draft_filters(facts: CornerFacts, *, units: Units) -> dict[str, Callable[..., str]]:
    """The filters of `FILTERS` that depend on units; each takes a number."""
    length_label, near = LENGTH[units].label, LENGTH[units].of(AT_APEX_M)
    peak_label = "%" if facts.brake.peak.unit != "Pa" else "bar" if units == "metric" else "psi"

    def beside(number: float, *, short: bool) -> str:
        if abs(number) <= near:
            return "at the apex"
        side = "past" if number > 0 else "before"
        return f"{abs(number):.0f} {length_label} {side}{'' if short else ' the apex'}"

    return {
        "speed": lambda number: f"{number:.0f} {SPEED[units].label}",
        "distance": lambda number: f"{number:.0f} {length_label}",
        "pressure": lambda number: f"{number:.0f} {peak_label}",
        "beside_apex": lambda number: beside(number, short=False),
        "beside_apex_briefly": lambda number: beside(number, short=True),
    }
