"""The facts of one corner on one lap, as plain values; what each means is said in `definitions`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from syncview.track.markers import Marker


@dataclass(frozen=True, slots=True)
class Fact:
    """One measured quantity, or why it is not known."""

    value: float | None
    unit: str
    source: str = ""
    """The column it was read from; empty when unknown."""
    why_unknown: str = ""
    """Empty when known."""

    @property
    def known(self) -> bool:
        """There is a value."""
        return self.value is not None


def unknown(unit: str, why: str) -> Fact:
    """A fact that the data do not hold."""
    return Fact(None, unit, "", why)


NO_MARKERS = "the circuit has no markers for it"
_NO_MARKER = unknown("m", NO_MARKERS)


@dataclass(frozen=True, slots=True)
class BrakeFacts:
    """Where and how the brakes were used for the corner."""

    before_apex_m: Fact
    """Metres from onset to the corner's apex."""
    distance_m: Fact
    """Lap distance of the onset; near the lap's end for a corner right behind the line."""
    log_s: Fact
    speed_mps: Fact
    peak: Fact
    """In `1` (share of the channel's full scale) or `Pa`."""
    to_peak_s: Fact
    release_distance_m: Fact
    release_turning_m: Fact
    past_marker_m: Fact = _NO_MARKER
    """Metres from a marker to the onset; negative before it."""
    marker: Marker | None = None
    """The marker that `past_marker_m` is counted from."""


@dataclass(frozen=True, slots=True)
class TurnInFacts:
    """Where this lap begins to turn for the corner."""

    before_apex_m: Fact
    """To the corner's own apex."""
    distance_m: Fact
    """Lap distance."""
    log_s: Fact
    speed_mps: Fact
    past_marker_m: Fact = _NO_MARKER
    """Only of a marker that is near; negative before it."""
    marker: Marker | None = None


@dataclass(frozen=True, slots=True)
class GearDown:
    """One fall of the gear."""

    from_gear: int
    to_gear: int
    log_s: float
    distance_m: float
    """Lap distance."""
    before_apex_m: float
    """Negative after the apex."""
    speed_mps: float


@dataclass(frozen=True, slots=True)
class GearFacts:
    """Gears used."""

    down: tuple[GearDown, ...] | None
    """In order; None when the log has no gears (`lowest` says why)."""
    lowest: Fact
    """Between entry and exit."""


@dataclass(frozen=True, slots=True)
class PlaceFacts:
    """A moment of the lap: the slowest, or the apex."""

    after_apex_m: Fact
    """From the corner's `apex_m`, the same on every lap; negative before it."""
    distance_m: Fact
    """Lap distance."""
    log_s: Fact
    speed_mps: Fact
    past_marker_m: Fact = _NO_MARKER
    """Only of a marker that is near; negative before it."""
    marker: Marker | None = None


@dataclass(frozen=True, slots=True)
class ThrottleFacts:
    """When the throttle reached a level, and how much steering was held then."""

    after_apex_m: Fact
    """Negative before the apex."""
    distance_m: Fact
    log_s: Fact
    steering_rad: Fact
    """Into the corner; negative is opposite lock."""
    past_marker_m: Fact = _NO_MARKER
    """Only of a marker that is near; negative before it."""
    marker: Marker | None = None


@dataclass(frozen=True, slots=True)
class SteeringFacts:
    """What the wheel did."""

    peak_rad: Fact
    """The most that was held into the corner, from entry to exit."""
    peak_log_s: Fact
    reversals: Fact


@dataclass(frozen=True, slots=True)
class PedalTimes:
    """Time with neither pedal, and with both."""

    coasting_s: Fact
    overlap_s: Fact


@dataclass(frozen=True, slots=True)
class SpanFacts:
    """The corner as a whole."""

    entry_speed_mps: Fact
    exit_speed_mps: Fact
    time_s: Fact
    against_reference_s: Fact
    """Plus is slower."""


_NOT_MEASURED = "not measured"
NO_TURN_IN = TurnInFacts(unknown("m", _NOT_MEASURED), unknown("m", _NOT_MEASURED), unknown("s", _NOT_MEASURED),
                         unknown("m/s", _NOT_MEASURED))  # fmt: skip


@dataclass(frozen=True, slots=True)
class CornerFacts:
    """One corner on one lap. Lengths to the apex are counted to the corner's own `apex_m`, the same on every lap."""

    lap: int
    corner: int
    brake: BrakeFacts
    gears: GearFacts
    slowest: PlaceFacts
    apex: PlaceFacts
    """This lap's own apex; its `after_apex_m` says how late it is against the corner's usual one."""
    pickup: ThrottleFacts
    full: ThrottleFacts
    steering: SteeringFacts
    pedals: PedalTimes
    span: SpanFacts
    turn_in: TurnInFacts = NO_TURN_IN

    def named(self) -> Iterator[tuple[str, Fact]]:
        """All facts with their names (`brake.before_apex_m`), for tables; falls of the gear are apart."""
        for group in fields(self):
            held = getattr(self, group.name)
            if isinstance(held, int):
                continue
            for field in fields(held):
                fact = getattr(held, field.name)
                if isinstance(fact, Fact):
                    yield f"{group.name}.{field.name}", fact
