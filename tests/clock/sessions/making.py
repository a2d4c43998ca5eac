"""Puts a whole session together and keeps it: recording, log and what is true about them."""

from __future__ import annotations

import json
import math
import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter1d

from tests.clock.sessions.camera import Camera, Look, Poses
from tests.clock.sessions.car import CarTrace, make_trace
from tests.clock.sessions.circuit import FloatArray, make_circuit
from tests.clock.sessions.drive import Drive, Driver, make_drive
from tests.clock.sessions.engine_sound import AUDIO_HZ, hear
from tests.clock.sessions.log_file import write_log
from tests.clock.sessions.recording_file import SOUND_LAG_S, plan_frames, write_recording
from tests.clock.sessions.spec import SessionSpec
from tests.clock.sessions.world import make_world


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of the recording in which one line ties the clocks: media_s = rate * log_s + offset_s."""

    begin_media_s: float
    end_media_s: float
    rate: float
    offset_s: float

    def to_media_s(self, log_s: float) -> float:
        """Where a log time lies in this part."""
        return self.rate * log_s + self.offset_s

    def to_log_s(self, media_s: float) -> float:
        """Log time of a media time in this part."""
        return (media_s - self.offset_s) / self.rate


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true about a session; of a mismatched pair only the recording's side means anything."""

    matched: bool
    pieces: tuple[Piece, ...]
    log_begin_s: float
    log_end_s: float
    lap_starts_log_s: tuple[float, ...]
    """Crossings of the start line on the log's clock, whether or not the log holds them."""
    lap_starts_media_s: tuple[float | None, ...]
    """The same on the recording's clock; None where it is not recorded."""

    def shared(self) -> tuple[tuple[float, float], ...]:
        """Log times, begin and end, that each piece shares with the log; pieces that share nothing are left out."""
        spans = []
        for piece in self.pieces:
            begin = max(piece.to_log_s(piece.begin_media_s), self.log_begin_s)
            end = min(piece.to_log_s(piece.end_media_s), self.log_end_s)
            if end > begin:
                spans.append((begin, end))
        return tuple(spans)


@dataclass(frozen=True, slots=True)
class MadeSession:
    """Files and truth."""

    spec: SessionSpec
    recording: Path
    log: Path
    truth: Truth


def make_session(folder: Path, spec: SessionSpec) -> MadeSession:
    """Make the session in `folder`, or take it from there when it was made before with the same values."""
    recording, log = folder / f"{spec.key}.{spec.container}", folder / f"{spec.key}.csv"
    kept = folder / f"{spec.key}.json"
    if kept.is_file() and recording.is_file() and log.is_file():
        return MadeSession(spec, recording, log, _read(kept))
    folder.mkdir(parents=True, exist_ok=True)
    drive, trace, log_drive, log_trace = drives(spec)
    timing = time_session(spec, drive, log_drive)
    span_s = _log_span(spec, log_drive)
    write_log(log, spec, log_drive, log_trace, span_s)
    part = recording.with_suffix(f".part.{spec.container}")
    _film(part, spec, trace, timing)
    os.replace(part, recording)
    truth = timing.truth(drive, span_s)
    kept.write_text(json.dumps(_plain(truth)), encoding="utf-8")
    return MadeSession(spec, recording, log, truth)


def drives(spec: SessionSpec) -> tuple[Drive, CarTrace, Drive, CarTrace]:
    """What is filmed and what is logged: the same, unless the pair is mismatched by another drive."""
    circuit = make_circuit(spec.circuit, spec.length_m)
    driver = Driver(spec.seed, spec.laps, spec.variation, lap_spread_s=spec.lap_spread_s)
    drive = make_drive(circuit, driver)
    trace = make_trace(drive, spec.seed)
    if spec.pair in ("own", "stretched", "elsewhere"):
        return drive, trace, drive, trace
    if spec.pair == "other circuit":
        circuit = make_circuit(spec.circuit + 500, spec.length_m)
    # The car of another session by the same driver has the same gears: they belong to the trace's seed.
    other = replace(driver, seed=spec.seed + 5000, pace=0.95 if spec.pair == "other driver" else 1.0)
    log_drive = make_drive(circuit, other)
    return drive, trace, log_drive, make_trace(log_drive, spec.seed + (1 if spec.pair == "other driver" else 0))


def time_session(spec: SessionSpec, drive: Drive, log_drive: Drive) -> Timing:
    """When log and recording run."""
    log_s = _log_span(spec, log_drive)
    return Timing(spec, *_recording_span(spec, drive, log_s), log_s[0])


def _log_span(spec: SessionSpec, drive: Drive) -> tuple[float, float]:
    """True times of the log's begin and end."""
    begin, end = spec.log_begins_s, drive.end_s + spec.log_ends_s
    return (begin, begin + 0.48 * (end - begin)) if spec.pair == "elsewhere" else (begin, end)


def _recording_span(spec: SessionSpec, drive: Drive, log_s: tuple[float, float]) -> tuple[float, float]:
    if spec.pair == "elsewhere":
        return log_s[1] + 1.0, drive.end_s + spec.log_ends_s
    begin, end = log_s[0] + spec.begins_s, log_s[1] + spec.ends_s
    if spec.pair != "own":
        end = max(end, drive.end_s + spec.log_ends_s + spec.ends_s)
    assert end - begin > 5, "nothing is recorded"
    return begin, end


@dataclass(frozen=True, slots=True)
class Timing:
    """Ties true time, on which the car drives, to both clocks."""

    spec: SessionSpec
    begin_s: float
    """True time of the first frame."""
    end_s: float
    log_begin_s: float
    """True time of the log's first sample."""

    @property
    def _gap_s(self) -> float:
        return 0.0 if self.spec.pause is None else self.spec.pause[1]

    @property
    def duration_s(self) -> float:
        """Length of the recording on its own clock."""
        return (self.end_s - self.begin_s - self._gap_s) * self.spec.rate

    @property
    def _pause_media_s(self) -> float:
        return math.inf if self.spec.pause is None else self.spec.pause[0] * self.duration_s

    def true_s(self, media_s: FloatArray) -> FloatArray:
        """True time that the recording shows."""
        return self.begin_s + media_s / self.spec.rate + np.where(media_s >= self._pause_media_s, self._gap_s, 0.0)

    def truth(self, drive: Drive, log_span_s: tuple[float, float]) -> Truth:
        """The line, or the two lines, between the clocks."""
        rate, zero = self.spec.rate, self.spec.log_zero_s
        offset = rate * (self.log_begin_s - zero - self.begin_s)
        ends = [0.0, min(self._pause_media_s, self.duration_s), self.duration_s]
        gaps = [0.0] if self.spec.pause is None else [0.0, self._gap_s]
        pieces = tuple(Piece(ends[k], ends[k + 1] if k + 1 < len(gaps) else self.duration_s, rate, offset - rate * gap)
                       for k, gap in enumerate(gaps))  # fmt: skip
        starts = [float(s) - self.log_begin_s + zero for s in drive.lap_starts_s]
        last = zero + log_span_s[1] - log_span_s[0] - 1 / self.spec.log_hz
        found = tuple(_in_pieces(pieces, s) for s in starts)
        return Truth(self.spec.pair == "own", pieces, zero, last, tuple(starts), found)


def _in_pieces(pieces: tuple[Piece, ...], log_s: float) -> float | None:
    for piece in pieces:
        media_s = piece.to_media_s(log_s)
        if piece.begin_media_s <= media_s < piece.end_media_s:
            return media_s
    return None


def _film(path: Path, spec: SessionSpec, trace: CarTrace, timing: Timing) -> None:
    plan = plan_frames(spec, timing.duration_s)
    camera = Camera(make_world(spec.circuit, spec.length_m), Look(spec.size, spec.seed, spec.night, spec.cockpit))
    poses = camera_poses(spec, trace, plan.media_s, timing)
    sound = None
    if spec.sound != "none":
        samples_s = SOUND_LAG_S + np.arange(int((timing.duration_s - SOUND_LAG_S) * AUDIO_HZ)) / AUDIO_HZ
        sound = hear(spec, trace, timing.true_s(samples_s))
    write_recording(path, spec, plan, camera.pictures(poses), sound)


def camera_poses(spec: SessionSpec, trace: CarTrace, media_s: FloatArray, timing: Timing) -> Poses:
    """The camera follows the car, nods, leans and shakes with it, and may be knocked."""
    rng = np.random.default_rng([spec.seed, 9])
    true_s = timing.true_s(media_s)

    def of(values: FloatArray) -> FloatArray:
        return np.interp(true_s, trace.time_s, values)

    def shake(grid_sigma: float, size: float) -> FloatArray:
        wave = gaussian_filter1d(rng.normal(size=trace.time_s.size), grid_sigma)
        return of(wave / wave.std() * size * np.minimum(trace.speed_mps / 30, 1.3))

    knocked = (media_s > rng.uniform(0.4, 0.6) * timing.duration_s) & spec.knocked
    yaw = (
        of(trace.heading_rad)
        + rng.normal(0, 0.02)
        + shake(2.0, 0.0012)
        + np.where(knocked, rng.choice([-1, 1]) * 0.07, 0)
    )
    pitch = rng.normal(0.03, 0.015) - 0.0016 * of(trace.pull_mps2) + shake(2.5, 0.003) + np.where(knocked, 0.04, 0)
    roll = rng.normal(0, 0.008) + 0.0022 * of(trace.lateral_mps2) + shake(3.0, 0.002) + np.where(knocked, -0.03, 0)
    sun = 0.12 * np.cos(of(trace.heading_rad) - rng.uniform(0, 6))
    drift = gaussian_filter1d(rng.normal(size=trace.time_s.size), 300)
    gain = (1 + sun + of(0.05 * drift / drift.std())) * (rng.uniform(0.8, 1.15) if not spec.night else 1.0)
    ahead = np.full(media_s.size, np.nan)
    if spec.traffic:
        wave = np.sin(true_s / 17 + rng.uniform(0, 6)) + np.sin(true_s / 7.3)
        ahead = np.where(wave > 0, 9 + 14 * (2 - wave), np.nan)
    return Poses(of(trace.x_m), of(trace.y_m), yaw, pitch, roll, gain, of(trace.steering_rad), ahead)


def _plain(truth: Truth) -> dict[str, object]:
    return {name: getattr(truth, name) for name in Truth.__slots__ if name != "pieces"} | {
        "pieces": [[p.begin_media_s, p.end_media_s, p.rate, p.offset_s] for p in truth.pieces]
    }


def _read(path: Path) -> Truth:
    told = json.loads(path.read_text(encoding="utf-8"))
    return Truth(told["matched"], tuple(Piece(*row) for row in told["pieces"]), told["log_begin_s"], told["log_end_s"],
                 tuple(told["lap_starts_log_s"]), tuple(told["lap_starts_media_s"]))  # fmt: skip
