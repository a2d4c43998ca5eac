"""Where on the lap the playhead stands, as notes need it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.errors import LogError

if TYPE_CHECKING:
    from syncview.desk.state import DeskState


def playhead_place_m(state: DeskState) -> float:
    """Lap distance at the playhead, on whichever timed lap it stands: a note belongs to the circuit.

    Raises `LogError` outside the timed laps, and `UnsureError` without a clock.
    """
    from syncview.lesson.note_places import place_at

    place_m = state.lap_distance_m(state.playhead_s)
    if place_m is not None:
        return place_m
    if state.session is None:
        raise LogError("the log is not read yet", "A note needs a place on the lap: wait until it is.")
    place = place_at(state.session, float(state.playhead_s))
    if place is None:
        raise LogError("the playhead is outside the timed laps", "Move it into a lap: a note needs a place on it.")
    return place.lap_distance_m


def playhead_corner(state: DeskState) -> int | None:
    """Number of the corner at the playhead."""
    place_m = state.lap_distance_m(state.playhead_s)
    corner = None if place_m is None else state.corner_at(place_m)
    return None if corner is None else corner.number
