"""Corners of random circuits and of shapes with known answers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from syncview.channels import SessionLog, Signal
from syncview.errors import LogError
from syncview.track.corners import Corner, corners_of_curvature, find_corners
from syncview.track.curvature import lap_curvature
from syncview.track.curvature_grid import LapCurvature
from syncview.track.distance import Track, build_track
from tests.track.generator import Circuit, Session, drive, random_circuit, with_line_in_corner
from tests.track.made import FloatArray, log_of, make_log
from tests.track.prepared import prepared

SEEDS = (0, 1, 2, 3, 4)
RATES_HZ = (10, 20, 50, 100)
POSITION = ("latitude", "longitude")
SENSORS = ("yaw_rate", "lateral_acceleration")
APEX_TOLERANCE_M = 5.0


def apart_m(a_m: float, b_m: float, length_m: float) -> float:
    return abs((a_m - b_m + length_m / 2) % length_m - length_m / 2)


def matches(circuit: Circuit, corners: tuple[Corner, ...]) -> dict[int, Corner]:
    """True corner (from 0) -> the corner found with its side and an apex within the tolerance."""
    found = {}
    for index, true in enumerate(circuit.corners):
        # A flat bend of 400 m radius has a top 100 m long: its apex is sought within a twentieth of its length.
        allowed_m = max(APEX_TOLERANCE_M, 0.05 * (true.exit_m - true.entry_m))
        for corner in corners:
            near = min(apart_m(apex, true.apex_m, circuit.length_m) for apex in corner.apexes)
            if corner.side == true.side and near <= allowed_m:
                found[index] = corner
    return found


def corners_of(session: Session) -> tuple[Corner, ...]:
    return find_corners(build_track(session.log, session.lap_starts_s), session.log)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("seed", SEEDS)
def test_all_corners_and_no_others(seed: int, rate_hz: float) -> None:
    """Recall and precision are 1, apexes within 5 m, sides right, flat ones known as flat."""
    session, basis = prepared(seed, rate_hz)
    corners = basis.corners
    found = matches(session.circuit, corners)
    assert set(found) == set(range(len(session.circuit.corners)))
    assert len(corners) == len(session.circuit.corners)
    assert {index for index, corner in found.items() if corner.flat} == session.flat
    assert [corner.number for corner in corners] == list(range(1, len(corners) + 1))
    assert [corner.apex_m for corner in corners] == sorted(corner.apex_m for corner in corners)


@pytest.mark.parametrize(
    ("without", "source"),
    [
        (POSITION, "yaw rate"),
        ((*POSITION, "yaw_rate"), "lateral acceleration"),
        (SENSORS, "latitude, longitude"),
        (("speed", "throttle", "brake", *SENSORS, "longitudinal_acceleration"), "latitude, longitude"),
    ],
)
def test_any_source_will_do(without: tuple[str, ...], source: str) -> None:
    session = drive(2, rate_hz=20, without=without)
    track = build_track(session.log, session.lap_starts_s)
    assert lap_curvature(track, session.log).source == source
    corners = find_corners(track, session.log)
    assert len(matches(session.circuit, corners)) == len(corners) == len(session.circuit.corners)


def test_sparse_positions_serve_with_a_warning() -> None:
    """Fixes once a second are up to 60 m apart: all but tight bends can be told, and the result says so."""
    session = drive(2, rate_hz=20, without=SENSORS)
    log, held = session.log, np.arange(session.log_s.size) // 20 * 20
    signals = dict(log.signals)
    for name in POSITION:
        old = log.signals[name]
        signals[name] = Signal(old.role, old.source, old.values[held], old.unit)
    log = SessionLog("slow receiver", log.time_s, signals)
    track = build_track(log, session.lap_starts_s)
    assert "positions 48 m apart" in lap_curvature(track, log).warnings[0]
    assert track.lap_length_m == pytest.approx(session.circuit.length_m, rel=0.002)
    with_sensor = SessionLog("x", log.time_s, {**signals, "yaw_rate": drive(2, rate_hz=20).log.signals["yaw_rate"]})
    assert lap_curvature(track, with_sensor).source == "yaw rate"


def test_quiet_positions_come_first() -> None:
    session = drive(2, rate_hz=20, noise=0.1)
    track = build_track(session.log, session.lap_starts_s)
    curvature = lap_curvature(track, session.log)
    assert curvature.source == "latitude, longitude; lateral acceleration"
    assert curvature.of_path
    unhelped = {name: s for name, s in session.log.signals.items() if name != "lateral_acceleration"}
    alone = lap_curvature(track, SessionLog("x", session.log_s, unhelped))
    assert alone.source == "latitude, longitude"
    assert alone.of_path
    assert alone.scatter_1pm > 0


@pytest.mark.parametrize("lead_s", [0.0, 0.15])
def test_yaw_that_leads_the_path_gives_way_to_lateral_acceleration(lead_s: float) -> None:
    """Positions too noisy to serve alone still tell which sensor follows the path."""
    session = drive(2, rate_hz=50)
    old = session.log.signals["yaw_rate"]
    values = np.interp(session.log_s + lead_s, session.log_s, old.values)
    log = SessionLog("x", session.log_s, {**session.log.signals, "yaw_rate": Signal(old.role, "yaw", values, old.unit)})
    track = build_track(log, session.lap_starts_s)
    curvature = lap_curvature(track, log)
    assert curvature.source == ("latitude, longitude; lateral acceleration" if lead_s else "yaw")


def changed(session: Session, role: str, factor: float) -> SessionLog:
    old = session.log.signals[role]
    new = Signal(old.role, old.source, old.values * factor, old.unit)
    return SessionLog("changed", session.log.time_s, {**session.log.signals, role: new})


def test_a_sensor_that_grows_to_the_right_is_turned_round() -> None:
    session = drive(2, rate_hz=20)
    log = changed(session, "yaw_rate", -1.0)
    track = build_track(log, session.lap_starts_s)
    assert any("grows to the right" in text for text in lap_curvature(track, log).warnings)
    assert len(matches(session.circuit, find_corners(track, log))) == len(session.circuit.corners)


def test_a_sensor_in_the_wrong_unit_is_not_used() -> None:
    session = drive(2, rate_hz=20)
    log = changed(session, "yaw_rate", 180 / math.pi)
    track = build_track(log, session.lap_starts_s)
    curvature = lap_curvature(track, log)
    assert curvature.source == "latitude, longitude; lateral acceleration"
    assert any("its unit may be wrong" in text for text in curvature.warnings)


def test_a_sensor_that_does_not_follow_is_not_used() -> None:
    session = drive(2, rate_hz=20)
    old = session.log.signals["yaw_rate"]
    values = np.random.default_rng(0).permutation(old.values)
    log = SessionLog(
        "x", session.log_s, {**session.log.signals, "yaw_rate": Signal(old.role, "gyro", values, old.unit)}
    )
    curvature = lap_curvature(build_track(log, session.lap_starts_s), log)
    assert curvature.source == "latitude, longitude; lateral acceleration"
    assert any("“gyro” (yaw rate) does not follow" in text for text in curvature.warnings)


def test_nothing_that_turns_is_an_error() -> None:
    session = drive(2, rate_hz=20, without=(*POSITION, *SENSORS))
    track = build_track(session.log, session.lap_starts_s)
    with pytest.raises(LogError, match=r"no channel tells how the car turns.*--role"):
        find_corners(track, session.log)


@pytest.mark.parametrize("before_apex_m", [5.0, -5.0])
def test_a_corner_across_the_line(before_apex_m: float) -> None:
    circuit = with_line_in_corner(random_circuit(1), before_apex_m=before_apex_m)
    session = drive(1, rate_hz=20, circuit=circuit)
    corners = corners_of(session)
    found = matches(circuit, corners)
    assert len(found) == len(corners) == len(circuit.corners)
    assert found[0].entry_m > found[0].exit_m
    assert found[0].number == (1 if before_apex_m > 0 else len(corners))


def circle_log(role: str, value: float, speed_mps: float, radius_m: float) -> tuple[SessionLog, FloatArray]:
    lap_s = 2 * math.pi * radius_m / speed_mps
    time_s = np.arange(0, 4 * lap_s, 0.02)
    channels: dict[str, FloatArray] = {"speed": np.full(time_s.size, speed_mps), role: np.full(time_s.size, value)}
    return log_of(time_s, channels), np.linspace(1, 3, 3) * lap_s


@pytest.mark.parametrize(
    ("speed_kmh", "radius_m", "lateral_mps2"),
    [(100.0, 50.0, 15.4321), (150.0, 120.0, 14.4676)],  # standards sheet, section 9: a = v²/R = v·yaw rate
)
def test_curvature_from_worked_values(speed_kmh: float, radius_m: float, lateral_mps2: float) -> None:
    speed_mps = speed_kmh / 3.6
    for role, value in (("lateral_acceleration", lateral_mps2), ("yaw_rate", lateral_mps2 / speed_mps)):
        log, starts = circle_log(role, value, speed_mps, radius_m)
        curvature = lap_curvature(build_track(log, starts), log)
        assert 1 / curvature.median_1pm == pytest.approx(radius_m, rel=1e-4)
        assert curvature.median_1pm.sum() * curvature.step_m == pytest.approx(2 * math.pi, rel=1e-4)


def test_median_over_laps_is_scipys() -> None:
    session = drive(3, rate_hz=20, laps=4)
    curvature = lap_curvature(build_track(session.log, session.lap_starts_s), session.log)
    laps = np.array(list(curvature.by_lap.values()))
    assert laps.shape[0] == 4
    assert curvature.median_1pm == pytest.approx(stats.scoreatpercentile(laps, 50, axis=0))


def shaped(kappa: FloatArray) -> tuple[Corner, ...]:
    """Corners of a curvature given on each metre, driven at a constant 30 m/s without pedals."""
    time_s = np.arange(0, 3 * kappa.size / 30, 0.05)
    log = make_log(time_s, speed=np.full(time_s.size, 30.0) - np.sin(time_s))
    track: Track = build_track(log, np.array([1.0, 1.0 + kappa.size / 30, 1.0 + 2 * kappa.size / 30]))
    track = type(track)(float(kappa.size), track.laps, track.traces, None, track.best, track.source,
                        track.course_log_s, track.course_m, track.motion)  # fmt: skip
    return corners_of_curvature(LapCurvature(1.0, 0, kappa, {}, kappa, "made"), track, log)


def bump(at_m: float, radius_m: float, turn_deg: float) -> FloatArray:
    """A bell of curvature on 1000 m with a peak of 1/radius and a given turn."""
    places = np.arange(1000) + 0.5
    width = math.radians(abs(turn_deg)) * radius_m / math.sqrt(2 * math.pi)
    return np.asarray(math.copysign(1 / radius_m, turn_deg) * np.exp(-0.5 * ((places - at_m) / width) ** 2))


def test_chicane_is_two_corners() -> None:
    corners = shaped(bump(400, 30, 45) + bump(440, 30, -45))
    assert [c.side for c in corners] == ["left", "right"]
    assert abs(corners[0].apex_m - 400) < 3
    assert abs(corners[1].apex_m - 440) < 3
    assert corners[0].exit_m <= corners[1].entry_m


def test_two_near_apexes_are_one_corner() -> None:
    (corner,) = shaped(bump(400, 25, 50) + bump(450, 30, 50))
    assert corner.apexes == pytest.approx((400, 450), abs=3)
    assert corner.apex_m == corner.apexes[0]
    assert corner.reason.startswith("double apex: ")


def test_two_far_apexes_are_two_corners() -> None:
    corners = shaped(
        bump(400, 25, 70) + bump(475, 30, 70) + 0.004 * ((np.arange(1000) > 380) & (np.arange(1000) < 490))
    )
    assert [round(c.apex_m / 5) for c in corners] == [80, 95]
    assert "not one corner with its neighbour on the same side: apexes 7" in corners[1].reason


def test_a_long_bend_with_a_ripple_is_one_apex() -> None:
    places = np.arange(1000)
    kappa = np.where((places > 300) & (places < 420), 1 / 50 * (1 + 0.08 * np.sin(places / 8)), 0.0)
    (corner,) = shaped(kappa)
    assert len(corner.apexes) == 1


def test_wobbles_and_lane_changes_are_no_corners() -> None:
    places = np.arange(1000)
    wobble = 0.0018 * np.sin(2 * np.pi * places / 150)
    assert [round(c.apex_m) for c in shaped(bump(500, 40, 90) + wobble * (abs(places - 500) > 200))] == [500]


def test_names_and_reasons_are_kept() -> None:
    (corner,) = shaped(bump(500, 40, 90))
    assert corner.name == ""
    assert corner.reason == "turns 89°, 41 m radius at the tightest"  # smoothing takes a little off
    assert corner.entry_m < corner.apex_m < corner.exit_m
    assert corner.exit_m - corner.entry_m == pytest.approx(2 * 1.8 * 25, rel=0.15)  # where a bell falls to a fifth


def test_straight_lap_has_no_corners() -> None:
    assert shaped(np.zeros(1000)) == ()
