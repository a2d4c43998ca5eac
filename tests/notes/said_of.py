"""Facts that the sentences in `sentences.py` are held against. Invented, in the shape that the data give them."""

from __future__ import annotations

from dataclasses import MISSING, fields, replace
from typing import Any, TypeVar

from syncview.notes.check import Board, Corners, ShownOver
from syncview.track import corner_facts
from syncview.track.corner_facts import (
    BrakeFacts,
    CornerFacts,
    Fact,
    GearDown,
    GearFacts,
    PlaceFacts,
    SpanFacts,
    SteeringFacts,
    ThrottleFacts,
    TurnInFacts,
    unknown,
)
from syncview.track.corners import Corner

NO = unknown("", "not in this log")
NOT_BRAKED = unknown("m", "not braked")
NOT_CLOSED = unknown("m", "the throttle was not closed")
Group = TypeVar("Group")


def fact(value: float, unit: str = "m") -> Fact:
    return Fact(value, unit, "column")


def speed(kmh: float) -> Fact:
    return Fact(kmh / 3.6, "m/s", "speed")


def group(kind: type[Group], otherwise: Fact = NO, **known: Fact) -> Group:
    """A group of facts: those given, and all others unknown."""
    values: dict[str, Any] = {
        field.name: otherwise
        for field in fields(kind)  # type: ignore[arg-type]
        if field.default is MISSING
    }
    return kind(**(values | known))


def throttle(after_m: float, steering_rad: float | None = None) -> ThrottleFacts:
    held = NO if steering_rad is None else fact(steering_rad, "rad")
    return group(ThrottleFacts, after_apex_m=fact(after_m), distance_m=fact(500.0 + after_m), steering_rad=held)


def place(after_m: float, kmh: float) -> PlaceFacts:
    return group(PlaceFacts, after_apex_m=fact(after_m), distance_m=fact(500.0 + after_m), speed_mps=speed(kmh))


def nothing() -> CornerFacts:
    """A corner of a log that holds nothing."""
    groups: dict[str, Any] = {}
    for field in fields(CornerFacts):
        kind = _KINDS.get(str(field.type))
        if kind is not None and field.default is MISSING:
            groups[field.name] = GearFacts(None, NO) if kind is GearFacts else group(kind)
    return CornerFacts(lap=2, corner=3, **groups)


_KINDS: dict[str, Any] = {name: kind for name, kind in vars(corner_facts).items() if name.endswith("Facts")} | {
    "PedalTimes": corner_facts.PedalTimes
}
NOTHING = nothing()
HAIRPIN_FACTS = replace(
    NOTHING,
    brake=group(
        BrakeFacts,
        before_apex_m=fact(84.3),
        distance_m=fact(415.7),
        speed_mps=speed(171),
        peak=fact(0.717, "1"),
    ),
    gears=GearFacts((GearDown(4, 3, 11.0, 440.0, 60.0, 30.0), GearDown(3, 2, 11.5, 460.0, 40.0, 25.0)), fact(2.0, "1")),
    slowest=place(1.0, 64.1),
    apex=place(0.5, 64.2),
    pickup=throttle(2.0, 0.95),
    full=throttle(31.2, 0.6),
    steering=group(SteeringFacts, peak_rad=fact(1.0, "rad"), reversals=fact(0.0, "1")),
    span=group(SpanFacts, entry_speed_mps=speed(108), exit_speed_mps=speed(95), time_s=fact(3.9, "s")),
    turn_in=group(TurnInFacts, before_apex_m=fact(45.0), distance_m=fact(455.0), speed_mps=speed(112)),
)
LIFT_BRAKE = group(BrakeFacts, NOT_BRAKED)
KINK_FACTS = replace(
    HAIRPIN_FACTS,
    brake=LIFT_BRAKE,
    gears=GearFacts((), fact(5.0, "1")),
    slowest=place(-40.0, 182),
    apex=place(0.0, 188),
    pickup=group(ThrottleFacts, NOT_CLOSED),
    full=group(ThrottleFacts, NOT_CLOSED),
    span=group(SpanFacts, entry_speed_mps=speed(180), exit_speed_mps=speed(195), time_s=fact(2.9, "s")),
)
BOARDS = (Board("150", 348.0), Board("100", 398.0), Board("50", 448.0), Board("bridge", 401.0))
HAIRPIN = Corner(3, "left", 450.0, 500.0, 560.0, False, (500.0,), "turns 150°")
KINK = Corner(4, "left", 450.0, 500.0, 560.0, True, (500.0,), "turns 20°; flat")
EAGER_FACTS = replace(HAIRPIN_FACTS, pickup=throttle(-4.0, 0.99), full=throttle(6.0, 0.97))


def shown(corner: Corner, facts: CornerFacts) -> ShownOver:
    return ShownOver(Corners(corner, facts), boards=BOARDS, lap_length_m=1900.0, lap_time_s=58.507)


SHOWN = {
    "hairpin": shown(HAIRPIN, HAIRPIN_FACTS),
    "pressure": shown(HAIRPIN, replace(HAIRPIN_FACTS, brake=replace(HAIRPIN_FACTS.brake, peak=fact(61.9e5, "Pa")))),
    "kink": shown(KINK, KINK_FACTS),
    "lifted": shown(HAIRPIN, replace(HAIRPIN_FACTS, brake=LIFT_BRAKE, gears=GearFacts((), fact(4.0, "1")))),
    "eager": shown(HAIRPIN, EAGER_FACTS),
    "late": shown(HAIRPIN, replace(HAIRPIN_FACTS, apex=replace(HAIRPIN_FACTS.apex, after_apex_m=fact(7.0)))),
    "bare": shown(HAIRPIN, NOTHING),
}
