"""What is written beside the picture: times and frames in figures."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.shown_units import LENGTH, Units

if TYPE_CHECKING:
    from syncview.lesson.lap_film import LapFilm


def clock_words(seconds: Fraction | float, *, hours: bool = False) -> str:
    """Minutes, seconds and the milliseconds that have passed: 83.4567 s is 1:23.456; with `hours`, 0:01:23.456."""
    whole_ms = int(Fraction(seconds) * 1000 // 1)
    sign, whole_ms = ("−", -whole_ms) if whole_ms < 0 else ("", whole_ms)
    minutes, ms = divmod(whole_ms, 60_000)
    if hours or minutes >= 600:
        return f"{sign}{minutes // 60}:{minutes % 60:02d}:{ms // 1000:02d}.{ms % 1000:03d}"
    return f"{sign}{minutes}:{ms // 1000:02d}.{ms % 1000:03d}"


def count_words(number: int) -> str:
    """A whole number with thin spaces between thousands."""
    return f"{number:,}".replace(",", "\u202f")


def place_words(
    media_s: Fraction, *, number: int, film: LapFilm | None, lap_distance_m: float | None, units: Units
) -> tuple[str, ...]:
    """Frame, time in the recording, and on the taught lap its time and distance: the most needed first."""
    parts = [f"# {count_words(number)}", clock_words(media_s)]
    if film is not None and lap_distance_m is not None:
        unit = LENGTH[units]
        parts.append(f"lap {clock_words(film.clock.to_log_s(float(media_s)) - film.lap.start_s)}")
        parts.append(f"{unit.of(lap_distance_m):.0f} {unit.label}")
    return tuple(parts)
