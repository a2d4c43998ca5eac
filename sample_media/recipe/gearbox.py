"""Which gear the driver uses, and what the engine does during a change."""

from __future__ import annotations

from .car import Car, engine_rpm

UP_S, DOWN_S = 0.07, 0.11
DOWN_PAUSE_S, UP_PAUSE_S = 0.20, 0.45
LOWEST = 2
"""First gear is for the pit lane."""


class Gearbox:
    """A sequential box: one change at a time, with pauses between them, engine speed blended during a change."""

    def __init__(self, car: Car, gear: int) -> None:
        self._car = car
        self.gear = gear
        self._from = gear
        self._since_s = 10.0
        self._shift_s = UP_S

    def _plain_rpm(self, speed_mps: float, gear: int) -> float:
        car = self._car
        return engine_rpm(speed_mps, car.gear_ratios[gear - 1], car.final_ratio, car.tyre_radius_m)

    @property
    def _progress(self) -> float:
        return min(self._since_s / self._shift_s, 1.0)

    @property
    def shown_gear(self) -> int:
        """The gear a sensor on the drum reports: the old one until half the change is done."""
        return self.gear if self._progress >= 0.5 else self._from

    @property
    def torque_share(self) -> float:
        """The ignition is cut during an upshift."""
        return 0.15 if self.gear > self._from and self._progress < 1.0 else 1.0

    def rpm(self, speed_mps: float) -> float:
        """Engine speed: that of the gear, or between two gears; a downshift's blip overshoots a little."""
        p = self._progress
        ease = p * p * (3.0 - 2.0 * p)
        rpm = (1.0 - ease) * self._plain_rpm(speed_mps, self._from) + ease * self._plain_rpm(speed_mps, self.gear)
        if self.gear < self._from and self._since_s < 2.2 * DOWN_S:
            x = self._since_s / (2.2 * DOWN_S)
            rpm += 900.0 * max(x - 0.25, 0.0) * (1.0 - x)
        return float(min(max(rpm, self._car.idle_rpm), self._car.limiter_rpm))

    def _change(self, gear: int, takes_s: float) -> None:
        self._from, self.gear, self._since_s, self._shift_s = self.gear, gear, 0.0, takes_s

    def step(self, speed_mps: float, step_s: float, *, braking: bool, soon_braking: bool, drive: float) -> None:
        """Let time pass and change gear where the driver would."""
        self._since_s += step_s
        rpm = self._plain_rpm(speed_mps, self.gear)
        if braking and self.gear > LOWEST and self._since_s > DOWN_PAUSE_S:
            if self._plain_rpm(speed_mps, self.gear - 1) < 7350.0:
                self._change(self.gear - 1, DOWN_S)
        elif (
            rpm > self._car.upshift_rpm
            and self.gear < 6
            and self._since_s > UP_PAUSE_S
            and drive > 0.3
            and not soon_braking
        ):
            self._change(self.gear + 1, UP_S)
        elif rpm < 4300.0 and drive > 0.1 and self.gear > LOWEST and self._since_s > UP_PAUSE_S:
            self._change(self.gear - 1, DOWN_S)
