"""The preview's clock: lesson time that runs while the lesson is looked at without being made."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Running:
    """A preview under way."""

    began_lesson_s: Fraction
    """Lesson time at which it was started."""
    began_s: float
    """The same moment on the computer's clock."""
    length_s: Fraction
    """Of the lesson."""

    def lesson_s(self, now_s: float) -> Fraction:
        """Lesson time at a moment of the computer's clock; the lesson's length from its end on."""
        passed = Fraction(round((now_s - self.began_s) * 1_000_000), 1_000_000)
        return min(self.began_lesson_s + max(passed, Fraction(0)), self.length_s)

    def is_over(self, now_s: float) -> bool:
        """Whether the lesson's end is reached."""
        return self.lesson_s(now_s) >= self.length_s
