"""Lap distance: closing, monotone, from whichever channel there is."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st

from syncview.channels import SessionLog, Signal
from syncview.errors import LogError
from syncview.track.distance import Track, build_track, lap_distance
from syncview.track.motion import read_motion
from tests.track.generator import Session, drive
from tests.track.made import FloatArray, make_log

POSITION = ("latitude", "longitude")


def track_of(session: Session) -> Track:
    return build_track(session.log, session.lap_starts_s)


def worst_m(session: Session, track: Track) -> float:
    """Largest difference from the true place, on the timed laps."""
    scale = track.lap_length_m / session.circuit.length_m
    inside = (session.log_s >= session.lap_starts_s[0]) & (session.log_s <= session.lap_starts_s[-1])
    return float(np.abs(track.course_at(session.log_s) - session.station_m * scale)[inside].max())


def with_channel(log: SessionLog, role: str, values: FloatArray) -> SessionLog:
    old = log.signals[role]
    return SessionLog(log.name, log.time_s, {**log.signals, role: Signal(old.role, old.source, values, old.unit)})


@pytest.mark.parametrize("rate_hz", [10, 100])
def test_line_has_the_geodesic_length_of_the_path(rate_hz: float) -> None:
    """The driven path's length, summed by geographiclib's geodesics, against the lap length (no noise): 0.02 %."""
    session = drive(2, rate_hz=rate_hz, noise=0.0)
    track = track_of(session)
    assert track.best is not None
    part = slice(*np.searchsorted(session.log_s, (track.best.start_s, track.best.end_s)))
    lat, lon = (np.degrees(session.log.signals[name].values[part]) for name in POSITION)
    sum_m = sum(Geodesic.WGS84.Inverse(a, b, c, d)["s12"] for a, b, c, d in
                zip(lat[:-1], lon[:-1], lat[1:], lon[1:], strict=True))  # fmt: skip
    ends_m = session.circuit.length_m - float(session.station_m[part][-1] - session.station_m[part][0])
    # Chords between samples 60 m/s / 10 Hz apart are a little shorter than the arc.
    assert track.lap_length_m == pytest.approx(sum_m + ends_m, rel=2e-4 if rate_hz == 100 else 1e-3)
    assert track.lap_length_m == pytest.approx(session.circuit.length_m, rel=1e-3)


def test_line_points_are_a_metre_apart_on_the_ground() -> None:
    line = track_of(drive(1, rate_hz=20)).line
    assert line is not None
    lat, lon = (np.degrees(v) for v in line.plane.to_geodetic(line.x_m, line.y_m))
    steps = [Geodesic.WGS84.Inverse(lat[i - 1], lon[i - 1], lat[i], lon[i])["s12"] for i in range(lat.size)]
    assert sum(steps) == pytest.approx(line.length_m, rel=1e-4)
    assert max(steps) < 1.01
    assert min(steps) > 0.9


@pytest.mark.parametrize("without", [(), POSITION])
def test_every_lap_begins_at_nought_ends_at_the_length_and_rises(without: tuple[str, ...]) -> None:
    session = drive(3, rate_hz=20, without=without)
    track = track_of(session)
    for lap in track.timed:
        trace = lap_distance(track, lap)
        assert trace.distance_m[0] == 0.0
        assert trace.distance_m[-1] == track.lap_length_m
        assert (np.diff(trace.distance_m) > 0).all()
        places = np.linspace(0, track.lap_length_m, 500)
        assert trace.distance_at(trace.log_s_at(places)) == pytest.approx(places, abs=1e-6)
        assert np.isnan(trace.log_s_at(np.array([-1.0, track.lap_length_m + 1]))).all()
    assert (np.diff(track.course_m) > 0).all()


@given(
    st.lists(st.floats(0.0, 80.0), min_size=24, max_size=60),
    st.lists(st.floats(0.5, 9.5), min_size=2, max_size=5, unique=True),
)
def test_any_drive_gives_distances_that_can_be_inverted(speeds: list[float], places: list[float]) -> None:
    """Standing, creeping or quick; crossings anywhere, however near to samples."""
    time_s = np.linspace(0, 10, len(speeds))
    starts = np.sort(np.array(places))
    assume(np.diff(starts).min() > 0.1)
    ends_m = np.interp(starts, time_s, read_motion(make_log(time_s, speed=np.array(speeds))).run_m)
    assume(np.median(np.diff(ends_m)) > 2)
    track = build_track(make_log(time_s, speed=np.array(speeds)), starts)
    assert (np.diff(track.course_m) > 0).all()
    for lap in track.timed:
        trace = track.traces[lap.number]
        assert (trace.distance_m[0], trace.distance_m[-1]) == (0.0, track.lap_length_m)
        assert trace.log_s_at(trace.distance_m) == pytest.approx(trace.log_s, abs=1e-6)


def test_laps_hang_together() -> None:
    session = drive(3, rate_hz=20)
    track = track_of(session)
    assert track.course_at(session.lap_starts_s) == pytest.approx(np.arange(4) * track.lap_length_m, abs=1e-6)
    assert track.course_m[0] == pytest.approx(-300, abs=5)
    assert [track.lap_begin_m(lap) for lap in track.timed] == pytest.approx(np.arange(3) * track.lap_length_m)


@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize(("without", "most_m"), [((), 3.5), (POSITION, 0.5), (("speed",), 3.5)])
def test_places_are_true(seed: int, without: tuple[str, ...], most_m: float) -> None:
    """Receiver wander of 0.5 m standard deviation on each axis remains; speed alone has none."""
    session = drive(seed, rate_hz=20, without=without)
    track = track_of(session)
    assert worst_m(session, track) < most_m
    assert ("reference line" in track.source) == (without != POSITION)


def test_a_log_with_only_its_own_distance() -> None:
    session = drive(1, rate_hz=20)
    counted_m = session.station_m % session.circuit.length_m
    track = build_track(make_log(session.log_s, lap_distance=counted_m), session.lap_starts_s)
    assert "change of distance" in track.source
    assert track.lap_length_m == pytest.approx(session.circuit.length_m, rel=0.005)
    assert worst_m(session, track) < 8.0


def test_receiver_slower_than_the_logger() -> None:
    """Positions at 10 Hz repeated in a 100 Hz log are no stairs."""
    session = drive(1, rate_hz=100)
    held = np.arange(session.log_s.size) // 10 * 10
    log = session.log
    for name in POSITION:
        log = with_channel(log, name, log.signals[name].values[held])
    assert worst_m(session, build_track(log, session.lap_starts_s)) < 3.5


def test_faulty_fixes_are_left_out() -> None:
    """Missing, 0°/0° and far-off positions."""
    session = drive(1, rate_hz=20)
    random = np.random.default_rng(0)
    lat, lon = (session.log.signals[name].values.copy() for name in POSITION)
    lost = random.choice(lat.size, 60, replace=False)
    lat[lost[:20]] = lon[lost[:20]] = 0.0
    lat[lost[20:40]] = np.nan
    lat[lost[40:]] += 1e-4  # 640 m
    log = with_channel(with_channel(session.log, "latitude", lat), "longitude", lon)
    fixes = read_motion(log).fixes
    assert fixes is not None
    assert fixes.log_s.size == lat.size - 60
    assert worst_m(session, build_track(log, session.lap_starts_s)) < 3.5


def test_neighbouring_straight_does_not_capture() -> None:
    """Two straights 6 m apart joined by tight turns, with 2 m of scatter: each place stays on its straight."""
    straight, radius = 500.0, 3.0
    length = 2 * straight + 2 * np.pi * radius
    random = np.random.default_rng(1)
    time_s = np.arange(0, 3.2 * length / 20, 0.1)
    station = 20 * time_s - 0.1 * length
    d = station % length
    turn = np.pi * radius
    a1, a2 = (d - straight) / radius, (d - 2 * straight - turn) / radius
    parts = [d < straight, d < straight + turn, d < 2 * straight + turn]
    back = 2 * straight + turn - d
    x = np.select(parts, [d, straight + radius * np.sin(a1), back], -radius * np.sin(a2))
    y = np.select(parts, [0 * d, radius - radius * np.cos(a1), 2 * radius + 0 * d], radius + radius * np.cos(a2))
    lat = np.radians(10) + (y + random.normal(0, 2, y.size)) / 6.34e6
    lon = np.radians(-30) + (x + random.normal(0, 2, x.size)) / (6.38e6 * np.cos(np.radians(10)))
    starts = (np.array([0.0, 1.0, 2.0, 3.0]) + 0.1) * length / 20
    log = make_log(time_s, speed=np.full(time_s.size, 20.0), latitude=lat, longitude=lon)
    track = build_track(log, starts)
    inside = (station > 0) & (station < 3 * length)
    assert np.abs(track.course_at(time_s) * length / track.lap_length_m - station)[inside].max() < 6.0


def test_positions_that_cover_too_little_are_said() -> None:
    session = drive(1, rate_hz=20)
    lat = session.log.signals["latitude"].values.copy()
    best = track_of(session).best
    assert best is not None
    lat[(session.log_s > best.start_s + 10) & (session.log_s < best.start_s + 20)] = np.nan
    track = build_track(with_channel(session.log, "latitude", lat), session.lap_starts_s)
    assert track.line is None
    assert any("position is missing over" in text for text in track.warnings)
    assert worst_m(session, track) < 1.0


def test_a_path_that_does_not_close_is_said() -> None:
    """Laps of a hill climb's length, but every run ends elsewhere."""
    time_s = np.arange(0, 200, 0.1)
    lat = np.radians(20) + 20 * time_s / 6.4e6
    log = make_log(time_s, speed=np.full(2000, 20.0), latitude=lat, longitude=np.full(2000, 0.3))
    track = build_track(log, np.array([10.0, 60.0, 110.0, 160.0]))
    assert track.line is None
    assert track.warnings[0].startswith("lap 1 ends 99")
    assert track.lap_length_m == pytest.approx(1000.0)


def test_a_lap_without_positions_goes_by_speed_and_says_so() -> None:
    session = drive(1, rate_hz=20)
    lat = session.log.signals["latitude"].values.copy()
    number = next(lap.number for lap in track_of(session).timed if lap != track_of(session).best)
    begin, end = session.lap_starts_s[number - 1 : number + 1]
    lat[(session.log_s > begin) & (session.log_s < end)] = np.nan
    track = build_track(with_channel(session.log, "latitude", lat), session.lap_starts_s)
    assert "scaled to close the lap" in track.traces[number].source
    assert any(f"lap {number}: too few positions" in text for text in track.warnings)


def test_braking_distance_by_integrated_speed() -> None:
    """d = (v1² − v2²)/(2 µ g) with µ 1: 200 to 80 km/h takes 132.185 m (standards sheet, section 9)."""
    time_s = np.linspace(0, (200 - 80) / 3.6 / 9.80665, 101)
    motion = read_motion(make_log(time_s, speed=200 / 3.6 - 9.80665 * time_s))
    assert motion.run_m[-1] == pytest.approx(132.185, abs=5e-4)


def test_what_cannot_be_measured_is_refused() -> None:
    time_s = np.arange(0, 100, 0.1)
    with pytest.raises(LogError, match="no complete lap"):
        build_track(make_log(time_s, speed=np.full(1000, 30.0)), np.array([10.0]))
    with pytest.raises(LogError, match="neither speed nor position nor distance"):
        build_track(make_log(time_s, throttle=np.ones(1000)), np.array([10.0, 90.0]))
    with pytest.raises(LogError, match="did not move"):
        build_track(make_log(time_s, speed=np.zeros(1000)), np.array([10.0, 90.0]))


def test_no_representative_lap_is_said() -> None:
    time_s = np.arange(0, 100, 0.1)
    speed = np.full(1000, 30.0)
    speed[400:440] = 0.0
    track = build_track(make_log(time_s, speed=speed), np.array([10.0, 90.0]))
    assert track.best is None
    assert "no lap is free of remarks" in track.warnings[0]
