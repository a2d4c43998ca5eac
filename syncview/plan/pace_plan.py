"""The pace plan: how one lap of the lesson plays. The converter between lesson time and media time."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate, pairwise


@dataclass(frozen=True, slots=True)
class PaceSpan:
    """Media that plays at one speed, or one moment of it that is held."""

    begin_media_s: Fraction
    end_media_s: Fraction
    """The same as the begin for a hold."""
    lesson_s: Fraction
    """Time that it takes on screen, above 0."""
    why: str
    """Why it plays like this, as a plain sentence without a full stop."""

    def __post_init__(self) -> None:
        if self.lesson_s <= 0 or self.end_media_s < self.begin_media_s:
            media = f"{float(self.begin_media_s)} s to {float(self.end_media_s)} s"
            raise ValueError(f"media from {media} cannot play in {float(self.lesson_s)} s")

    @property
    def speed(self) -> Fraction:
        """Media seconds per lesson second; 0 in a hold."""
        return (self.end_media_s - self.begin_media_s) / self.lesson_s

    @property
    def is_hold(self) -> bool:
        """Whether the picture stands still."""
        return self.begin_media_s == self.end_media_s


@dataclass(frozen=True, slots=True)
class PacePlan:
    """Spans without holes, in order. Lesson time 0 is the begin of the first one. Exact.

    Media time never goes back: it grows with lesson time, except in holds, where it stands.

    Raises:
        ValueError: There is no span, or one does not begin where the one before it ends.
    """

    spans: tuple[PaceSpan, ...]
    _lesson_marks: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    """Lesson time at which each span begins, and last the plan's length."""
    _media_marks: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    """Media time at which each span begins, and last the plan's end."""

    def __post_init__(self) -> None:
        if not self.spans:
            raise ValueError("a pace plan needs a span")
        for before, after in pairwise(self.spans):
            if before.end_media_s != after.begin_media_s:
                ends, begins = float(before.end_media_s), float(after.begin_media_s)
                raise ValueError(f"a span ends at {ends} s of media time and the next begins at {begins} s")
        lengths = (span.lesson_s for span in self.spans)
        object.__setattr__(self, "_lesson_marks", tuple(accumulate(lengths, initial=Fraction(0))))
        marks = (*(span.begin_media_s for span in self.spans), self.spans[-1].end_media_s)
        object.__setattr__(self, "_media_marks", marks)

    @classmethod
    def at_full_speed(
        cls, begin_media_s: Fraction, end_media_s: Fraction, *, why: str = "full speed: nothing is said here"
    ) -> PacePlan:
        """The plan that plays media as it was recorded."""
        return cls((PaceSpan(begin_media_s, end_media_s, end_media_s - begin_media_s, why),))

    @property
    def begin_media_s(self) -> Fraction:
        """Media time of lesson time 0."""
        return self._media_marks[0]

    @property
    def end_media_s(self) -> Fraction:
        """Media time at which the plan ends."""
        return self._media_marks[-1]

    @property
    def length_s(self) -> Fraction:
        """Lesson time that the whole plan takes."""
        return self._lesson_marks[-1]

    def begin_lesson_s(self, index: int) -> Fraction:
        """Lesson time at which the span of that index begins; that of ``len(spans)`` is the plan's length."""
        return self._lesson_marks[index]

    def to_media_s(self, lesson_s: Fraction) -> Fraction:
        """Media time shown at a lesson time; raises `ValueError` outside the plan."""
        index = self._index_at(lesson_s)
        span = self.spans[index]
        return span.begin_media_s + (lesson_s - self._lesson_marks[index]) * span.speed

    def to_lesson_s(self, media_s: Fraction, *, after_hold: bool = False) -> Fraction:
        """Lesson time at which a media time is first shown, or, ``after_hold``, from which the picture goes on.

        Both are the same except where the plan holds. Raises `ValueError` outside the plan.
        """
        if not self.begin_media_s <= media_s <= self.end_media_s:
            raise ValueError(f"media time {float(media_s)} s is not in the pace plan")
        marks = self._media_marks
        index = bisect_right(marks, media_s) - 1 if after_hold else bisect_left(marks, media_s)
        if marks[index] == media_s:
            return self._lesson_marks[index]
        index = index if after_hold else index - 1
        return self._lesson_marks[index] + (media_s - marks[index]) / self.spans[index].speed

    def span_at(self, lesson_s: Fraction) -> PaceSpan:
        """The span shown at a lesson time, the later one where two meet; raises `ValueError` outside the plan."""
        return self.spans[self._index_at(lesson_s)]

    def _index_at(self, lesson_s: Fraction) -> int:
        if not 0 <= lesson_s <= self.length_s:
            raise ValueError(f"lesson time {float(lesson_s)} s is not in the pace plan")
        return min(bisect_right(self._lesson_marks, lesson_s), len(self.spans)) - 1
