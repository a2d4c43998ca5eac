"""What a person may change about corners: their name, where they begin and end, and which of them are one.

Pure functions of a circuit. Corners are numbered anew from the start line on, and markers follow the corner that they
belong to. Each change is added to the corner's reason. Raises `CircuitError` for what cannot be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from syncview.track.circuit import Circuit, CircuitError, check
from syncview.track.corners import Corner
from syncview.track.markers import Marker


def corner_of(circuit: Circuit, number: int) -> Corner:
    """The corner of that number; raises `CircuitError` naming those there are."""
    for corner in circuit.corners:
        if corner.number == number:
            return corner
    known = ", ".join(str(corner.number) for corner in circuit.corners) or "none"
    raise CircuitError(f"there is no corner {number}", f"Corners are: {known}.")


def rename(circuit: Circuit, number: int, name: str) -> Circuit:
    """Give a corner a name; an empty one takes it away."""
    corner = corner_of(circuit, number)
    return _with_corners(circuit, {number: (replace(corner, name=" ".join(name.split())),)})


def merge(circuit: Circuit, number: int, *, name: str | None = None) -> Circuit:
    """Make a corner and the one after it one corner with all their apexes; they must turn the same way.

    The apex that counts is that of the earlier one, unless only the later one is driven with a lift.
    """
    first = corner_of(circuit, number)
    if len(circuit.corners) < 2:
        raise CircuitError(f"there is no corner after corner {number}", "Only neighbours can become one.")
    second = circuit.corners[number % len(circuit.corners)]
    if first.side != second.side:
        raise CircuitError(
            f"corner {first.number} turns {first.side} and corner {second.number} turns {second.side}",
            "Only corners to the same side can become one.",
        )
    joined = replace(
        first,
        exit_m=second.exit_m,
        apexes=first.apexes + second.apexes,
        apex_m=second.apex_m if first.flat and not second.flat else first.apex_m,
        flat=first.flat and second.flat,
        name=first.name or second.name if name is None else name,
        reason=_added(f"{first.reason}, and {second.reason}", f"merged by hand from {number} and {second.number}"),
    )
    return _with_corners(circuit, {first.number: (joined,), second.number: ()}, heirs={second.number: joined})


def split(circuit: Circuit, number: int, *, at_m: float, name: str = "") -> Circuit:
    """Part a corner at a lap distance; a part without an apex takes its middle for one.

    The first part keeps the name, the second takes the one given.
    """
    corner, length_m = corner_of(circuit, number), circuit.lap_length_m
    span_m, into_m = (corner.exit_m - corner.entry_m) % length_m, (at_m - corner.entry_m) % length_m
    if not 0 <= at_m < length_m or not 1.0 <= into_m <= span_m - 1.0:
        raise CircuitError(
            f"{at_m:g} m is not inside corner {number}, which runs from {corner.entry_m:.1f} to {corner.exit_m:.1f} m",
            "Give a place between its entry and its exit.",
        )
    note = f"split by hand from {number} at {at_m:.1f} m"
    early = tuple(a for a in corner.apexes if (a - corner.entry_m) % length_m < into_m)
    late = tuple(a for a in corner.apexes if a not in early)
    first = _part(replace(corner, exit_m=at_m), early, length_m, note)
    second = _part(replace(corner, entry_m=at_m, name=name), late, length_m, note)
    return _with_corners(circuit, {number: (first, second)})


def move(circuit: Circuit, number: int, *, entry_m: float | None = None, apex_m: float | None = None,
         exit_m: float | None = None) -> Circuit:  # fmt: skip
    """Put entry, apex or exit of a corner elsewhere. With several apexes, the one nearest to the new place moves."""
    corner, length_m = corner_of(circuit, number), circuit.lap_length_m
    moved = corner
    words: list[str] = []
    if entry_m is not None:
        moved, words = replace(moved, entry_m=entry_m), [*words, f"entry from {corner.entry_m:.1f} m"]
    if exit_m is not None:
        moved, words = replace(moved, exit_m=exit_m), [*words, f"exit from {corner.exit_m:.1f} m"]
    if apex_m is not None:
        nearest = min(corner.apexes, key=lambda a: abs((a - apex_m + length_m / 2) % length_m - length_m / 2))
        apexes = tuple(apex_m if a == nearest else a for a in corner.apexes)
        main = apex_m if nearest == corner.apex_m else corner.apex_m
        moved, words = replace(moved, apexes=apexes, apex_m=main), [*words, f"apex from {nearest:.1f} m"]
    if not words:
        raise CircuitError("nothing was said of where to", "Give a new entry, apex or exit, or several of them.")
    moved = replace(moved, reason=_added(corner.reason, f"moved by hand: {', '.join(words)}"))
    return _with_corners(circuit, {number: (moved,)})


def set_flat(circuit: Circuit, number: int, *, flat: bool) -> Circuit:
    """Say whether a corner is taken without lifting."""
    corner = corner_of(circuit, number)
    reason = _added(corner.reason, "said to be flat" if flat else "said not to be flat")
    return _with_corners(circuit, {number: (replace(corner, flat=flat, reason=reason),)})


def add_marker(circuit: Circuit, marker: Marker) -> Circuit:
    """One marker more; its key must be new."""
    if any(each.key == marker.key for each in circuit.markers):
        raise CircuitError(f"there is a marker “{marker.key}” already", "Choose another key, or remove that one.")
    return _checked(replace(circuit, markers=_in_order((*circuit.markers, marker))))


def remove_marker(circuit: Circuit, key: str) -> Circuit:
    """One marker less."""
    left = tuple(marker for marker in circuit.markers if marker.key != key)
    if len(left) == len(circuit.markers):
        known = ", ".join(marker.key for marker in circuit.markers) or "none"
        raise CircuitError(f"there is no marker “{key}”", f"Markers are: {known}.")
    return replace(circuit, markers=left)


def _part(corner: Corner, apexes: tuple[float, ...], length_m: float, note: str) -> Corner:
    if not apexes:
        apexes = ((corner.entry_m + (corner.exit_m - corner.entry_m) % length_m / 2) % length_m,)
        note += "; its apex is the middle, for want of a measured one"
    apex_m = corner.apex_m if corner.apex_m in apexes else apexes[0]
    return replace(corner, apexes=apexes, apex_m=apex_m, reason=_added(corner.reason, note))


def _added(reason: str, words: str) -> str:
    return f"{reason}; {words}" if reason else words


def _with_corners(circuit: Circuit, changed: Mapping[int, Sequence[Corner]], *,
                  heirs: Mapping[int, Corner] | None = None) -> Circuit:  # fmt: skip
    """Put other corners in the place of some, number all by their apexes, and take the markers along.

    `heirs` says which corner takes over the markers of one that is gone.
    """
    parts = {c.number: tuple(changed.get(c.number, (c,))) for c in circuit.corners}
    ordered = sorted((corner for own in parts.values() for corner in own), key=lambda corner: corner.apex_m)
    numbers = {id(corner): number for number, corner in enumerate(ordered, 1)}

    def now(marker: Marker) -> Marker:
        if marker.corner is None:
            return marker
        own = parts[marker.corner] or ((heirs or {})[marker.corner],)
        return replace(marker, corner=numbers[id(own[0])])

    return _checked(
        replace(
            circuit,
            corners=tuple(replace(corner, number=number) for number, corner in enumerate(ordered, 1)),
            markers=tuple(map(now, circuit.markers)),
        )
    )


def _in_order(markers: Sequence[Marker]) -> tuple[Marker, ...]:
    return tuple(sorted(markers, key=lambda marker: (marker.at_m, marker.key)))


def _checked(circuit: Circuit) -> Circuit:
    check(circuit, remedy="Choose other places; nothing was changed.")
    return circuit
