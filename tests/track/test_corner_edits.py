"""Changes that a person makes to corners: numbers follow the lap, markers follow their corner, reasons are kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from syncview.track.circuit import Circuit, CircuitError, faults_in
from syncview.track.corner_edits import add_marker, merge, move, remove_marker, rename, set_flat, split
from syncview.track.corners import Corner, Side
from syncview.track.markers import Marker


def corner(number: int, side: Side, entry_m: float, apex_m: float, exit_m: float, **more: object) -> Corner:
    made = Corner(number, side, entry_m, apex_m, exit_m, False, (apex_m,), f"made {number}")
    return replace(made, **more)  # type: ignore[arg-type]


CIRCUIT = Circuit(
    "Drawn", 1000.0,
    (
        corner(1, "left", 100, 130, 160, name="Mill"),
        corner(2, "left", 170, 200, 230),
        corner(3, "right", 400, 430, 470),
        corner(4, "right", 900, 950, 20),
    ),
    (Marker("far", "board", 60, "100 board", None, 1), Marker("tree", "tree", 300, "the oak"),
     Marker("b2", "board", 165, "5 board", "left", 2), Marker("b3", "board", 350, "50 board", None, 3)),
    curvature_1pm=np.full(200, 0.001),
)  # fmt: skip


def of(circuit: Circuit, key: str) -> int | None:
    return next(marker.corner for marker in circuit.markers if marker.key == key)


def test_the_drawn_circuit_is_sound() -> None:
    assert list(faults_in(CIRCUIT)) == []


def test_rename() -> None:
    assert rename(CIRCUIT, 3, "  Long \n Bend ").corners[2].name == "Long Bend"
    assert rename(CIRCUIT, 1, "").corners[0].name == ""
    with pytest.raises(CircuitError, match=r"no corner 9. Corners are: 1, 2, 3, 4"):
        rename(CIRCUIT, 9, "x")


def test_merge_renumbers_and_takes_markers_along() -> None:
    merged = merge(CIRCUIT, 1)
    first = merged.corners[0]
    assert (first.entry_m, first.apexes, first.apex_m, first.exit_m) == (100, (130, 200), 130, 230)
    assert first.name == "Mill"
    assert "made 1, and made 2; merged by hand from 1 and 2" in first.reason
    assert [c.number for c in merged.corners] == [1, 2, 3]
    assert (of(merged, "far"), of(merged, "b2"), of(merged, "b3"), of(merged, "tree")) == (1, 1, 2, None)


def test_merge_over_the_start_line_and_of_unlike_sides() -> None:
    with pytest.raises(CircuitError, match="corner 2 turns left and corner 3 turns right"):
        merge(CIRCUIT, 2)
    alike = replace(CIRCUIT, corners=(*CIRCUIT.corners[:3], replace(CIRCUIT.corners[3], side="left")))
    merged = merge(alike, 4)
    assert merged.corners[-1].apexes == (950, 130)
    assert (merged.corners[-1].entry_m, merged.corners[-1].exit_m) == (900, 160)
    assert of(merged, "far") == 3, "corner 1's markers belong to what it became"


def test_split_and_merge_are_each_other_undone() -> None:
    merged = merge(CIRCUIT, 1)
    parted = split(merged, 1, at_m=165.0, name="Weir")
    assert [(c.apex_m, c.name) for c in parted.corners[:2]] == [(130, "Mill"), (200, "Weir")]
    assert parted.corners[0].exit_m == parted.corners[1].entry_m == 165
    assert len(parted.corners) == 4
    assert of(parted, "b3") == 3


def test_split_without_an_apex_says_so() -> None:
    parted = split(CIRCUIT, 4, at_m=990.0)
    by_apex = {c.apex_m: c for c in parted.corners}
    assert set(by_apex) == {130, 200, 430, 950, 5}
    assert "its apex is the middle, for want of a measured one" in by_apex[5].reason
    assert by_apex[5].number == 1, "behind the line it is the first corner"
    assert of(parted, "far") == 2
    with pytest.raises(CircuitError, match=r"not inside corner 1, which runs from 100.0 to 160.0 m"):
        split(CIRCUIT, 1, at_m=165)


def test_move() -> None:
    moved = move(CIRCUIT, 3, entry_m=410, apex_m=440, exit_m=480).corners[2]
    assert (moved.entry_m, moved.apex_m, moved.apexes, moved.exit_m) == (410, 440, (440,), 480)
    assert "moved by hand: entry from 400.0 m, exit from 470.0 m, apex from 430.0 m" in moved.reason
    double = move(merge(CIRCUIT, 1), 1, apex_m=205).corners[0]
    assert (double.apex_m, double.apexes) == (130, (130, 205))
    for places, message in (
        ({"exit_m": 180.0}, "corners 1 and 2 overlap by 10.0 m"),
        ({"apex_m": 90.0}, "do not follow one another"),
        ({"entry_m": -5.0}, "outside the lap"),
        ({}, "nothing was said"),
    ):
        with pytest.raises(CircuitError, match=message):
            move(CIRCUIT, 1, **places)


def test_flat_can_be_said() -> None:
    assert set_flat(CIRCUIT, 2, flat=True).corners[1].flat
    assert "said to be flat" in set_flat(CIRCUIT, 2, flat=True).corners[1].reason


def test_markers() -> None:
    more = add_marker(CIRCUIT, Marker("b", "bridge", 310, "the bridge", "across"))
    assert [m.key for m in more.markers] == ["far", "b2", "tree", "b", "b3"]
    assert "b" not in {m.key for m in remove_marker(more, "b").markers}
    with pytest.raises(CircuitError, match="there is a marker “tree” already"):
        add_marker(CIRCUIT, Marker("tree", "tree", 1, "x"))
    with pytest.raises(CircuitError, match=r"no marker “x”. Markers are: far"):
        remove_marker(CIRCUIT, "x")
    with pytest.raises(CircuitError, match="outside the lap"):
        add_marker(CIRCUIT, Marker("x", "tree", 1000, "x"))
