"""What a pace plan is made from: the notes that are said, the corners, the coach's rules and pins."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from syncview.errors import SyncviewError


@dataclass(frozen=True, slots=True)
class Misfit:
    """Notes that cannot all be heard and read where they belong."""

    keys: tuple[str, ...]
    short_s: Fraction
    """By how much they are too long, lesson time."""


class PlanError(SyncviewError):
    """There is no pace plan for what was asked."""

    exit_code = 8

    def __init__(
        self, problem: str, remedy: str, *, where: str = "pace plan", misfits: tuple[Misfit, ...] = ()
    ) -> None:
        super().__init__(problem, remedy, where=where)
        self.misfits = misfits
        """Which notes do not fit, in order; empty when the fault lies elsewhere."""

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (self.problem, self.remedy, self.where, self.misfits))


def _rebuild(problem: str, remedy: str, where: str, misfits: tuple[Misfit, ...]) -> PlanError:
    return PlanError(problem, remedy, where=where, misfits=misfits)


@dataclass(frozen=True, slots=True)
class SaidNote:
    """A note as the pace plan sees it: its place, and the time that it takes."""

    key: str
    media_s: Fraction
    """The moment of the recording that it speaks of."""
    speaking_s: Fraction
    """Length of the voice, or an estimate of it."""
    reading_s: Fraction
    """Time that its captions need on screen."""
    least_hold_s: Fraction = Fraction(0)
    """How long the picture must stand here at least while the note is said, as when something is drawn on it."""

    @property
    def need_s(self) -> Fraction:
        """Time until it has been heard, read, and its drawings seen."""
        return max(self.speaking_s, self.reading_s, self.least_hold_s)


@dataclass(frozen=True, slots=True)
class PacedCorner:
    """A stretch of media time in which the car is in a corner."""

    begin_media_s: Fraction
    end_media_s: Fraction
    name: str
    """As a sentence names it: `corner 3`."""
    highest_speed: Fraction = Fraction(1)
    """It plays no faster, however few the words; 1 leaves it to them."""


@dataclass(frozen=True, slots=True)
class PinnedSpeed:
    """A stretch of media time whose speed the coach has set; it goes before every rule."""

    begin_media_s: Fraction
    end_media_s: Fraction
    speed: Fraction


@dataclass(frozen=True, slots=True)
class PinnedHold:
    """A moment whose hold the coach has set; 0 for none. It goes before every rule."""

    media_s: Fraction
    lesson_s: Fraction


@dataclass(frozen=True, slots=True)
class PaceRules:
    """The coach's rules. All defaults are our own choice; no source."""

    slowest: Fraction = Fraction(1, 4)
    """No slow motion is slower; the picture is held instead."""
    speeds: tuple[Fraction, ...] | None = None
    """The speeds that may be used; full speed is always one of them. None for any between `slowest` and 1."""
    longest_hold_s: Fraction = Fraction(8)
    """Longest hold for each note at its place, and at the end of the section for what is still being said."""
    least_full_speed_s: Fraction = Fraction(1)
    """Media time that runs at full speed between two corners where there is room; 0 for no such stretch."""
    pause_s: Fraction = Fraction(1, 2)
    """Least silence between two notes."""
    most_early_s: Fraction = Fraction(1)
    """A note begins at most this long before the picture reaches its place, lesson time."""
    most_late_s: Fraction = Fraction(1, 2)
    """A note begins at most this long after the picture has left its place, lesson time."""

    @property
    def floor(self) -> Fraction:
        """The slowest speed that may be used."""
        return self.slowest if self.speeds is None else min((*self.speeds, Fraction(1)))

    def at_most(self, speed: Fraction) -> Fraction:
        """The highest speed that may be used and is not above ``speed``, which must not be below the floor."""
        if self.speeds is None:
            return speed
        return max(allowed for allowed in (*self.speeds, Fraction(1)) if allowed <= speed)
