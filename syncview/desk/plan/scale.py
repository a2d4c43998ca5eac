"""What part of the lesson is in view: lesson time <-> pixels."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

LEAST_VIEW_S = 0.5
"""No zoom shows less of the lesson."""
_STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600)


@dataclass(frozen=True, slots=True)
class Scale:
    """A stretch of the lesson over a stretch of pixels."""

    left_px: float
    width_px: float
    begin_s: float
    view_s: float
    """How much of the lesson is in view."""
    length_s: float
    """Of the lesson."""

    def x(self, lesson_s: float) -> float:
        """Pixels from the left edge of the widget."""
        return self.left_px + (lesson_s - self.begin_s) / self.view_s * self.width_px

    def lesson_s(self, x_px: float) -> float:
        """Lesson time at a pixel, within the lesson."""
        return min(max(self.begin_s + (x_px - self.left_px) / self.width_px * self.view_s, 0.0), self.length_s)

    def unbounded_s(self, x_px: float) -> float:
        """Lesson time at a pixel, wherever it lies."""
        return self.begin_s + (x_px - self.left_px) / self.width_px * self.view_s

    @property
    def end_s(self) -> float:
        """Lesson time at the right edge."""
        return self.begin_s + self.view_s

    def zoomed(self, factor: float, at_px: float) -> Scale:
        """`factor` times as much in view, with the moment under `at_px` staying there where the lesson allows."""
        view_s = min(max(self.view_s * factor, min(LEAST_VIEW_S, self.length_s)), self.length_s)
        fixed_s = self.lesson_s(at_px)
        share = (at_px - self.left_px) / self.width_px
        return replace(self, view_s=view_s, begin_s=self._inside(fixed_s - share * view_s, view_s))

    def panned(self, by_px: float) -> Scale:
        """The view moved so that what was at `by_px` comes to 0."""
        return replace(self, begin_s=self._inside(self.begin_s + by_px / self.width_px * self.view_s, self.view_s))

    def fitted(self) -> Scale:
        """The whole lesson in view."""
        return replace(self, begin_s=0.0, view_s=self.length_s)

    def showing(self, begin_s: float, end_s: float) -> Scale:
        """The view moved no further than needed so that a stretch is in it; its begin when it is too long."""
        begin = self.begin_s
        if end_s > begin + self.view_s:
            begin = end_s - self.view_s
        if begin_s < begin:
            begin = begin_s
        return replace(self, begin_s=self._inside(begin, self.view_s))

    def resized(self, left_px: float, width_px: float) -> Scale:
        """The same view over other pixels."""
        return replace(self, left_px=left_px, width_px=max(1.0, width_px))

    def for_length(self, length_s: float) -> Scale:
        """The same view of a lesson of another length; a view of the whole stays one."""
        if self.view_s >= self.length_s:
            return replace(self, length_s=length_s, view_s=length_s, begin_s=0.0)
        view_s = min(self.view_s, length_s)
        changed = replace(self, length_s=length_s, view_s=view_s)
        return replace(changed, begin_s=changed._inside(self.begin_s, view_s))

    def _inside(self, begin_s: float, view_s: float) -> float:
        return min(max(begin_s, 0.0), max(0.0, self.length_s - view_s))

    def ticks(self, least_px: float = 70.0) -> list[float]:
        """Round lesson times in view, at least so many pixels apart."""
        least_s = least_px / self.width_px * self.view_s
        step = next((step for step in _STEPS_S if step >= least_s), math.ceil(least_s / 600) * 600)
        first = math.ceil(self.begin_s / step)
        last = math.floor(min(self.end_s, self.length_s) / step)
        return [number * step for number in range(first, last + 1)]
