"""Sessions made from our own physics: random closed circuits driven on the grip circle, with sensors that err.

What is true is kept beside what is logged. Nothing here uses the code under test (except the log's container).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from syncview.channels import ROLES, SessionLog, Signal

FloatArray = NDArray[np.float64]

STEP_M = 0.5
FINE_S = 0.002
GRIP_MPS2 = 1.15 * 9.80665
BRAKE_FULL_MPS2 = 13.0
POWER_WPKG = 230.0
LAT0_DEG, LON0_DEG = 20.0, -40.0
"""In the open Atlantic."""


@dataclass(frozen=True)
class TrueCorner:
    """One bend; places in metres from the start line."""

    side: str
    apex_m: float
    entry_m: float
    exit_m: float


@dataclass(frozen=True, eq=False)
class Circuit:
    length_m: float
    curvature_1pm: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    corners: tuple[TrueCorner, ...]


@dataclass(frozen=True)
class TruePass:
    """One corner on one lap (from 1); None where it was not braked."""

    lap: int
    corner: int
    brake_onset_m: float | None
    brake_onset_s: float | None
    min_speed_mps: float
    full_throttle_m: float | None


@dataclass(frozen=True)
class Session:
    log: SessionLog
    circuit: Circuit
    lap_starts_s: FloatArray
    passes: tuple[TruePass, ...]
    log_s: FloatArray
    station_m: FloatArray
    """Unrolled, at the log's samples; 0 at the first crossing."""
    flat: frozenset[int]
    """Corners (from 0) that need no lift."""


def with_line_in_corner(circuit: Circuit, *, before_apex_m: float) -> Circuit:
    """The same circuit with its start line this far before the first bend's apex."""
    shift = round((circuit.corners[0].apex_m - before_apex_m) / STEP_M)
    moved = tuple(TrueCorner(c.side, *((p - shift * STEP_M) % circuit.length_m
                                       for p in (c.apex_m, c.entry_m, c.exit_m))) for c in circuit.corners)  # fmt: skip
    return _integrated(np.roll(circuit.curvature_1pm, -shift), moved)


@cache
def random_circuit(seed: int) -> Circuit:
    """Bends of squared-sine curvature (one place of greatest curvature each) joined by straights that close."""
    random = np.random.default_rng(seed)
    for _ in range(500):
        count = int(random.integers(7, 12))
        turns = np.radians(random.uniform(35, 130, count)) * np.where(random.random(count) < 0.3, -1, 1)
        turns[-1] += 2 * math.pi - turns.sum()
        if not math.radians(35) < abs(turns[-1]) < math.radians(170):
            continue
        radii = np.exp(random.uniform(math.log(16), math.log(110), count))
        if random.random() < 0.5:
            turns[0], radii[0] = math.radians(22) * np.sign(turns[0]), 400.0
            turns[-1] += 2 * math.pi - turns.sum()
        circuit = _closed(turns, radii, random.uniform(0.85, 1.2, count), random.uniform(50, 420, count))
        if circuit is not None and abs(turns[-1]) < math.radians(170):
            return circuit
    raise AssertionError(f"no circuit closes with seed {seed}")


def _closed(turns: FloatArray, radii: FloatArray, skews: FloatArray, straights: FloatArray) -> Circuit | None:
    ends = _end(turns, radii, skews, straights)
    headings = np.concatenate(([0.0], np.cumsum(turns)[:-1]))
    directions = np.array([np.cos(headings), np.sin(headings)])
    change = -np.linalg.pinv(directions) @ np.array([ends.x_m[-1], ends.y_m[-1]])
    straights = straights + change
    if straights.min() < 30:
        return None
    made = _end(turns, radii, skews, straights)
    return made if math.hypot(made.x_m[-1], made.y_m[-1]) < 3.0 else None


def _end(turns: FloatArray, radii: FloatArray, skews: FloatArray, straights: FloatArray) -> Circuit:
    parts, corners, at_m = [], [], 0.0
    for turn, radius, skew, straight in zip(turns, radii, skews, straights, strict=True):
        cells = max(round(straight / STEP_M), 1)
        parts.append(np.zeros(cells))
        at_m += cells * STEP_M
        cells = round(2 * abs(turn) * radius / STEP_M)
        shape = np.sin(math.pi * ((np.arange(cells) + 0.5) / cells) ** skew) ** 2
        parts.append(shape * turn / (shape.sum() * STEP_M))
        apex_m = at_m + (0.5 ** (1 / skew)) * cells * STEP_M
        corners.append(TrueCorner("left" if turn > 0 else "right", apex_m, at_m, at_m + cells * STEP_M))
        at_m += cells * STEP_M
    # The last straight leads over the line: half of the first one is moved behind the last bend.
    curvature = np.concatenate(parts)
    shift = round(straights[0] / STEP_M / 2)
    curvature = np.roll(curvature, -shift)
    moved = tuple(TrueCorner(c.side, c.apex_m - shift * STEP_M, c.entry_m - shift * STEP_M, c.exit_m - shift * STEP_M)
                  for c in corners)  # fmt: skip
    return _integrated(curvature, moved)


def _integrated(curvature: FloatArray, corners: tuple[TrueCorner, ...]) -> Circuit:
    heading = np.cumsum(curvature) * STEP_M
    middle = heading - 0.5 * curvature * STEP_M
    x = np.concatenate(([0.0], np.cumsum(np.cos(middle)) * STEP_M))
    y = np.concatenate(([0.0], np.cumsum(np.sin(middle)) * STEP_M))
    return Circuit(curvature.size * STEP_M, curvature, x, y, corners)


@cache
def drive(seed: int, *, rate_hz: float, laps: int = 3, noise: float = 1.0, without: tuple[str, ...] = (),
          circuit: Circuit | None = None) -> Session:  # fmt: skip
    """A run from 300 m before the line over the laps and 300 m on; `without` names roles that are not logged."""
    circuit = random_circuit(seed) if circuit is None else circuit
    random = np.random.default_rng(1000 + seed)
    lead = round(300 / STEP_M)
    count = circuit.curvature_1pm.size
    cells = np.arange(-lead, laps * count + lead)
    station = np.asarray(cells * STEP_M, dtype=np.float64)
    kappa = circuit.curvature_1pm[cells % count]
    grip = GRIP_MPS2 * np.interp(station, np.arange(-1, laps + 3) * circuit.length_m, random.uniform(0.93, 1, laps + 4))
    speed, limited = _speed(kappa, grip)
    flat = frozenset(i for i, c in enumerate(circuit.corners) if not _binds(limited, cells, count, c))
    return _log(circuit, station, speed, kappa, random, rate_hz, laps, noise, without, flat)


def _binds(limited: NDArray[np.bool_], cells: NDArray[np.int64], count: int, corner: TrueCorner) -> bool:
    inside = (cells % count * STEP_M >= corner.entry_m) & (cells % count * STEP_M <= corner.exit_m)
    return bool(limited[inside].any())


def _speed(kappa: FloatArray, grip: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Grip circle: limit by v²κ, then backward by braking, then forward by engine and what grip is left."""
    limit = np.sqrt(grip / np.maximum(np.abs(kappa), 1e-4))
    limit[0] = min(limit[0], 30.0)
    speed = limit.tolist()
    bend, hold = np.abs(kappa).tolist(), grip.tolist()
    for i in range(len(speed) - 2, -1, -1):
        v = speed[i + 1]
        left = math.sqrt(max(hold[i] ** 2 - (v * v * bend[i + 1]) ** 2, 0.0)) * 0.92
        speed[i] = min(speed[i], math.sqrt(v * v + 2 * left * STEP_M))
    slowed = list(speed)
    for i in range(1, len(speed)):
        v = speed[i - 1]
        left = math.sqrt(max(hold[i] ** 2 - (v * v * bend[i - 1]) ** 2, 0.0))
        push = min(POWER_WPKG / v - _drag(v), left)
        speed[i] = min(speed[i], math.sqrt(max(v * v + 2 * push * STEP_M, 1.0)))
    held = np.array(speed) >= np.array(slowed) - 1e-9
    return np.array(speed), held


def _drag(speed_mps: float) -> float:
    return 0.5 + 0.0009 * speed_mps**2


def _rate_limited(wish: FloatArray, rise_per_s: float, fall_per_s: float) -> FloatArray:
    result, now = [], float(wish[0])
    for want in wish.tolist():
        now += min(max(want - now, -fall_per_s * FINE_S), rise_per_s * FINE_S)
        result.append(now)
    return np.array(result)


def _log(circuit: Circuit, station: FloatArray, speed: FloatArray, kappa: FloatArray, random: np.random.Generator,
         rate_hz: float, laps: int, noise: float, without: tuple[str, ...],
         flat: frozenset[int]) -> Session:  # fmt: skip
    time_s = np.concatenate(([0.0], np.cumsum(2 * STEP_M / (speed[1:] + speed[:-1]))))
    fine_s = np.arange(0.0, time_s[-1], FINE_S)
    at = np.interp(fine_s, time_s, station)
    v = np.interp(at, station, speed)
    pull = np.gradient(speed**2 / 2, STEP_M)
    pull = np.interp(at, station, pull)
    drag = 0.5 + 0.0009 * v**2
    wish_brake = np.clip((-pull - drag - 0.4) / BRAKE_FULL_MPS2, 0, 1)
    wish_throttle = np.clip((pull + drag) / (POWER_WPKG / v) * 1.03, 0, 1) * (wish_brake <= 0)
    brake, throttle = _rate_limited(wish_brake, 8, 6), _rate_limited(wish_throttle, 5, 14)
    starts = np.interp(np.arange(laps + 1) * circuit.length_m, at, fine_s)
    passes = _passes(circuit, laps, fine_s, at, v, wish_brake, throttle)
    first_s = random.uniform(0, 1 / rate_hz)
    log_s = np.arange(first_s, fine_s[-1], 1 / rate_hz)
    values = _sensors(circuit, np.interp(log_s, fine_s, at), {
        "speed": np.interp(log_s, fine_s, v),
        "brake": np.interp(log_s, fine_s, brake),
        "throttle": np.interp(log_s, fine_s, throttle),
        "bend": np.interp(np.interp(log_s, fine_s, at), station + STEP_M / 2, kappa),
        "pull": np.interp(log_s, fine_s, pull),
    }, random, noise, rate_hz)  # fmt: skip
    signals = {role.name: Signal(role, role.words, values[role.name], role.unit.split("|")[0])
               for role in ROLES if role.name in values and role.name not in without}  # fmt: skip
    log = SessionLog("made", log_s, signals)
    return Session(log, circuit, starts, passes, log_s, np.interp(log_s, fine_s, at), flat)


def _sensors(circuit: Circuit, at: FloatArray, true: dict[str, FloatArray], random: np.random.Generator, noise: float,
             rate_hz: float) -> dict[str, FloatArray]:  # fmt: skip
    def err(sigma: float) -> FloatArray:
        return random.normal(0, sigma * noise, at.size)

    v, bend = true["speed"], true["bend"]
    since_s = np.arange(at.size) / rate_hz
    knots_s = np.arange(0, since_s[-1] + 20, 10)
    wander = [np.interp(since_s, knots_s, random.normal(0, 0.5 * noise, knots_s.size)) for _ in "xy"]
    lap_m = at % circuit.length_m
    edges = np.arange(circuit.x_m.size) * STEP_M
    x = np.interp(lap_m, edges, circuit.x_m) + wander[0] + err(0.1)
    y = np.interp(lap_m, edges, circuit.y_m) + wander[1] + err(0.1)
    lon, lat, _ = Geod(ellps="WGS84").fwd(np.full(at.size, LON0_DEG), np.full(at.size, LAT0_DEG),
                                          np.degrees(np.arctan2(x, y)), np.hypot(x, y))  # fmt: skip
    steering = 12 * (np.arctan(2.4 * bend) + 0.001 * v**2 * bend) + err(math.radians(0.5))
    gear = np.clip(np.floor(v / 11) + 1, 2, 6)
    return {
        "speed": v + err(0.05), "throttle": true["throttle"] + err(0.005), "brake": true["brake"] + err(0.005),
        "steering": steering, "yaw_rate": v * bend + err(math.radians(0.5)), "gear": gear,
        "lateral_acceleration": v**2 * bend + err(0.3), "longitudinal_acceleration": true["pull"] + err(0.3),
        "latitude": np.radians(lat), "longitude": np.radians(lon),
    }  # fmt: skip


def _passes(circuit: Circuit, laps: int, fine_s: FloatArray, at: FloatArray, v: FloatArray, wish_brake: FloatArray,
            throttle: FloatArray) -> tuple[TruePass, ...]:  # fmt: skip
    result = []
    on = np.concatenate(([False], wish_brake > 0, [False]))
    begins, ends = np.flatnonzero(on[1:] & ~on[:-1]), np.flatnonzero(on[:-1] & ~on[1:])
    strong = [(b, e) for b, e in zip(begins, ends, strict=True) if wish_brake[b:e].max() > 0.25]
    for lap in range(laps):
        for number, corner in enumerate(circuit.corners):
            begin_m = lap * circuit.length_m
            before = circuit.corners[number - 1].apex_m - (0 if number else circuit.length_m)
            inside = (at >= begin_m + corner.entry_m) & (at <= begin_m + corner.exit_m)
            mine = [b for b, e in strong if begin_m + before < at[b] < begin_m + corner.apex_m
                    and at[e - 1] > begin_m + corner.entry_m - 40]  # fmt: skip
            slowest = int(np.argmin(np.where(inside, v, np.inf)))
            later = np.flatnonzero((throttle >= 0.95) & (at > at[slowest]) & (at < begin_m + corner.exit_m + 60))
            result.append(TruePass(
                lap + 1, number, float(at[mine[-1]]) - begin_m if mine else None,
                float(fine_s[mine[-1]]) if mine else None, float(v[slowest]),
                float(at[later[0]]) - begin_m if later.size else None,
            ))  # fmt: skip
    return tuple(result)
