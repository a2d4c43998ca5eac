"""What a made session is like; everything that is true or audible or visible in it follows from these values."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from fractions import Fraction
from typing import Literal

Pair = Literal["own", "other session", "other driver", "other circuit", "stretched", "elsewhere"]
Sound = Literal["engine", "none", "silent"]
Hole = Literal["picture", "picture and sound"]

RECIPE = 4
"""Raised with every change of the generator, so that no cached session of an older recipe is taken."""


@dataclass(frozen=True, slots=True)
class SessionSpec:
    """One recording and one log of it (or, with `pair`, a log of something else)."""

    seed: int
    """The day: driver, noise, camera, objects' light. The circuit has its own seed."""
    circuit: int = 1
    length_m: float | None = None
    """Length of the circuit; None leaves it to the circuit's seed, 1000 to 2000 m."""
    laps: int = 3
    """Complete laps between the first and the last crossing; the drive begins and ends off them."""
    variation: float = 0.03
    """Standard deviation of cornering speed from lap to lap, as a share."""
    lap_spread_s: float | None = None
    """Greatest difference of lap times that is left, by adjusting grip lap by lap; None adjusts nothing."""
    pair: Pair = "own"

    log_hz: float = 50.0
    log_zero_s: float = 0.0
    """What the log's clock reads at its first sample."""
    log_begins_s: float = 6.0
    """After the car moves off; negative includes the car standing."""
    log_ends_s: float = -6.0
    """After the car stops; negative ends the log while it still drives."""
    without: tuple[str, ...] = ()
    """Roles that the log lacks."""
    style: int = 0
    """Which of the ways of heading columns and writing units."""

    fps: Fraction = Fraction(30)
    variable_rate: bool = False
    """Steps jittered and some frames dropped, with right stamps."""
    container: Literal["mp4", "mkv"] = "mp4"
    container_start_s: float = 0.0
    begins_s: float = -4.0
    """Begin of the recording after the begin of the log; negative is before it."""
    ends_s: float = 4.0
    """End of the recording after the end of the log."""
    drift_ppm: float = 0.0
    pause: tuple[float, float] | None = None
    """(Share of the recording at which it was paused, seconds that are missing); stamps run on without a hole."""
    hole: Hole | None = None
    """Three seconds missing at 60 % of the recording, the stamps keeping the hole."""
    key_s: float = 1.0
    """Seconds between key frames."""

    sound: Sound = "engine"
    cylinders: int = 4
    hiss: float = 0.3
    """White noise against the engine."""
    wind: float = 0.3
    """At 50 m/s, against the engine."""
    speech: float = 0.0
    music: float = 0.0
    whine_order: float | None = None
    """Multiple of the engine's turning frequency at which a gear-box sings as loud as the engine."""
    axle_whine_per_m: float = 0.0
    """Cycles per metre driven at which a final drive sings as loud as the engine."""

    night: bool = False
    knocked: bool = False
    """The camera is turned by a few degrees half way."""
    cockpit: bool = False
    """Bonnet, pillar and a turning wheel cover part of the picture."""
    traffic: bool = False
    """A car ahead for part of the time."""
    size: tuple[int, int] = (192, 108)

    @property
    def rate(self) -> float:
        """Media seconds per log second."""
        return 1.0 + self.drift_ppm * 1e-6

    @property
    def key(self) -> str:
        """Name under which a session with exactly these values is kept; a new field at its default changes none."""
        told = {f.name: getattr(self, f.name) for f in fields(self) if getattr(self, f.name) != f.default}
        return hashlib.sha256(f"{RECIPE} {sorted(told.items())!r}".encode()).hexdigest()[:16]
