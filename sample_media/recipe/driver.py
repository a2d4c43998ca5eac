"""The drive: pedals, gears and steering simulated in small steps, so that every channel agrees with the motion."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.ndimage import gaussian_filter1d

from . import style
from .car import CAR, Car, coast_mps2, drive_mps2
from .circuit import HALF_WIDTH_M, Circuit, Floats, circuit
from .gearbox import Gearbox
from .line import Path, drive_path
from .speed import target_speed

STEP_S = 0.002
PREVIEW_S = 0.08
"""The driver acts on the aimed speed this far ahead, which makes up for the time the foot needs."""
LIFT_S = 0.12
"""The throttle is closed this long before the brakes are wanted."""
RUN_IN_M, RUN_OUT_M = 430.0, 260.0
START_MPS = 22.0


@dataclass(frozen=True, slots=True)
class Drive:
    """Every quantity without noise at equal steps of log time; arrays have shape (n,)."""

    log_s: Floats
    distance_m: Floats
    """Along the driven path."""
    station_m: Floats
    """Unrolled station: lap start k (counted from 1) is where it equals (k - 1) * lap length."""
    x_m: Floats
    y_m: Floats
    course_rad: Floats
    """Direction of travel."""
    heading_rad: Floats
    """Direction of the nose."""
    speed_mps: Floats
    throttle_pct: Floats
    brake_pct: Floats
    gear: Floats
    engine_rpm: Floats
    steering_deg: Floats
    """At the steering wheel."""
    yaw_rate_radps: Floats
    lateral_mps2: Floats
    longitudinal_mps2: Floats
    curvature_1pm: Floats
    offset_m: Floats
    slide_rad: Floats
    lap_starts_s: tuple[float, ...]

    def at(self, name: str, log_s: Floats) -> Floats:
        """One quantity at log times, shape (m,)."""
        return np.asarray(np.interp(log_s, self.log_s, getattr(self, name)), dtype=np.float64)


@dataclass(slots=True)
class _Feet:
    """Pedals with the rates a foot is capable of, in shares of full travel."""

    throttle: float = 0.3
    brake: float = 0.0
    off_brake_s: float = 9.0
    """Since the brake was last touched: a foot that has just left it is not put back at once."""

    def press(self, throttle: float, brake: float) -> None:
        self.throttle += min(max(throttle - self.throttle, -11.0 * STEP_S), 4.2 * STEP_S)
        rise, fall = 7.5 * STEP_S, 6.0 * STEP_S
        self.brake += min(max(brake - self.brake, -fall), rise)
        self.off_brake_s = 0.0 if self.brake > 0.0 else self.off_brake_s + STEP_S


@dataclass(frozen=True, slots=True)
class _Sight:
    """What the driver sees coming, from the aimed speed ahead; m/s2 and yes or no."""

    slope_mps2: float
    """Aimed acceleration where the foot's next move takes effect."""
    braking_soon: bool
    early: bool
    """The car is still slower than the aim: it is too early to brake."""


def _wanted(feet: _Feet, wish_mps2: float, coast: float, engine: float, sight: _Sight, car: Car) -> tuple[float, float]:
    """Pedal targets for a wished acceleration; a band between the pedals is coasted."""
    push, hold = wish_mps2 + coast, -wish_mps2 - coast
    if feet.brake > 0.0:
        if sight.slope_mps2 < -3.0:
            hold = max(hold, -0.5 * sight.slope_mps2)
        return 0.0, min(max(hold, 0.0) / car.brake_full_mps2, 1.0)
    if sight.braking_soon and sight.early:
        return 0.0, 0.0
    if sight.slope_mps2 < -3.0 and hold > 1.2 and feet.off_brake_s > 0.6:
        return 0.0, min(hold / car.brake_full_mps2, 1.0) if feet.throttle <= 0.02 else 0.0
    if push > 0.25:
        return min(push / engine * 1.02, 1.0), 0.0
    return 0.0, 0.0


def _simulate(path: Path, target: Floats, slide: Floats, car: Car) -> dict[str, Floats]:
    """Step through the whole path; returns columns by name."""
    gradient = np.gradient(target, path.distance_m)
    aim, slope, loose = target.tolist(), (target * gradient).tolist(), slide.tolist()
    per_m = 1.0 / (path.distance_m[1] - path.distance_m[0])
    feet, box = _Feet(), Gearbox(car, gear=3)
    distance, speed, rows = 0.0, float(target[0]), []
    last = len(aim) - 2
    while True:
        here = int((distance + speed * PREVIEW_S) * per_m)
        soon = int((distance + speed * LIFT_S) * per_m)
        if max(here, soon) >= last:
            break
        rpm = box.rpm(speed)
        coast, engine = coast_mps2(car, speed, rpm), drive_mps2(car, speed, rpm)
        wish = (slope[here] if aim[here] < speed else max(slope[here], -2.0)) + 2.2 * (
            aim[int(distance * per_m)] - speed
        )
        sight = _Sight(slope[here], slope[soon] < -4.0 and aim[soon] < speed, speed < aim[here])
        throttle, brake = _wanted(feet, wish, coast, engine, sight, car)
        lost = loose[int(distance * per_m)]
        feet.press(throttle * max(1.0 - 9.0 * abs(lost), 0.15), brake)
        box.step(speed, STEP_S, braking=feet.brake > 0.03, soon_braking=slope[soon] < -4.0, drive=feet.throttle)
        accel = feet.throttle * engine * box.torque_share - feet.brake * car.brake_full_mps2 - coast
        rows.append((distance, speed, feet.throttle, feet.brake, box.shown_gear, rpm, accel))
        distance += speed * STEP_S + 0.5 * accel * STEP_S**2
        speed += accel * STEP_S
    table = np.array(rows)
    names = ("distance_m", "speed_mps", "throttle", "brake", "gear", "rpm", "accel")
    return dict(zip(names, table.T, strict=True))


def _slide(track: Circuit, path: Path) -> Floats:
    """Extra nose-in angle along the path: a quick rise after the apex, a catch, a small swing back."""
    angle = np.zeros(len(path.station_m))
    for (lap, number), how in style.MANNERS.items():
        if how.slide_rad == 0.0:
            continue
        corner = track.corners[number - 1]
        place = (path.station_m - (lap - 1) * track.length_m - corner.apex_m - 14.0) / 5.5
        swing = np.exp(-0.5 * place**2) - 0.32 * np.exp(-0.5 * (place - 2.6) ** 2)
        angle += how.slide_rad * (1.0 if corner.side == "left" else -1.0) * swing
    return angle


def _turning(car: Car, path: Path, slide: Floats, run: dict[str, Floats]) -> dict[str, Floats]:
    """Course, attitude, yaw rate, accelerations and steering at every step."""
    place = {
        name: np.interp(run["distance_m"], path.distance_m, getattr(path, name))
        for name in ("curvature_1pm", "heading_rad")
    }
    lateral = gaussian_filter1d(run["speed_mps"] ** 2 * place["curvature_1pm"], 0.02 / STEP_S)
    loose = np.interp(run["distance_m"], path.distance_m, slide)
    attitude = gaussian_filter1d(0.0042 * lateral, 0.06 / STEP_S) + loose
    heading = place["heading_rad"] + attitude
    yaw_rate = np.gradient(heading, STEP_S)
    road_wheel = np.arctan(car.wheelbase_m * place["curvature_1pm"]) + car.understeer_radps2pm * lateral - 1.05 * loose
    hand = np.random.default_rng(11).normal(0.0, 1.0, len(loose))
    hand = gaussian_filter1d(hand, 0.09 / STEP_S) * np.sqrt(2 * np.sqrt(np.pi) * 0.09 / STEP_S)
    steering = np.degrees(road_wheel) * car.steering_ratio + 0.45 * hand
    return {
        "course_rad": place["heading_rad"],
        "heading_rad": heading,
        "yaw_rate_radps": yaw_rate,
        "lateral_mps2": lateral,
        "curvature_1pm": place["curvature_1pm"],
        "slide_rad": loose,
        "steering_deg": gaussian_filter1d(steering, 0.03 / STEP_S),
    }


@lru_cache(maxsize=1)
def drive() -> Drive:
    """The whole drive: run-in, timed laps, run-out. Always the same."""
    track, car = circuit(), CAR
    limit_m = HALF_WIDTH_M - 1.0
    path = drive_path(track, -RUN_IN_M, style.LAPS * track.length_m + RUN_OUT_M, style.pulls(track, limit_m), limit_m)
    slide = _slide(track, path)
    run = _simulate(path, target_speed(track, path, car, START_MPS), slide, car)
    log_s = np.arange(len(run["distance_m"]), dtype=np.float64) * STEP_S
    places = {
        n: np.interp(run["distance_m"], path.distance_m, getattr(path, n))
        for n in ("station_m", "x_m", "y_m", "offset_m")
    }
    starts = np.interp(np.arange(style.LAPS + 1) * track.length_m, places["station_m"], log_s)
    return Drive(
        log_s=log_s,
        distance_m=run["distance_m"],
        speed_mps=run["speed_mps"],
        throttle_pct=100.0 * run["throttle"],
        brake_pct=100.0 * run["brake"],
        gear=run["gear"],
        engine_rpm=run["rpm"],
        longitudinal_mps2=run["accel"],
        lap_starts_s=tuple(float(start) for start in starts),
        **places,
        **_turning(car, path, slide, run),
    )
