"""The committed sample files against handbook values, other libraries and their own recipe."""

from __future__ import annotations

import json
import math
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sample_media.recipe import car, clock, log, truth
from sample_media.recipe.circuit import circuit, to_geodetic
from sample_media.recipe.driver import drive

SAMPLE = Path(__file__).parents[2] / "sample_media"
KMH = 1.0 / 3.6


@pytest.fixture(scope="module")
def facts() -> dict[str, Any]:
    document: dict[str, Any] = json.loads((SAMPLE / "truth.json").read_text(encoding="utf-8"))
    return document


@pytest.fixture(scope="module")
def columns() -> dict[str, np.ndarray]:
    with (SAMPLE / "session.csv").open(encoding="utf-8") as lines:
        names = lines.readline().rstrip("\n").split(",")
        table = np.loadtxt(lines, delimiter=",")
    return dict(zip(names, table.T, strict=True))


# Worked from a = v^2/R, d = (v1^2 - v2^2)/(2 mu g), F = 1/2 rho c_d A v^2, delta = atan(L/R): textbook physics
# (Gillespie, Fundamentals of Vehicle Dynamics; Bosch Automotive Handbook; pages not looked up).
@pytest.mark.parametrize(("kmh", "radius_m", "mps2"), [(100.0, 50.0, 15.4321), (150.0, 120.0, 14.4676)])
def test_lateral_acceleration(kmh: float, radius_m: float, mps2: float) -> None:
    assert car.lateral_acceleration_mps2(kmh * KMH, radius_m) == pytest.approx(mps2, abs=5e-5)


@pytest.mark.parametrize(
    ("v1_kmh", "v2_kmh", "friction", "metres"),
    [(100.0, 0.0, 1.0, 39.341), (100.0, 0.0, 0.8, 49.176), (200.0, 0.0, 1.2, 131.136), (200.0, 80.0, 1.0, 132.185)],
)
def test_braking_distance(v1_kmh: float, v2_kmh: float, friction: float, metres: float) -> None:
    assert car.braking_distance_m(v1_kmh * KMH, v2_kmh * KMH, friction) == pytest.approx(metres, abs=1e-3)


def test_drag_steer_and_gearing() -> None:
    assert car.drag_n(100 * KMH, 0.35 * 2.0) == pytest.approx(330.826, abs=2e-3)
    assert car.drag_n(200 * KMH, 0.35 * 2.0) == pytest.approx(1323.30, abs=5e-3)
    assert math.degrees(car.kinematic_steer_rad(1 / 50.0, 2.6)) == pytest.approx(2.9767, abs=5e-5)
    assert car.engine_rpm(47.1239, 1.0, 4.0, 0.30) == pytest.approx(6000.0, abs=0.01)


# Four-stroke: f = rpm/60 * cyl/2 (arithmetic of the cycle: each cylinder fires once in two turns).
@pytest.mark.parametrize(
    ("rpm", "cylinders", "hertz"), [(600, 4, 20), (3000, 4, 100), (6000, 4, 200), (6000, 6, 300), (7200, 8, 480)]
)
def test_firing_frequency(rpm: float, cylinders: int, hertz: float) -> None:
    assert car.firing_frequency_hz(rpm, cylinders) == hertz


def test_lap_length_on_the_ellipsoid(facts: dict[str, Any]) -> None:
    from geographiclib.geodesic import Geodesic

    track = circuit()
    lat, lon = to_geodetic(np.append(track.x_m, track.x_m[0]), np.append(track.y_m, track.y_m[0]))
    total = sum(
        Geodesic.WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1], Geodesic.DISTANCE)["s12"]
        for i in range(len(lat) - 1)
    )
    assert total == pytest.approx(facts["lap_length_m"], abs=0.05)  # chords of 0.25 m lose under 1e-5


def test_log_and_truth_are_made_again(facts: dict[str, Any], columns: dict[str, np.ndarray]) -> None:
    again = truth.facts(circuit(), drive())
    assert again["lap_times_ms"] == facts["lap_times_ms"]
    assert again["corners"] == facts["corners"]
    assert again["laps"][1]["corners"]["3"] == facts["laps"][1]["corners"]["3"]
    lines = log.text(drive()).splitlines()
    assert lines[0] == ",".join(columns)
    table = np.loadtxt(lines[1:], delimiter=",")
    # Another build of the libraries may round a last digit the other way, no more.
    steps = np.array([10.0**-places for _, places in log.COLUMNS])
    assert (np.abs(table - np.column_stack(list(columns.values()))) <= 1.01 * steps).all()


def test_lap_starts_from_the_log_alone(facts: dict[str, Any], columns: dict[str, np.ndarray]) -> None:
    time, lap = columns["time [s]"], columns["lap"]
    steps = np.flatnonzero(np.diff(lap)) + 1
    found = time[steps] - columns["lap distance [m]"][steps] / (columns["speed [km/h]"][steps] * KMH)
    assert found == pytest.approx([start["log_s"] for start in facts["lap_starts"]], abs=1e-3)
    assert lap[steps].tolist() == [1, 2, 3, 4]


def test_lap_times_add_up(facts: dict[str, Any]) -> None:
    starts = [start["log_s"] for start in facts["lap_starts"]]
    assert sum(facts["lap_times_ms"]) == round(1000 * starts[-1]) - round(1000 * starts[0])
    spread = np.ptp(facts["lap_times_ms"])
    assert 300 <= spread <= 1500


def test_channels_agree_with_one_another(columns: dict[str, np.ndarray]) -> None:
    speed = columns["speed [km/h]"] * KMH
    lateral = columns["lateral acceleration [g]"] * car.GRAVITY_MPS2
    # v * yaw rate = v^2/R, but for the nose's own swing in and out of bends and while the slide is caught.
    turning = np.abs(speed * np.radians(columns["yaw rate [deg/s]"]) - lateral)
    assert np.median(turning) < 0.5
    pull = np.gradient(np.convolve(speed, np.ones(25) / 25, mode="same"), 0.01)[50:-50]
    logged = columns["longitudinal acceleration [g]"][50:-50] * car.GRAVITY_MPS2
    assert np.mean(np.abs(pull - np.convolve(logged, np.ones(25) / 25, mode="same"))) < 0.35
    both = (columns["throttle [%]"] > 5) & (columns["brake [%]"] > 5)
    assert both.mean() < 0.005


def test_engine_speed_follows_the_gears(facts: dict[str, Any], columns: dict[str, np.ndarray]) -> None:
    gear = columns["gear"].astype(int)
    settled = np.convolve(np.abs(np.diff(gear, prepend=gear[0])), np.ones(81), mode="same") == 0
    ratio = np.array(facts["gear_ratios"])[gear - 1]
    wheel_rpm = columns["speed [km/h]"] * KMH / (2 * np.pi * facts["tyre_radius_m"]) * 60
    expected = wheel_rpm * ratio * facts["final_ratio"]
    assert np.percentile(np.abs(columns["engine speed [rpm]"] - expected)[settled], 99) < 60


def test_recording(facts: dict[str, Any]) -> None:
    import av

    path = SAMPLE / "session.mp4"
    assert path.stat().st_size <= 5_800_000
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        stamps = sorted(packet.pts for packet in container.demux(stream) if packet.pts is not None)
        assert stream.time_base is not None
        times = [stamp * stream.time_base for stamp in stamps]
        assert (stream.codec_context.width, stream.codec_context.height) == (640, 360)
        sound = container.streams.audio[0]
        assert (sound.codec_context.sample_rate, sound.codec_context.name) == (48_000, "aac")
    assert times == [Fraction(k, clock.FRAME_RATE) for k in range(facts["recording"]["frame_count"])]
    assert clock.frame_count(float(drive().log_s[-1])) == len(times)


def test_sound_fires_at_the_logged_engine_speed(facts: dict[str, Any], columns: dict[str, np.ndarray]) -> None:
    import av

    clock_map = facts["clock"]
    with av.open(str(SAMPLE / "session.mp4")) as container:
        heard = np.concatenate([frame.to_ndarray()[0] for frame in container.decode(audio=0)])
    for media_s in (64.0, 96.0, 97.0, 156.0):  # full throttle in one gear, engine speed nearly steady
        log_s = (media_s - clock_map["offset_s"]) / clock_map["rate"]
        rpm = float(np.interp(log_s, columns["time [s]"], columns["engine speed [rpm]"]))
        expected_hz = rpm / 60.0 * facts["engine"]["cylinders"] / 2.0
        piece = heard[round((media_s - 0.1) * 48_000) : round((media_s + 0.1) * 48_000)]
        level = np.abs(np.fft.rfft(piece * np.hanning(len(piece)), 48_000 * 4))
        hertz = np.arange(len(level)) / 4.0
        around = np.abs(hertz / expected_hz - 1.0) < 0.12
        assert hertz[around][np.argmax(level[around])] == pytest.approx(expected_hz, rel=0.01)


def test_camera_is_on_the_line_at_each_lap_start(facts: dict[str, Any]) -> None:
    run = drive()
    log_s = clock.frame_log_s(facts["recording"]["frame_count"])
    stations = run.at("station_m", log_s)
    for number, start in enumerate(facts["lap_starts"]):
        after = int(np.searchsorted(stations, number * facts["lap_length_m"]))
        assert (after - 1) / clock.FRAME_RATE <= start["media_s"] <= after / clock.FRAME_RATE


def test_corner_events_are_in_order(facts: dict[str, Any]) -> None:
    for lap in facts["laps"]:
        for corner in lap["corners"].values():
            names = ("brake_onset", "apex", "full_throttle")
            times = [corner[name]["log_s"] for name in names if corner[name] is not None]
            assert times == sorted(times)
            assert (corner["brake_onset"] is None) == (corner["min_speed"] is None)


def test_talk_stays_within_the_second_lap(facts: dict[str, Any]) -> None:
    import srt

    cues = list(srt.parse((SAMPLE / "talk.srt").read_text(encoding="utf-8"), ignore_errors=False))
    assert 10 <= len(cues) <= 14
    first, last = (facts["lap_starts"][k]["media_s"] for k in (1, 2))
    edges = [edge.total_seconds() for cue in cues for edge in (cue.start, cue.end)]
    assert edges == sorted(edges)
    assert first < edges[0] < edges[-1] < last
