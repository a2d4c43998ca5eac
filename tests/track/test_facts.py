"""Facts of corners: accuracy on generated drives, and definitions on pedals drawn by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from syncview.channels import SessionLog, Signal
from syncview.track import definitions as d
from syncview.track.corner_facts import CornerFacts
from syncview.track.corners import Corner
from syncview.track.distance import build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from syncview.track.facts import corner_facts, session_facts
from syncview.track.laps import Lap
from syncview.track.steering_facts import count_reversals
from tests.track.generator import Session, drive, random_circuit, with_line_in_corner
from tests.track.made import FloatArray, make_log
from tests.track.prepared import prepared
from tests.track.test_corners import POSITION, RATES_HZ, SEEDS, matches

Facts = dict[tuple[int, int], CornerFacts]


def basis_of(session: Session) -> FactBasis:
    return prepare_facts(build_track(session.log, session.lap_starts_s), session.log)


def beside_m(a_m: float, b_m: float, length_m: float) -> float:
    return (a_m - b_m + length_m / 2) % length_m - length_m / 2


def known(value: float | None) -> float:
    assert value is not None
    return value


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("seed", SEEDS)
def test_accuracy(seed: int, rate_hz: float) -> None:
    """Against the drive's own truth. Receiver wander (0.5 m per axis) makes up most of the errors in place."""
    session, basis = prepared(seed, rate_hz)
    facts, found = session_facts(basis), matches(session.circuit, basis.corners)
    length_m = session.circuit.length_m
    for true in session.passes:
        if true.corner in session.flat:
            continue
        fact = facts[true.lap, found[true.corner].number]
        apex_m = session.circuit.corners[true.corner].apex_m
        assert abs(beside_m(known(fact.apex.distance_m.value), apex_m, length_m)) < 5.0
        assert abs(known(fact.slowest.speed_mps.value) - true.min_speed_mps) * 3.6 < 0.5
        assert (fact.brake.distance_m.value is None) == (true.brake_onset_m is None)
        if true.brake_onset_m is not None and true.brake_onset_s is not None:
            late_s = known(fact.brake.log_s.value) - true.brake_onset_s
            assert abs(late_s) * known(fact.brake.speed_mps.value) < (2.0 if rate_hz == 10 else 1.0)
            assert abs(beside_m(known(fact.brake.distance_m.value), true.brake_onset_m, length_m)) < (
                5.0 if rate_hz == 10 else 3.0
            )
        if true.full_throttle_m is not None and fact.full.distance_m.value is not None:
            assert abs(beside_m(fact.full.distance_m.value, true.full_throttle_m, length_m)) < 5.0


@pytest.mark.parametrize(("noise", "rate_hz"), [(0.4, 100), (0.2, 50), (0.1, 20)])
def test_the_apex_of_one_lap_from_positions(noise: float, rate_hz: float) -> None:
    """Quiet positions are the path itself; what noise they have must not choose the apex of wide bends."""
    off_m = []
    for seed in (0, 6, 7, 8):
        session = drive(seed, rate_hz=rate_hz, noise=noise)
        basis = basis_of(session)
        assert basis.curvature.of_path
        facts, found = session_facts(basis), matches(session.circuit, basis.corners)
        for true in session.passes:
            if true.corner not in session.flat:
                apex_m = known(facts[true.lap, found[true.corner].number].apex.distance_m.value)
                off_m.append(
                    abs(beside_m(apex_m, session.circuit.corners[true.corner].apex_m, session.circuit.length_m))
                )
    assert max(off_m) < 3.0


def test_a_corner_across_the_line_keeps_its_approach() -> None:
    """The brakes go on before the line, the apex is 5 m behind it: all belongs to the lap of the apex."""
    circuit = with_line_in_corner(random_circuit(1), before_apex_m=5.0)
    session = drive(1, rate_hz=50, circuit=circuit)
    basis = basis_of(session)
    facts = session_facts(basis)
    for true in (p for p in session.passes if p.corner == 0 and p.lap > 1):
        fact = facts[true.lap, 1]
        assert known(fact.brake.distance_m.value) > circuit.length_m / 2
        assert 5 < known(fact.brake.before_apex_m.value) < 200
        begin_s = session.lap_starts_s[true.lap - 1]
        assert known(fact.brake.log_s.value) < begin_s < known(fact.apex.log_s.value)


BRAKES = ("brake.before_apex_m", "brake.peak", "brake.to_peak_s", "brake.release_turning_m")


@pytest.mark.parametrize(
    ("without", "lost", "why"),
    [
        (("throttle",), ("pickup.log_s", "full.after_apex_m", "pedals.coasting_s"), "no throttle channel"),
        (("steering",), ("steering.reversals", "pickup.steering_rad", "steering.peak_rad"), "no steering channel"),
        (("gear",), ("gears.lowest",), "no gear channel"),
        (("brake",), BRAKES[1:], "no brake channel"),
    ],
)
def test_a_missing_channel_makes_its_facts_unknown(without: tuple[str, ...], lost: tuple[str, ...], why: str) -> None:
    session = drive(2, rate_hz=20, without=without)
    basis = basis_of(session)
    corner = next(c for c in basis.corners if not c.flat)
    facts = dict(corner_facts(basis.track, session.log, basis.track.timed[1], corner, basis=basis).named())
    for name in lost:
        assert facts[name].value is None
        assert why in facts[name].why_unknown
    assert facts["slowest.speed_mps"].known
    assert all(fact.known != bool(fact.why_unknown) for fact in facts.values())
    assert all(bool(fact.source) == fact.known for fact in facts.values())


def test_without_a_brake_channel_the_deceleration_serves_and_says_so() -> None:
    for without in (("brake",), ("brake", "longitudinal_acceleration")):
        session = drive(2, rate_hz=50, without=without)
        basis = basis_of(session)
        facts, found = session_facts(basis), matches(session.circuit, basis.corners)
        for true in session.passes:
            fact = facts[true.lap, found[true.corner].number].brake
            if true.brake_onset_s is not None:
                assert abs(known(fact.log_s.value) - true.brake_onset_s) < 0.08
                assert fact.log_s.source == (
                    "speed (change of speed)" if len(without) == 2 else "longitudinal acceleration"
                )


# Pedals drawn by hand: 1000 m laps at 25 m/s, one left bend of 40 m radius with its apex at 500 m.

SPEED_MPS, LAP_M, APEX_M = 25.0, 1000.0, 500.0


def drawn(
    *, rate_hz: float = 100, unit: str = "1", **pedals: list[tuple[float, float]]
) -> tuple[FactBasis, Corner, CornerFacts]:
    """The second of three equal laps; pedals are polylines of (lap distance, value), 0 outside."""
    time_s = np.arange(0, 3 * LAP_M / SPEED_MPS + 2, 1 / rate_hz)
    place = SPEED_MPS * (time_s - 1.0)
    lap_m = place % LAP_M
    curvature = np.exp(-0.5 * ((lap_m - APEX_M) / 20) ** 2) / 40
    channels: dict[str, FloatArray] = {
        name: np.interp(lap_m, *np.array([(0.0, points[0][1]), *points, (LAP_M, points[-1][1])]).T)
        for name, points in pedals.items()
    }
    if "gear" in channels:
        channels["gear"] = np.round(channels["gear"])
    slow = SPEED_MPS + 0 * time_s
    log = make_log(time_s, speed=slow, yaw_rate=slow * curvature, units={"brake": unit}, **channels)
    starts = np.linspace(1.0, 1.0 + 3 * LAP_M / SPEED_MPS, 4)
    track = build_track(log, starts)
    basis = prepare_facts(track, log)
    corner = replace(basis.corners[0], flat=False)
    basis = replace(basis, corners=(corner,))
    return basis, corner, session_facts(basis)[2, 1]


FULL_THROTTLE = [(380.0, 1.0), (385.0, 0.0), (520.0, 0.0), (560.0, 1.0)]
BRAKING = [(400.0, 0.0), (410.0, 0.8), (440.0, 0.8), (490.0, 0.0)]


def test_braking_as_drawn() -> None:
    _, corner, facts = drawn(brake=BRAKING, throttle=FULL_THROTTLE)
    assert corner.side == "left"
    assert corner.apex_m == pytest.approx(APEX_M, abs=0.6)
    brake = facts.brake
    # The level is a share of the session's hardest braking, 0.8; it is passed at 5 % of that, 0.5 m after 400 m.
    assert known(brake.distance_m.value) == pytest.approx(400.5, abs=0.05)
    assert known(brake.before_apex_m.value) == pytest.approx(corner.apex_m - 400.5, abs=0.05)
    assert known(brake.peak.value) == pytest.approx(0.8)
    assert known(brake.to_peak_s.value) == pytest.approx((410 * 0.98 + 400 * 0.02 - 400.5) / 25, abs=0.01)
    assert known(brake.release_distance_m.value) == pytest.approx(490 - 50 * d.BRAKE_OFF, abs=0.1)
    # The bend passes a fifth of its peak at 500 − 20·√(2 ln 5) = 464 m.
    turn_in_m = 500 - 20 * math.sqrt(2 * math.log(5))
    assert known(brake.release_turning_m.value) == pytest.approx(490 - 50 * d.BRAKE_OFF - turn_in_m, abs=1.5)
    assert brake.log_s.source == "column brake"


def test_throttle_as_drawn() -> None:
    _, corner, facts = drawn(brake=BRAKING, throttle=FULL_THROTTLE, steering=[(460.0, 0.0), (500.0, 1.0), (540.0, 0.0)])
    assert known(facts.pickup.distance_m.value) == pytest.approx(520 + 40 * d.THROTTLE_ON, abs=0.3)
    assert known(facts.full.distance_m.value) == pytest.approx(520 + 40 * d.THROTTLE_FULL, abs=0.1)
    assert known(facts.full.after_apex_m.value) == pytest.approx(558 - corner.apex_m, abs=0.1)
    held = 1 - (known(facts.pickup.distance_m.value) - 500) / 40
    assert known(facts.pickup.steering_rad.value) == pytest.approx(held, abs=0.01)
    assert known(facts.full.steering_rad.value) == pytest.approx(0.0, abs=0.01)
    assert known(facts.steering.peak_rad.value) == pytest.approx(1.0, abs=0.01)


def test_coasting_and_overlap_as_drawn() -> None:
    _, _, facts = drawn(brake=BRAKING, throttle=FULL_THROTTLE)
    # Throttle below 6 % from 384.7 m, brake above 3 % from 400.3 m to 488.5 m, throttle again at 522.4 m; the corner
    # ends before that, at its exit.
    basis, corner, _ = drawn(brake=BRAKING, throttle=FULL_THROTTLE)
    coasted_m = (400.3 - 384.7) + (min(corner.exit_m, 522.4) - 488.5)
    assert known(facts.pedals.coasting_s.value) == pytest.approx(coasted_m / SPEED_MPS, abs=0.03)
    assert known(facts.pedals.overlap_s.value) == 0.0
    assert basis.track.lap_length_m == pytest.approx(LAP_M, rel=1e-6)
    _, _, both = drawn(brake=BRAKING, throttle=[(420.0, 1.0), (421.0, 0.0), (480.0, 0.0), (481.0, 1.0)])
    # Both feet: 400.5 m to 420.9 m, and 480.1 m to 487.5 m (brake above 5 %).
    assert known(both.pedals.overlap_s.value) == pytest.approx((20.4 + 7.4) / SPEED_MPS, abs=0.03)


def test_pressure_keeps_its_unit() -> None:
    pressed = [(at, 80e5 * share) for at, share in BRAKING]
    _, _, facts = drawn(unit="Pa", brake=pressed, throttle=FULL_THROTTLE)
    assert facts.brake.peak.unit == "Pa"
    assert known(facts.brake.peak.value) == pytest.approx(64e5)


def test_a_dab_is_no_braking() -> None:
    dab = [(300.0, 0.0), (302.0, 0.08), (304.0, 0.0)]
    _, _, facts = drawn(brake=[*dab, *BRAKING], throttle=FULL_THROTTLE)
    assert known(facts.brake.distance_m.value) == pytest.approx(400.5, abs=0.05)


def test_braking_twice_begins_with_the_first_unless_the_throttle_came_between() -> None:
    twice = [(350.0, 0.0), (352.0, 0.5), (370.0, 0.5), (372.0, 0.0), *BRAKING]
    _, _, facts = drawn(brake=twice, throttle=[(340.0, 1.0), (342.0, 0.0), (520.0, 0.0), (560.0, 1.0)])
    assert known(facts.brake.distance_m.value) == pytest.approx(350.2, abs=0.1)
    opened = [
        (340.0, 1.0),
        (342.0, 0.0),
        (375.0, 0.0),
        (378.0, 0.5),
        (390.0, 0.5),
        (392.0, 0.0),
        (520.0, 0.0),
        (560.0, 1.0),
    ]
    _, _, facts = drawn(brake=twice, throttle=opened)
    assert known(facts.brake.distance_m.value) == pytest.approx(400.5, abs=0.1)


def test_not_braked_is_a_reason_not_a_zero() -> None:
    _, _, facts = drawn(brake=[(800.0, 0.0), (805.0, 0.9), (820.0, 0.0)], throttle=FULL_THROTTLE)
    assert facts.brake.before_apex_m.value is None
    assert facts.brake.before_apex_m.why_unknown == "not braked"


def test_blips_for_downshifts_are_no_pickup() -> None:
    taps = [(425.0, 0.0), (426.0, 0.6), (428.0, 0.0), (450.0, 0.0), (451.0, 0.5), (453.0, 0.0)]
    blips = [*FULL_THROTTLE[:2], *taps, *FULL_THROTTLE[2:]]
    _, _, facts = drawn(brake=BRAKING, throttle=blips)
    assert known(facts.pickup.distance_m.value) == pytest.approx(522.4, abs=0.3)


def test_a_lift_is_not_a_pickup() -> None:
    _, _, facts = drawn(brake=[(900.0, 0.0), (905.0, 0.8), (910.0, 0.0)],
                        throttle=[(460.0, 1.0), (470.0, 0.6), (500.0, 0.6), (520.0, 1.0), (890.0, 1.0), (892.0, 0.0),
                                  (960.0, 0.0), (965.0, 1.0)])  # fmt: skip
    assert facts.pickup.distance_m.why_unknown == "the throttle was not closed"
    assert known(facts.full.distance_m.value) == pytest.approx(517.5, abs=0.5)


def test_gears_down_with_places() -> None:
    gears = [(420.0, 5.0), (420.1, 4.0), (445.0, 4.0), (445.1, 3.0), (600.0, 3.0), (600.1, 5.0)]
    _, corner, facts = drawn(brake=BRAKING, throttle=FULL_THROTTLE, gear=gears)
    assert facts.gears.down is not None
    assert [(g.from_gear, g.to_gear) for g in facts.gears.down] == [(5, 4), (4, 3)]
    assert [g.distance_m for g in facts.gears.down] == pytest.approx([420.1, 445.1], abs=0.3)
    assert [g.before_apex_m for g in facts.gears.down] == pytest.approx(
        [corner.apex_m - 420.1, corner.apex_m - 445.1], abs=0.3
    )
    assert facts.gears.lowest.value == 3.0


def test_neutral_between_gears_is_passed_over() -> None:
    gears = [(420.0, 4.0), (420.1, 0.0), (423.0, 0.0), (423.1, 3.0), (600.0, 3.0), (600.1, 4.0)]
    _, _, facts = drawn(brake=BRAKING, throttle=FULL_THROTTLE, gear=gears)
    assert facts.gears.down is not None
    assert [(g.from_gear, g.to_gear) for g in facts.gears.down] == [(4, 3)]


def wheel(*points: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    time_s = np.arange(0, 6, 0.01)
    at, degrees = np.array(points).T
    return time_s, np.radians(np.interp(time_s, at, degrees))


@pytest.mark.parametrize(
    ("points", "apexes", "count"),
    [
        ([(0, 0), (2, 90), (4, 90), (6, 0)], 1, 0),
        ([(0, 0), (2, 90), (2.5, 85), (3, 90), (6, 0)], 1, 0),
        ([(0, 0), (2, 90), (2.3, 40), (2.6, 85), (6, 0)], 1, 1),
        ([(0, 0), (2, 90), (2.3, -30), (2.7, 60), (6, 0)], 1, 1),
        ([(0, 0), (2, 90), (2.3, 40), (2.6, 85), (3, 60), (3.3, 80), (6, 0)], 1, 2),
        ([(0, 0), (1.5, 90), (3, 30), (4.5, 90), (6, 0)], 1, 0),
        ([(0, 0), (2, 90), (2.3, 40), (2.6, 85), (6, 0)], 2, 0),
    ],
)
def test_reversals(points: list[tuple[float, float]], apexes: int, count: int) -> None:
    """Held, breathed on, one catch, a catch over the middle, two catches, a slow second turn-in, a second apex."""
    assert count_reversals(*wheel(*points), apexes=apexes) == count


def test_straight_ahead_and_left_are_learnt() -> None:
    """A wheel that reads 5° straight ahead and grows to the right gives the same facts."""
    base = [(460.0, 0.0), (500.0, 1.0), (540.0, 0.0)]
    turned = [(at, math.radians(5) - value) for at, value in base]
    _, _, plain = drawn(brake=BRAKING, throttle=FULL_THROTTLE, steering=base)
    _, _, other = drawn(brake=BRAKING, throttle=FULL_THROTTLE, steering=turned)
    assert known(other.pickup.steering_rad.value) == pytest.approx(known(plain.pickup.steering_rad.value), abs=1e-6)


def test_time_in_corner_and_against_the_reference() -> None:
    session = drive(1, rate_hz=50, without=POSITION)
    basis = basis_of(session)
    best, other = known_best(basis), next(lap for lap in basis.track.timed if lap != basis.track.best)
    corner = next(c for c in basis.corners if not c.flat)
    mine = corner_facts(basis.track, session.log, other, corner, basis=basis)
    its = corner_facts(basis.track, session.log, best, corner, basis=basis)
    assert its.span.against_reference_s.value == pytest.approx(0.0, abs=1e-9)
    back = corner_facts(basis.track, session.log, best, corner, basis=basis, reference=other)
    assert known(back.span.against_reference_s.value) == pytest.approx(-known(mine.span.against_reference_s.value))
    station = np.interp([corner.entry_m, corner.exit_m], [0, basis.track.lap_length_m], [0, session.circuit.length_m])
    begin = (other.number - 1) * session.circuit.length_m
    true_s = np.diff(np.interp(begin + station, session.station_m, session.log_s))[0]
    assert known(mine.span.time_s.value) == pytest.approx(true_s, abs=0.02)


def known_best(basis: FactBasis) -> Lap:
    assert basis.track.best is not None
    return basis.track.best


def test_pedal_noise_and_holes_do_not_move_the_onset() -> None:
    session = drive(2, rate_hz=100)
    random = np.random.default_rng(5)
    old = session.log.signals["brake"]
    values = old.values + random.normal(0, 0.01, old.values.size)
    values[random.choice(values.size, values.size // 20, replace=False)] = np.nan
    log = SessionLog(
        "x", session.log_s, {**session.log.signals, "brake": Signal(old.role, old.source, values, old.unit)}
    )
    basis = prepare_facts(build_track(log, session.lap_starts_s), log)
    facts, found = session_facts(basis), matches(session.circuit, basis.corners)
    for true in session.passes:
        if true.brake_onset_s is not None:
            fact = facts[true.lap, found[true.corner].number].brake
            assert abs(known(fact.log_s.value) - true.brake_onset_s) < 0.04


def test_the_log_may_begin_in_the_corner() -> None:
    """Lap 1's first corner has no approach in a log that begins at the line: nothing is made up."""
    circuit = with_line_in_corner(random_circuit(1), before_apex_m=5.0)
    session = drive(1, rate_hz=50, circuit=circuit)
    kept = session.log_s > session.lap_starts_s[0] - 0.02
    signals = {name: Signal(s.role, s.source, s.values[kept], s.unit) for name, s in session.log.signals.items()}
    log = SessionLog("short", session.log_s[kept], signals)
    basis = prepare_facts(build_track(log, session.lap_starts_s), log)
    facts = session_facts(basis)[1, 1]
    assert facts.brake.before_apex_m.value is None
    assert facts.brake.before_apex_m.why_unknown == "the log begins in the corner"
    assert facts.span.time_s.value is None


def test_cost_grows_with_the_laps_alone() -> None:
    """Twice the laps cost no more than about twice the time (counted in samples touched, not in seconds)."""
    session = drive(1, rate_hz=20, laps=6)
    basis = basis_of(session)
    touched = 0

    class Counting(np.ndarray):
        def __getitem__(self, key):  # type: ignore[no-untyped-def]
            nonlocal touched
            if isinstance(key, slice):
                touched += len(range(*key.indices(self.shape[0])))
            return np.asarray(super().__getitem__(key))

    assert basis.brake is not None
    counted = replace(basis, brake=basis.brake.view(Counting))
    session_facts(counted, laps=basis.track.timed[:3])
    half, touched = touched, 0
    session_facts(counted)
    assert touched < 2.5 * half
