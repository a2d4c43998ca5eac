"""How playing runs from a moment on: at a speed, to the end or round and round; exact."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

SPEEDS: tuple[Fraction, ...] = (
    Fraction(1, 8), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(1), Fraction(3, 2), Fraction(2),
)  # fmt: skip


def next_speed(speed: Fraction, by: int) -> Fraction:
    """The speed `by` steps faster (or slower) in `SPEEDS`; the outermost past an end."""
    return SPEEDS[min(max(SPEEDS.index(speed) + by, 0), len(SPEEDS) - 1)]


def speed_words(speed: Fraction) -> str:
    """As people write it: `½×` is clearer than `0.5×` beside whole numbers."""
    signs = {Fraction(1, 8): "⅛", Fraction(1, 4): "¼", Fraction(1, 2): "½", Fraction(3, 4): "¾", Fraction(3, 2): "1½"}
    return f"{signs.get(speed, str(speed))}×"


@dataclass(frozen=True, slots=True)
class Loop:
    """A stretch of the recording that is played again and again."""

    begin_s: Fraction
    end_s: Fraction
    words: str
    """What it is, for people."""
    corner: int | None = None
    """The number of the corner that it is about."""

    def __post_init__(self) -> None:
        if not self.begin_s < self.end_s:
            raise ValueError(f"a loop from {float(self.begin_s):.3f} s to {float(self.end_s):.3f} s has no length")


@dataclass(frozen=True, slots=True)
class Place:
    """Where playing has come to."""

    media_s: Fraction
    turn: int
    """How often the loop began anew."""
    is_over: bool


@dataclass(frozen=True, slots=True)
class PlayRun:
    """Playing from `begin_s` on."""

    begin_s: Fraction
    end_s: Fraction
    """The recording's end."""
    speed: Fraction
    loop: Loop | None = None

    def at(self, played_s: Fraction | float) -> Place:
        """Where playing is after `played_s` seconds of a clock at the wall."""
        media_s = self.begin_s + self.speed * Fraction(max(played_s, 0))
        if self.loop is None or self.begin_s >= self.loop.end_s:
            return Place(min(media_s, self.end_s), 0, media_s >= self.end_s)
        if media_s < self.loop.end_s:
            return Place(media_s, 0, False)
        turn, within_s = divmod(media_s - self.loop.end_s, self.loop.end_s - self.loop.begin_s)
        return Place(self.loop.begin_s + within_s, int(turn) + 1, False)

    def stretches(self) -> Iterator[tuple[Fraction, Fraction]]:
        """The stretches of media time that are heard, one after the other; without end in a loop."""
        if self.loop is None or self.begin_s >= self.loop.end_s:
            yield self.begin_s, self.end_s
            return
        yield self.begin_s, self.loop.end_s
        while True:
            yield self.loop.begin_s, self.loop.end_s

    @property
    def length_s(self) -> Fraction | None:
        """Seconds at the wall until the end; None in a loop."""
        if self.loop is None or self.begin_s >= self.loop.end_s:
            return max(Fraction(0), self.end_s - self.begin_s) / self.speed
        return None


def begin_of(media_s: Fraction, *, last_s: Fraction, home_s: Fraction, loop: Loop | None) -> Fraction:
    """Where playing begins when the playhead is at `media_s`: in the loop, and not on the last frame."""
    if loop is not None and not loop.begin_s <= media_s < loop.end_s:
        return loop.begin_s
    return home_s if media_s >= last_s else media_s
