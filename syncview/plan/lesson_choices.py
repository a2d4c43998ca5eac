"""What the coach chose for the lesson: plain values that the project keeps, and what they mean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

from syncview.errors import SyncviewError

SlowMethod = Literal["auto", "repeat", "blend", "flow"]
SLOW_METHODS: tuple[SlowMethod, ...] = get_args(SlowMethod)
Shape = Literal["as recorded", "wide", "tall", "square"]
SHAPES: tuple[Shape, ...] = get_args(Shape)
CaptionStyle = Literal["picture", "track", "both", "none"]
CAPTION_STYLES: tuple[CaptionStyle, ...] = get_args(CaptionStyle)
LONGEST_TITLE = 120
SLOWEST_OF_ALL = Fraction(1, 16)
"""Slower than this a hold serves better: at 60 frames/s a picture would stand for a quarter of a second. No source."""


class ChoiceError(SyncviewError):
    """A choice for the lesson cannot be as asked."""

    exit_code = 8


@dataclass(frozen=True, slots=True)
class PinnedPace:
    """A stretch of the lap whose speed the coach has set; by lap distance, so that it holds for any lap."""

    begin_m: float
    end_m: float
    speed: str
    """A fraction of full speed, as it was written: `1/2` or `0.5`."""


@dataclass(frozen=True, slots=True)
class LessonChoices:
    """Everything that the lesson's plan depends on besides the notes and the lap."""

    title: str = ""
    """On the first card; empty for the circuit's name or a plain title."""
    hot_lap: bool = True
    """Whether the lap is shown once at full speed before the breakdown."""
    intro_s: float = 6.0
    closing_s: float = 7.0
    """How long the cards stand; 0 leaves a card out."""
    before_s: float = 3.0
    after_s: float = 3.0
    """Seconds shown before and after the lap, less where the recording ends."""
    slowest: str = "1/4"
    speeds: tuple[str, ...] = ()
    """The speeds that may be used; empty for any between `slowest` and 1."""
    corner_speed: str = "1/2"
    """The highest speed in a corner with notes, however few the words; 1 leaves it to the words."""
    longest_hold_s: float = 8.0
    least_full_speed_s: float = 1.0
    words_per_minute: float = 150.0
    """How quickly the coach speaks, where no voice is recorded."""
    pinned: tuple[PinnedPace, ...] = ()
    slow_pictures: SlowMethod = "auto"
    captions: CaptionStyle = "picture"
    shape: Shape = "as recorded"
    draft_voice: str = ""
    """Language of the synthetic draft voice for notes without a recorded one, such as `en`; empty for none."""
    loudness_lufs: float = -23.0


def speed_of(text: str) -> Fraction:
    """The speed that was written as `1/4`, `0.25` or `25 %`; raises `ChoiceError` when it is none."""
    words = text.strip()
    try:
        speed = Fraction(words.removesuffix("%").strip()) / (100 if words.endswith("%") else 1)
    except (ValueError, ZeroDivisionError):
        raise ChoiceError(f"“{text[:30]}” is not a speed", "Write a share of full speed: 1/4, 0.25 or 25 %.") from None
    if not SLOWEST_OF_ALL <= speed <= 1:
        raise ChoiceError(
            f"a speed of {words} is not between {SLOWEST_OF_ALL} and 1", "Slower than that, set a longer hold."
        )
    return speed


def speeds_of(texts: Sequence[str]) -> tuple[Fraction, ...] | None:
    """The allowed speeds ascending, always with full speed among them; None when any is allowed."""
    return tuple(sorted({speed_of(text) for text in texts} | {Fraction(1)})) if texts else None


def checked_choices(choices: LessonChoices) -> LessonChoices:
    """The choices, when they can be; raises `ChoiceError` naming the first that cannot."""
    slowest = speed_of(choices.slowest)
    if speed_of(choices.corner_speed) < slowest:
        raise ChoiceError(
            f"corners at {choices.corner_speed} would be slower than the slowest, {choices.slowest}",
            "Raise the corner speed or lower the slowest.",
        )
    allowed = speeds_of(choices.speeds)
    if allowed is not None and allowed[0] < slowest:
        raise ChoiceError(f"{allowed[0]} is slower than the slowest, {slowest}", "Leave it out, or lower the slowest.")
    for name, low, high in (
        ("intro_s", 0.0, 60.0), ("closing_s", 0.0, 60.0), ("before_s", 0.0, 60.0), ("after_s", 0.0, 60.0),
        ("longest_hold_s", 0.0, 120.0), ("least_full_speed_s", 0.0, 60.0), ("words_per_minute", 60.0, 400.0),
        ("loudness_lufs", -40.0, -10.0),
    ):  # fmt: skip
        value = getattr(choices, name)
        if not low <= value <= high:
            words = name.removesuffix("_s").replace("_", " ")
            raise ChoiceError(f"{words}: {value:g} cannot be", f"Give {low:g} to {high:g}.")
    if len(choices.title) > LONGEST_TITLE or any(ord(sign) < 32 for sign in choices.title):
        raise ChoiceError("the title does not fit one line", f"Keep to {LONGEST_TITLE} characters on one line.")
    for pin in choices.pinned:
        speed_of(pin.speed)
        if not 0 <= pin.begin_m < pin.end_m:
            raise ChoiceError(
                f"from {pin.begin_m:g} m to {pin.end_m:g} m is no stretch of the lap", "Give the earlier place first."
            )
    return choices
