"""The clock on whole made sessions, and the making itself: what it calls true must be so in the files."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import islice
from pathlib import Path

import av
import numpy as np
import pytest
from scipy.signal import correlate

from syncview.channels import FloatArray, open_log
from syncview.clock.align import align
from syncview.media.recording import open_recording
from syncview.media.sound import read_mono
from tests.clock.sessions import MadeSession, SessionSpec, make_session
from tests.clock.sessions.camera import Camera, Look
from tests.clock.sessions.car import make_trace
from tests.clock.sessions.circuit import LEAST_RADIUS_M, make_circuit
from tests.clock.sessions.drive import GRIP_MPS2, Driver, make_drive
from tests.clock.sessions.engine_sound import AUDIO_HZ, hear
from tests.clock.sessions.judging import errors_of
from tests.clock.sessions.making import camera_poses, drives, time_session
from tests.clock.sessions.recording_file import HOLE_S, SOUND_LAG_S, plan_frames
from tests.clock.sessions.world import make_world

SHORT = SessionSpec(
    seed=1, circuit=5, length_m=800.0, laps=2, fps=Fraction(25), drift_ppm=150.0, log_zero_s=100.0, begins_s=-3.0
)
BRIEF = replace(SHORT, begins_s=20.0, ends_s=-62.0)
"""A few seconds of recording, for what needs no lap."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("sessions")


def found(made: MadeSession) -> tuple[bool, float | None, str]:
    """Whether the clock is sure, its greatest error in frames (None without a clock), and its doubts."""
    fit = align(open_recording(made.recording), open_log(made.log)).fit
    if fit.clock is None:
        return fit.sure, None, "; ".join(fit.doubts)
    errors_s, _ = errors_of(made.truth, fit.clock)
    return fit.sure, max(map(abs, errors_s)) * float(made.spec.fps), "; ".join(fit.doubts)


@pytest.mark.slow
def test_a_session_with_sound_is_sure_and_within_a_frame(folder: Path) -> None:
    sure, frames_off, doubts = found(make_session(folder, SHORT))
    assert sure, doubts
    assert frames_off is not None
    assert frames_off < 0.4  # the bar of the clock: 16 ms, at 25 frames a second


@pytest.mark.slow
@pytest.mark.parametrize(
    "changes",
    [{"sound": "none"}, {"pause": (0.5, 9.0), "laps": 3}, {"without": ("engine_speed",), "night": True, "seed": 3}],
    ids=["no sound", "paused", "no engine speed, night"],
)
def test_what_is_harder_is_never_wrong_with_confidence(folder: Path, changes: dict[str, object]) -> None:
    sure, frames_off, _ = found(make_session(folder, replace(SHORT, **changes)))  # type: ignore[arg-type]
    assert not sure or (frames_off is not None and frames_off <= 1.0)


@pytest.mark.slow
@pytest.mark.parametrize("pair", ["other session", "elsewhere"])
def test_a_log_of_something_else_is_never_sure(folder: Path, pair: str) -> None:
    made = make_session(folder, replace(SHORT, pair=pair, laps=3))  # type: ignore[arg-type]
    fit = align(open_recording(made.recording), open_log(made.log)).fit
    assert not fit.sure
    assert fit.doubts


@pytest.mark.parametrize("seed", range(4))
def test_circuits_close_once_round_without_kinks(seed: int) -> None:
    circuit = make_circuit(seed)
    steps = np.hypot(np.diff(circuit.x_m, append=circuit.x_m[:1]), np.diff(circuit.y_m, append=circuit.y_m[:1]))
    assert steps == pytest.approx(1.0, abs=0.02)
    # A simple closed curve turns by 2 pi in all (Hopf's Umlaufsatz).
    assert abs((circuit.curvature_1pm * circuit.length_m / circuit.x_m.size).sum()) == pytest.approx(2 * math.pi)
    assert np.abs(circuit.curvature_1pm).max() < 1.2 / LEAST_RADIUS_M
    assert 6 <= circuit.corners <= 12


def test_the_car_accelerates_as_its_path_bends() -> None:
    # Centripetal acceleration v²/R against the second difference of the positions themselves.
    drive = make_drive(make_circuit(2), Driver(4, 2, 0.03))
    trace = make_trace(drive, 4)
    dt = 0.1
    time_s = np.arange(10.0, drive.end_s - 10, dt)
    x, y = np.interp(time_s, drive.time_s, drive.x_m), np.interp(time_s, drive.time_s, drive.y_m)
    heading = np.interp(time_s, trace.time_s, trace.heading_rad)[1:-1]
    across = (-np.sin(heading) * np.diff(x, 2) + np.cos(heading) * np.diff(y, 2)) / dt**2
    lateral = np.interp(time_s, trace.time_s, trace.lateral_mps2)[1:-1]
    assert np.sqrt(np.mean((across - lateral) ** 2)) < 0.6
    assert np.abs(lateral).max() < 1.35 * GRIP_MPS2
    turned = np.diff(np.interp(time_s, trace.time_s, trace.heading_rad))
    yaw = np.interp((time_s[1:] + time_s[:-1]) / 2, trace.time_s, trace.yaw_rate_radps)
    assert np.sqrt(np.mean((turned / dt - yaw) ** 2)) < 0.02


def test_laps_differ_as_much_as_they_are_told_to() -> None:
    circuit = make_circuit(1)
    free = np.diff(make_drive(circuit, Driver(3, 5, 0.03)).lap_starts_s)
    held = np.diff(make_drive(circuit, Driver(3, 5, 0.006, lap_spread_s=0.05)).lap_starts_s)
    assert 0.1 < np.ptp(free) < 4.0
    assert np.ptp(held) <= 0.05
    assert 30 < free.mean() < 75


def test_crossings_lie_on_the_start_line() -> None:
    circuit = make_circuit(3)
    drive = make_drive(circuit, Driver(9, 3, 0.03))
    x, y = (
        np.interp(drive.lap_starts_s, drive.time_s, drive.x_m),
        np.interp(drive.lap_starts_s, drive.time_s, drive.y_m),
    )
    heading = circuit.heading_rad[0]
    beyond = (x - circuit.x_m[0]) * np.cos(heading) + (y - circuit.y_m[0]) * np.sin(heading)
    assert beyond == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize("style", range(3))
def test_the_log_reads_back_as_it_was_driven(folder: Path, style: int) -> None:
    spec = replace(BRIEF, style=style, log_hz=20.0, without=("yaw_rate", "latitude", "longitude"))
    made = make_session(folder, spec)
    log = open_log(made.log)
    assert not log.warnings
    assert set(log.signals) == {"speed", "engine_speed", "gear", "throttle", "brake", "steering", "lap", "lap_distance",
                                "lateral_acceleration", "longitudinal_acceleration"}  # fmt: skip
    assert log.time_s[0] == pytest.approx(100.0)
    assert np.diff(log.time_s) == pytest.approx(0.05, abs=1e-6)
    assert log.time_s[-1] == pytest.approx(made.truth.log_end_s, abs=0.05)
    drive, trace, _, _ = drives(spec)
    true_s = log.time_s - 100.0 + time_session(spec, drive, drive).log_begin_s
    for role, values, within in (("speed", trace.speed_mps, 0.5), ("lateral_acceleration", trace.lateral_mps2, 1.5),
                                 ("engine_speed", trace.rpm * 2 * np.pi / 60, 4.0)):  # fmt: skip
        logged = log.values(role)
        assert logged is not None
        assert np.sqrt(np.mean((logged - np.interp(true_s, trace.time_s, values)) ** 2)) < within
    steps = np.flatnonzero(np.diff(log.need("lap", "here"))) + 1
    crossings = [s for s in made.truth.lap_starts_log_s if 100.0 < s < log.time_s[-1]]
    assert log.time_s[steps] == pytest.approx(crossings, abs=0.051)
    assert (log.time_s[steps] >= crossings).all()


STAMPS = [
    {},
    {"fps": Fraction(30_000, 1001), "container": "mkv", "container_start_s": 3.2, "seed": 2},
    {"fps": Fraction(60), "variable_rate": True, "container_start_s": 1.4},
    {"hole": "picture and sound", "seed": 2},
]


@pytest.mark.parametrize("changes", STAMPS, ids=["25", "29.97 mkv", "60 variable", "hole"])
def test_frames_stand_at_their_stamps_and_show_their_moment(folder: Path, changes: dict[str, object]) -> None:
    spec: SessionSpec = replace(BRIEF, **changes)  # type: ignore[arg-type]
    recording = open_recording(make_session(folder, spec).recording)
    drive, *_ = drives(spec)
    timing = time_session(spec, drive, drive)
    plan = plan_frames(spec, timing.duration_s)
    assert recording.frames.times_s == pytest.approx(plan.media_s, abs=1e-4)
    assert recording.container_start_s == pytest.approx(spec.container_start_s, abs=1e-3)
    assert recording.is_variable_rate == (spec.variable_rate or spec.hole is not None)
    if spec.hole is not None:
        assert np.diff(recording.frames.times_s).max() == pytest.approx(HOLE_S, abs=0.1)
    # Drawn again with the car where it was at the stamp, the picture is nearer than with the car a frame away.
    with av.open(str(recording.path)) as container:
        frames = islice(container.decode(video=0), 40, 43)
        shown = [f.to_ndarray()[: spec.size[1]].astype(float) for f in frames]  # luma as coded
    away = [_differences(spec, plan.media_s[40:43] + shift / float(spec.fps), shown) for shift in (-1, 0, 1)]
    assert away[1] < 0.8 * min(away[0], away[2])


def _differences(spec: SessionSpec, media_s: FloatArray, shown: list[FloatArray]) -> float:
    drive, trace, _, _ = drives(spec)
    poses = camera_poses(spec, trace, media_s, time_session(spec, drive, drive))
    drawn = Camera(make_world(spec.circuit, spec.length_m), Look(spec.size, spec.seed)).pictures(poses)
    return float(np.mean([np.abs(a - b).mean() for a, b in zip(drawn, shown, strict=True)]))


@pytest.mark.parametrize("changes", STAMPS, ids=["25", "29.97 mkv", "60 variable", "hole"])
def test_sound_is_heard_when_it_should_be(folder: Path, changes: dict[str, object]) -> None:
    spec: SessionSpec = replace(BRIEF, **changes)  # type: ignore[arg-type]
    recording = open_recording(make_session(folder, spec).recording)
    heard, begin_s = read_mono(recording, rate_hz=AUDIO_HZ, begin_s=0.5, end_s=5.5)
    drive, trace, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    samples_s = SOUND_LAG_S + np.arange(int((timing.duration_s - SOUND_LAG_S) * AUDIO_HZ)) / AUDIO_HZ
    meant = hear(spec, trace, timing.true_s(samples_s))
    place = int(np.argmax(correlate(meant[: 7 * AUDIO_HZ], heard, mode="valid")))
    assert SOUND_LAG_S + place / AUDIO_HZ == pytest.approx(begin_s, abs=0.0005)


@pytest.mark.parametrize(
    ("rpm", "cylinders", "firing_hz"),
    # Four-stroke firing frequency rpm/60 * cylinders/2, worked values of common handbooks.
    [(3000, 4, 100.0), (6000, 6, 300.0), (7200, 8, 480.0), (6000, 3, 150.0)],
)
def test_the_engine_fires_at_its_frequency(rpm: float, cylinders: int, firing_hz: float) -> None:
    drive = make_drive(make_circuit(1), Driver(3, 1, 0.03))
    trace = replace(make_trace(drive, 3), rpm=np.full(make_trace(drive, 3).time_s.size, rpm))
    spec = SessionSpec(3, cylinders=cylinders, hiss=0.0, wind=0.0)
    sound = hear(spec, trace, np.arange(4 * AUDIO_HZ) / AUDIO_HZ + 20)
    power = np.abs(np.fft.rfft(sound * np.hanning(sound.size)))
    hz = np.fft.rfftfreq(sound.size, 1 / AUDIO_HZ)
    loud = hz[power > 0.2 * power.max()]
    multiples = loud / firing_hz * (cylinders / 2)
    assert multiples * 2 == pytest.approx(np.round(multiples * 2), abs=0.02)  # half orders only
    near = np.abs(hz - firing_hz) < 1
    assert power[near].max() > 0.2 * power.max()


def test_a_pause_is_missing_from_the_recording_only() -> None:
    spec = replace(SHORT, pause=(0.5, 9.0), laps=3)
    drive, _, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    truth = timing.truth(drive, (timing.log_begin_s, drive.end_s + spec.log_ends_s))
    before, after = truth.pieces
    assert before.end_media_s == after.begin_media_s == pytest.approx(timing.duration_s / 2)
    # The same media time on both sides of the cut shows moments nine seconds apart.
    assert after.to_log_s(after.begin_media_s) - before.to_log_s(before.end_media_s) == pytest.approx(9.0)
    shown = timing.true_s(np.array([before.end_media_s - 0.01, before.end_media_s]))
    assert np.diff(shown) == pytest.approx(9.01, abs=1e-4)
    for log_s, media_s in zip(truth.lap_starts_log_s, truth.lap_starts_media_s, strict=True):
        if media_s is not None:
            true_s = timing.true_s(np.array([media_s]))[0]
            assert true_s - timing.log_begin_s + spec.log_zero_s == pytest.approx(log_s, abs=1e-6)
