"""Where a place of the lap lies beside the circuit's markers (meaning: `definitions`)."""

from __future__ import annotations

from syncview.track import definitions as d
from syncview.track.corner_facts import NO_MARKERS, Fact, unknown
from syncview.track.fact_basis import FactBasis, Window
from syncview.track.markers import Marker

_NONE_NEAR = "no marker is near"


def beside_marker(basis: FactBasis, window: Window, place_m: float, source: str, *, behind_m: float,
                  ahead_m: float) -> tuple[Fact, Marker | None]:  # fmt: skip
    """Metres past a marker (negative: before it), and the marker.

    The last marker passed within `behind_m`, unless one within `ahead_m` ahead is nearer. `place_m` is in places of
    the course.
    """
    length_m = basis.track.lap_length_m
    usable = [m for m in basis.markers if m.corner in (None, window.corner.number)]
    if not usable:
        return unknown("m", NO_MARKERS), None
    past = [((place_m - m.at_m) % length_m, m) for m in usable]
    behind = [(gap_m, m) for gap_m, m in past if gap_m <= behind_m]
    ahead = [(gap_m - length_m, m) for gap_m, m in past if length_m - gap_m <= ahead_m]
    if not behind and not ahead:
        return unknown("m", _NONE_NEAR), None
    gap_m, marker = min((*behind, *ahead), key=lambda found: abs(found[0]))
    return Fact(gap_m, "m", f"{source}; “{marker.words}”"), marker


def past_marker(basis: FactBasis, window: Window, place_m: float, source: str) -> tuple[Fact, Marker | None]:
    """For a place that is taken against a marker: the brakes."""
    return beside_marker(basis, window, place_m, source, behind_m=d.PAST_MARKER_M, ahead_m=d.JUST_BEFORE_MARKER_M)


def near_marker(basis: FactBasis, window: Window, place_m: float, source: str) -> tuple[Fact, Marker | None]:
    """For a place that may happen to lie at a marker: turn-in, apex, throttle."""
    return beside_marker(basis, window, place_m, source, behind_m=d.AT_MARKER_M, ahead_m=d.AT_MARKER_M)
