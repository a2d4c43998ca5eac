"""The invented car Petrelle C4: mass, grip, air, engine, gears, and the formulas that belong to them.

Formulas are textbook physics (Bosch Automotive Handbook; Gillespie, Fundamentals of Vehicle Dynamics).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

GRAVITY_MPS2 = 9.80665
AIR_DENSITY_KGPM3 = 1.225
"""ISO 2533, sea level."""


@dataclass(frozen=True, slots=True)
class Car:
    """A light rear-drive track car with a six-speed sequential gearbox."""

    name: str = "Petrelle C4"
    mass_kg: float = 700.0
    """With driver: 175 kW over 0.7 t is 250 kW/t."""
    power_w: float = 175_000.0
    power_rpm: float = 7600.0
    friction: float = 1.2
    lift_area_m2: float = 1.0
    """Downforce coefficient times area."""
    drag_area_m2: float = 0.78
    rolling: float = 0.016
    brake_full_mps2: float = 12.2
    """Deceleration by the brakes alone at 100 % pedal."""
    cylinders: int = 4
    gear_ratios: tuple[float, ...] = (2.85, 2.14, 1.68, 1.36, 1.12, 0.93)
    final_ratio: float = 4.1
    tyre_radius_m: float = 0.29
    idle_rpm: float = 1400.0
    upshift_rpm: float = 7850.0
    limiter_rpm: float = 8250.0
    wheelbase_m: float = 2.35
    steering_ratio: float = 12.0
    understeer_radps2pm: float = 0.0011
    """Extra road-wheel angle in rad per m/s2 of lateral acceleration."""
    track_half_m: float = 0.85


CAR = Car()


def lateral_acceleration_mps2(speed_mps: float, radius_m: float) -> float:
    """a = v^2 / R."""
    return speed_mps**2 / radius_m


def braking_distance_m(from_mps: float, to_mps: float, friction: float) -> float:
    """d = (v1^2 - v2^2) / (2 mu g): level road, no air."""
    return (from_mps**2 - to_mps**2) / (2.0 * friction * GRAVITY_MPS2)


def firing_frequency_hz(engine_rpm: float, cylinders: int) -> float:
    """Four-stroke: every cylinder fires once in two turns."""
    return engine_rpm / 60.0 * cylinders / 2.0


def drag_n(speed_mps: float, drag_area_m2: float, density_kgpm3: float = AIR_DENSITY_KGPM3) -> float:
    """F = 1/2 rho c_d A v^2."""
    return 0.5 * density_kgpm3 * drag_area_m2 * speed_mps**2


def engine_rpm(speed_mps: float, ratio: float, final_ratio: float, tyre_radius_m: float) -> float:
    """Engine speed without clutch slip."""
    return speed_mps / (2.0 * math.pi * tyre_radius_m) * ratio * final_ratio * 60.0


def kinematic_steer_rad(curvature_1pm: float, wheelbase_m: float) -> float:
    """Road-wheel angle atan(L/R) of slow cornering."""
    return math.atan(wheelbase_m * curvature_1pm)


def grip_mps2(car: Car, speed_mps: float) -> float:
    """Largest acceleration the tyres can give in any direction: friction times (weight and downforce)."""
    downforce_n = drag_n(speed_mps, car.lift_area_m2)
    return car.friction * (GRAVITY_MPS2 + downforce_n / car.mass_kg)


def coast_mps2(car: Car, speed_mps: float, rpm: float) -> float:
    """Deceleration with both pedals free: air, rolling, and the engine's own drag."""
    engine = 0.35 + 0.75 * rpm / car.power_rpm
    return drag_n(speed_mps, car.drag_area_m2) / car.mass_kg + car.rolling * GRAVITY_MPS2 + engine


def drive_mps2(car: Car, speed_mps: float, rpm: float) -> float:
    """Acceleration by the engine at full throttle, before air and rolling drag.

    Power follows x(1 + x - x^2) with x = rpm over the speed of peak power (a common empirical curve, no source).
    """
    x = min(rpm, car.limiter_rpm) / car.power_rpm
    power_w = 0.93 * car.power_w * x * (1.0 + x - x * x)
    return power_w / (car.mass_kg * max(speed_mps, 5.0))
