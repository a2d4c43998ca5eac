"""Speeds, lengths and times of the strip as people write them, and the values that dragging snaps to."""

from __future__ import annotations

from fractions import Fraction

from syncview.plan.lesson_choices import SLOWEST_OF_ALL

PLAIN_SPEEDS = tuple(
    Fraction(share)
    for share in ("1/16", "1/8", "1/5", "1/4", "1/3", "2/5", "1/2", "3/5", "2/3", "3/4", "4/5", "1")
)  # fmt: skip
"""Speeds that a person would say; dragging stays with one of them when it comes near."""
SNAP = Fraction(1, 64)
"""How near, as a share of full speed. No source."""
MOST_PARTS = 8
"""Shares of no more parts than this are shown as fractions."""
LONGEST_HOLD_S = Fraction(120)
"""As `syncview.notes.note.hold` allows."""


def snapped_speed(share: float) -> Fraction:
    """The speed that is meant by a share of full speed: a plain one when it is near, else a hundredth."""
    exact = Fraction(min(max(share, float(SLOWEST_OF_ALL)), 1.0))
    near = min(PLAIN_SPEEDS, key=lambda plain: abs(plain - exact))
    if abs(near - exact) <= SNAP:
        return near
    return min(max(Fraction(round(exact * 100), 100), SLOWEST_OF_ALL), Fraction(1))


def next_speed(speed: Fraction, steps: int) -> Fraction:
    """The plain speed so many steps above (or below, when negative) a speed; the last one there is."""
    for _ in range(abs(steps)):
        if steps > 0:
            speed = next((plain for plain in PLAIN_SPEEDS if plain > speed), PLAIN_SPEEDS[-1])
        else:
            speed = next((plain for plain in reversed(PLAIN_SPEEDS) if plain < speed), PLAIN_SPEEDS[0])
    return speed


def snapped_hold(length_s: float) -> Fraction:
    """The length of a hold that is meant, to the tenth of a second, within what a hold can be."""
    return min(max(Fraction(round(length_s * 10), 10), Fraction(0)), LONGEST_HOLD_S)


def speed_text(speed: Fraction) -> str:
    """`1/2`, `0.37`, `1`: as a person is shown it."""
    if speed in PLAIN_SPEEDS or speed.denominator <= MOST_PARTS:
        return str(speed)
    return f"{float(speed):.2f}"


def exact_speed_text(speed: Fraction) -> str:
    """The same without rounding, as a project keeps it."""
    hundredths = speed * 100
    return speed_text(speed) if hundredths.denominator == 1 else str(speed)


def seconds_text(length_s: Fraction | float) -> str:
    """`2.4 s`."""
    return f"{float(length_s):.1f} s"


def clock_text(lesson_s: Fraction | float) -> str:
    """`1:23.4`."""
    tenths = round(Fraction(lesson_s) * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
