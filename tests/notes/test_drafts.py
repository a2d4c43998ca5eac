"""Drafts say what the facts hold, rounded as stated, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from syncview.notes.drafts import draft_note
from syncview.track.corner_facts import (
    BrakeFacts,
    CornerFacts,
    Fact,
    GearDown,
    GearFacts,
    PedalTimes,
    PlaceFacts,
    SpanFacts,
    SteeringFacts,
    ThrottleFacts,
    unknown,
)
from syncview.track.corners import Corner

CORNER = Corner(3, "left", 450.0, 500.0, 560.0, False, (500.0,), "turns 90°")
NO = unknown("", "not in this log")


def fact(value: float, unit: str = "m") -> Fact:
    return Fact(value, unit, "column")


def throttle(after_m: float, log_s: float, steering_rad: Fact = NO) -> ThrottleFacts:
    return ThrottleFacts(fact(after_m), fact(500.0 + after_m), fact(log_s, "s"), steering_rad)


NOTHING = CornerFacts(
    lap=1,
    corner=3,
    brake=BrakeFacts(NO, NO, NO, NO, NO, NO, NO, NO),
    gears=GearFacts(None, NO),
    slowest=PlaceFacts(NO, NO, NO, NO),
    apex=PlaceFacts(NO, NO, NO, NO),
    pickup=ThrottleFacts(NO, NO, NO, NO),
    full=ThrottleFacts(NO, NO, NO, NO),
    steering=SteeringFacts(NO, NO, NO),
    pedals=PedalTimes(NO, NO),
    span=SpanFacts(NO, NO, NO, NO),
)
ALL = replace(
    NOTHING,
    brake=BrakeFacts(fact(84.3), fact(415.7), fact(10.0), fact(47.5, "m/s"), fact(0.717, "1"), NO, NO, NO),
    gears=GearFacts((GearDown(4, 3, 11.0, 440.0, 60.0, 30.0), GearDown(3, 2, 11.5, 460.0, 40.0, 25.0)), fact(2.0, "1")),
    slowest=PlaceFacts(fact(1.0), fact(501.0), fact(12.0, "s"), fact(17.8, "m/s")),
    pickup=throttle(2.0, 12.1),
    full=throttle(31.2, 13.0, fact(0.6, "rad")),
    steering=SteeringFacts(fact(1.0, "rad"), fact(11.9, "s"), fact(0.0, "1")),
)


def test_all_that_is_known_metric() -> None:
    # 47.5 m/s = 171 km/h, 17.8 m/s = 64.08 km/h (1 km/h = 1/3.6 m/s, NIST SP 811 B.8).
    assert draft_note(ALL, CORNER, units="metric") == (
        "Brake 84 m before the apex at 171 km/h, 70 % peak, down to second. "
        "Apex 64 km/h; throttle at the apex, full 31 m past as the wheel opens."
    )


def test_all_that_is_known_imperial() -> None:
    # NIST SP 811 B.8: 1 mile/h = 0.44704 m/s, 1 yd = 0.9144 m. 47.5 m/s = 106.25 mph, 17.8 = 39.8; 84.3 m = 92.2 yd.
    assert draft_note(ALL, CORNER, units="imperial") == (
        "Brake 92 yd before the apex at 106 mph, 70 % peak, down to second. "
        "Apex 40 mph; throttle at the apex, full 34 yd past as the wheel opens."
    )


def test_pressure_in_the_coachs_units() -> None:
    facts = replace(ALL, brake=replace(ALL.brake, peak=fact(61.9e5, "Pa")))
    assert "62 bar peak" in draft_note(facts, CORNER, units="metric")
    # 61.9 bar × 14.503774 psi/bar (NIST SP 811 B.8) = 897.8 psi.
    assert "900 psi peak" in draft_note(facts, CORNER, units="imperial")


def test_unknown_is_not_mentioned() -> None:
    assert draft_note(NOTHING, CORNER, units="metric") == "Corner 3, left."
    facts = replace(NOTHING, slowest=ALL.slowest)
    assert draft_note(facts, CORNER, units="metric") == "Apex 64 km/h."
    facts = replace(ALL, gears=GearFacts(None, NO), steering=NOTHING.steering)
    assert draft_note(facts, CORNER, units="metric") == (
        "Brake 84 m before the apex at 171 km/h, 70 % peak. Apex 64 km/h; throttle at the apex, full 31 m past."
    )


def test_lifting_and_not_lifting() -> None:
    not_braked = unknown("m", "not braked")
    lifted = replace(ALL, brake=replace(NOTHING.brake, before_apex_m=not_braked), gears=GearFacts((), fact(4.0, "1")))
    assert draft_note(lifted, CORNER, units="metric").startswith("Lift, no brakes, in fourth. ")
    unsure = replace(lifted, brake=NOTHING.brake)
    assert draft_note(unsure, CORNER, units="metric").startswith("In fourth. ")


def test_flat() -> None:
    corner = replace(CORNER, flat=True)
    facts = replace(NOTHING, gears=GearFacts((), fact(5.0, "1")), apex=PlaceFacts(NO, NO, NO, fact(188 / 3.6, "m/s")))
    assert draft_note(facts, corner, units="metric") == "Flat in fifth, 188 km/h."
    assert draft_note(NOTHING, corner, units="metric") == "Flat."


def test_a_lap_that_braked_where_others_are_flat_is_not_called_flat() -> None:
    assert draft_note(ALL, replace(CORNER, flat=True), units="metric").startswith("Brake 84 m")


def test_slowest_away_from_the_apex() -> None:
    facts = replace(ALL, slowest=replace(ALL.slowest, after_apex_m=fact(-18.0)))
    assert "Slowest 64 km/h, 18 m before the apex;" in draft_note(facts, CORNER, units="metric")


@pytest.mark.parametrize(
    ("held_rad", "words"),
    [
        (0.9, "full 31 m past, wheel still turned."),
        (0.6, "full 31 m past as the wheel opens."),
        (0.2, "full 31 m past, wheel almost straight."),
        (-0.1, "full 31 m past, wheel past straight."),
    ],
)
def test_the_wheel_at_full_throttle(held_rad: float, words: str) -> None:
    facts = replace(ALL, full=throttle(31.2, 13.0, fact(held_rad, "rad")))
    assert draft_note(facts, CORNER, units="metric").endswith(words)


def test_full_throttle_without_a_pickup() -> None:
    facts = replace(ALL, pickup=NOTHING.pickup)
    assert "; full throttle 31 m past the apex as the wheel opens." in draft_note(facts, CORNER, units="metric")


def test_corrections_are_said() -> None:
    facts = replace(ALL, steering=replace(ALL.steering, reversals=fact(1.0, "1")))
    assert draft_note(facts, CORNER, units="metric").endswith(" One steering correction.")
    facts = replace(ALL, steering=replace(ALL.steering, reversals=fact(2.0, "1")))
    assert draft_note(facts, CORNER, units="metric").endswith(" 2 steering corrections.")


def test_short_enough_to_be_spoken() -> None:
    """27 words where numbers with their units are one; at 2.5 words a second (common practice, no source) 11 s."""
    text = draft_note(ALL, CORNER, units="metric").replace(" m ", " ").replace(" km/h", "").replace(" %", "")
    assert len(text.split()) <= 27
