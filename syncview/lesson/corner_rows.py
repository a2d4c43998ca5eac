"""The corners of a lap as a table of words, in the coach's units; what is unknown is a dash."""

from __future__ import annotations

from collections.abc import Sequence

from syncview.lesson.corner_span import CornerSpan
from syncview.shown_units import LENGTH, SPEED, ShownUnit, Units
from syncview.track.corner_facts import CornerFacts, Fact

HEADINGS = (
    "corner", "side", "apex at", "brakes", "from", "peak", "gear", "slowest", "throttle", "full", "exit", "s", "",
)  # fmt: skip
WORD_COLUMNS = (0, 1, 12)
"""Columns of words; the others hold figures."""


def corner_rows(spans: Sequence[CornerSpan], units: Units) -> list[tuple[str, ...]]:
    """A row for each corner, in order."""
    speed, length = SPEED[units], LENGTH[units]
    return [
        (
            f"{span.corner.number} {span.corner.name}".strip(),
            span.corner.side,
            f"{length.of(span.corner.apex_m):.0f}",
            _shown(span.facts.brake.before_apex_m, length),
            _shown(span.facts.brake.speed_mps, speed),
            _peak(span.facts.brake.peak),
            _shown(span.facts.gears.lowest),
            _shown(span.facts.slowest.speed_mps, speed),
            _shown(span.facts.pickup.after_apex_m, length),
            _shown(span.facts.full.after_apex_m, length),
            _shown(span.facts.span.exit_speed_mps, speed),
            "–" if span.facts.span.time_s.value is None else f"{span.facts.span.time_s.value:.2f}",
            "; ".join(filter(None, ("flat" if span.corner.flat else "", _board_words(span.facts, length)))),
        )
        for span in spans
    ]


def _shown(fact: Fact, unit: ShownUnit | None = None) -> str:
    return "–" if fact.value is None else f"{unit.of(fact.value) if unit else fact.value:.0f}"


def _board_words(facts: CornerFacts, length: ShownUnit) -> str:
    """Where the brakes go on beside a marker: “18 past 100 board”."""
    past_m, marker = facts.brake.past_marker_m.value, facts.brake.marker
    if past_m is None or marker is None:
        return ""
    return f"brakes {length.of(abs(past_m)):.0f} {'past' if past_m >= 0 else 'before'} {marker.words}"


def _peak(fact: Fact) -> str:
    if fact.value is None:
        return "–"
    return f"{fact.value:.0%}" if fact.unit == "1" else f"{fact.value / 1e5:.0f} bar"
