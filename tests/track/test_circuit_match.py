"""Sessions on a circuit file: found again by position or by bends, shifted, refused."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.local_plane import plane_around
from syncview.track.circuit import Circuit, CircuitError
from syncview.track.circuit_match import place_of_position, place_on_circuit, rotations
from syncview.track.distance import build_track
from syncview.track.fact_basis import prepare_facts
from syncview.track.facts import session_facts
from tests.track.generator import drive, random_circuit
from tests.track.made import make_log
from tests.track.made_circuits import (
    POSITION,
    backwards,
    beside_m,
    made,
    moved_east,
    stadium,
    with_starts_moved,
)

SHIFTS_M = (0.0, 120.0, -250.0, 800.0)


@pytest.mark.parametrize("shift_m", SHIFTS_M)
@pytest.mark.parametrize(
    ("of_circuit", "of_session", "within_m"),
    [((), (), 2.0), ((), POSITION, 4.0), (POSITION, (), 4.0), (POSITION, POSITION, 4.0)],
)
def test_a_later_session_is_placed_wherever_its_laps_begin(
    shift_m: float, of_circuit: tuple[str, ...], of_session: tuple[str, ...], within_m: float
) -> None:
    """The shift is found, and corners driven afterwards lie where the file has them. Position wanders by 0.5 m."""
    circuit = made(3, without=of_circuit)[2]
    session = drive(3, rate_hz=25, without=of_session)
    own = build_track(session.log, session.lap_starts_s)
    starts_s = with_starts_moved(own, shift_m)
    placing = place_on_circuit(session.log, starts_s, circuit, name="c.toml")
    assert abs(beside_m(placing.shift_m, shift_m, circuit.lap_length_m)) < within_m
    assert placing.moved == (abs(placing.shift_m) > 3)
    assert ("begin now" in placing.words) == placing.moved
    assert placing.track.lap_length_m == circuit.lap_length_m
    basis = prepare_facts(placing.track, session.log, circuit.corners)
    apexes = [(f.apex.distance_m.value, circuit.corners[c - 1].apex_m) for (_, c), f in session_facts(basis).items()
              if not circuit.corners[c - 1].flat]  # fmt: skip
    off_m = [abs(beside_m(at_m, file_m, circuit.lap_length_m)) for at_m, file_m in apexes if at_m is not None]
    assert len(off_m) >= 10
    assert np.median(off_m) < within_m


@pytest.mark.parametrize("without", [(), POSITION])
def test_every_other_circuit_is_refused(without: tuple[str, ...]) -> None:
    """All pairs of eight, whose lengths differ or whose shapes do."""
    for seed in range(8):
        for other in range(8):
            if seed == other:
                continue
            log, starts_s = drive(seed, rate_hz=20, without=without).log, drive(seed, rate_hz=20).lap_starts_s
            with pytest.raises(CircuitError, match=r"the laps are \d+ m long|of the lap lies within|bends in another"):
                place_on_circuit(log, starts_s, made(other, without=without)[2])


def test_patterns_of_equal_length_are_told_apart() -> None:
    """40 random circuits on one length: at the best of all rotations no two agree as a circuit does with itself."""
    cells = 600
    bends = [np.interp(np.linspace(0, 1, cells), np.linspace(0, 1, c.curvature_1pm.size), c.curvature_1pm * c.length_m)
             for c in map(random_circuit, range(40))]  # fmt: skip
    worst = max(rotations(a, b).max() for i, a in enumerate(bends) for b in bends[:i])
    assert worst < 0.8


def test_rotations_are_plain_correlations() -> None:
    random = np.random.default_rng(0)
    a, b = random.normal(size=(2, 50))
    plain = [a @ np.roll(b, -s) / np.sqrt((a @ a) * (b @ b)) for s in range(50)]
    assert rotations(a, b) == pytest.approx(plain)
    assert int(np.argmax(rotations(np.roll(a, -17), a))) == 17


def test_the_same_shape_elsewhere_on_the_globe_is_another_circuit() -> None:
    session, _, circuit = made(3)
    with pytest.raises(CircuitError, match=r"only 0% of the lap lies within 15 m .*half of it is \d+ m away"):
        place_on_circuit(moved_east(session.log, 0.01), session.lap_starts_s, circuit)


def test_the_other_way_round_is_refused() -> None:
    session, basis, circuit = made(3)
    end_s = session.log_s[0] + session.log_s[-1]
    with pytest.raises(CircuitError, match="the other way round the circuit's line"):
        place_on_circuit(backwards(session.log), end_s - session.lap_starts_s[::-1], circuit)
    bent = made(3, without=POSITION)[2]
    with pytest.raises(CircuitError, match="driven the other way round it fits"):
        place_on_circuit(backwards(session.log), end_s - session.lap_starts_s[::-1], bent)
    assert basis.track.lap_length_m == pytest.approx(bent.lap_length_m, rel=0.01)


def test_a_sensor_that_grows_to_the_right_is_named() -> None:
    session, _, circuit = made(3, without=POSITION)
    log = session.log
    from tests.track.test_corners import changed

    turned = changed(session, "yaw_rate", -1.0)
    with pytest.raises(CircuitError, match="left and right exchanged"):
        place_on_circuit(turned, session.lap_starts_s, circuit)
    assert log is session.log


def test_a_lap_that_repeats_itself_is_unsure() -> None:
    """Two half circles and two straights: half a lap on, the pattern fits again."""
    bends = stadium()
    length_m = float(bends.size)
    time_s = np.arange(0, 3.2 * length_m / 30, 0.05)
    place = (30 * time_s).astype(int) % bends.size
    log = make_log(time_s, speed=np.full(time_s.size, 30.0), yaw_rate=30 * bends[place])
    circuit = Circuit("Oval", length_m, (), curvature_1pm=bends[::4])
    with pytest.raises(CircuitError, match=r"fits the circuit at two places \(agreeing by \S+ and"):
        place_on_circuit(log, np.array([10.0, 10 + length_m / 30, 10 + 2 * length_m / 30]), circuit)


def test_laps_that_never_close_are_refused_by_a_circuit_and_say_so_without() -> None:
    """A drive from one place to another with a lap counter on it."""
    time_s = np.arange(0, 200, 0.05)
    plane = plane_around(np.radians([20.0]), np.radians([-40.0]))
    lat, lon = plane.to_geodetic(30 * time_s, 40 * np.sin(time_s / 9))
    log = make_log(time_s, speed=np.full(time_s.size, 30.0), latitude=lat, longitude=lon)
    starts_s = np.array([10.0, 70.0, 130.0])
    assert "ends 1800 m from where it began" in build_track(log, starts_s).warnings[0]
    with pytest.raises(CircuitError, match=r"the laps are 1800 m long|bends in another"):
        place_on_circuit(log, starts_s, made(3)[2])


def test_a_position_is_placed_on_the_lap() -> None:
    _, basis, circuit = made(3)
    assert circuit.line is not None
    line = circuit.reference_line()
    x_m, y_m = line.at(np.array([100.0, 101.0]))
    left_x, left_y = x_m[0] - 6 * (y_m[1] - y_m[0]), y_m[0] + 6 * (x_m[1] - x_m[0])
    lat, lon = (float(np.degrees(p)[0]) for p in line.plane.to_geodetic(np.array([left_x]), np.array([left_y])))
    assert place_of_position(circuit, lat, lon) == pytest.approx(100.0, abs=0.5)
    with pytest.raises(CircuitError, match="from the circuit's line"):
        place_of_position(circuit, lat + 0.01, lon)
    with pytest.raises(CircuitError, match="has no line"):
        place_of_position(made(3, without=POSITION)[2], lat, lon)
    assert basis.track.line is not None
