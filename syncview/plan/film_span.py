"""The part of a recording that a film shows at full speed: the converter between film time and media time."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class FilmSpan:
    """Film time 0 is media time `begin_s`; both run alike. Exact."""

    begin_s: Fraction
    """Media time of the first frame that is shown."""
    end_s: Fraction
    """Media time at which the last frame that is shown ends."""

    def __post_init__(self) -> None:
        if self.end_s <= self.begin_s:
            raise ValueError(f"a film from {float(self.begin_s)} s to {float(self.end_s)} s has no length")

    @property
    def film_ms(self) -> int:
        """Length of the film, rounded down to whole milliseconds so that nothing is placed past its end."""
        return int((self.end_s - self.begin_s) * 1000)

    def to_film_s(self, media_s: Fraction | float) -> Fraction:
        """Film time of a media time; negative before the film and past its length after it, never clamped."""
        return Fraction(media_s) - self.begin_s

    def to_film_ms(self, media_s: Fraction | float) -> int:
        """Film time in whole milliseconds, rounded to the nearest."""
        return round(self.to_film_s(media_s) * 1000)

    def to_media_s(self, film_s: Fraction | float) -> Fraction:
        """Media time of a film time."""
        return Fraction(film_s) + self.begin_s

    def shows(self, media_s: Fraction | float) -> bool:
        """Whether that moment is in the film."""
        return self.begin_s <= media_s < self.end_s
