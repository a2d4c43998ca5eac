"""All that the strip shows of one lesson, in plain numbers, worked out once for each plan."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.desk.plan.pieces import Piece, pieces_of

if TYPE_CHECKING:
    from syncview.desk.plan.pieces import LapDistance
    from syncview.desk.plan.rows import Rows
    from syncview.lesson.lesson_plan import LessonPlan
    from syncview.lesson.ready_lesson import ReadyLesson
    from syncview.project import Project


@dataclass(frozen=True, slots=True)
class Bar:
    """A stretch of lesson time with words on it."""

    begin_s: float
    end_s: float
    words: str
    tip: str


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """What each row shows."""

    plan: LessonPlan
    pieces: tuple[Piece, ...]
    sections: tuple[Bar, ...]
    corners: tuple[Bar, ...]
    said: tuple[Bar, ...]
    captions: tuple[Bar, ...]

    @property
    def length_s(self) -> float:
        """Lesson time."""
        return float(self.plan.length_s)

    def tip_at(self, rows: Rows, lesson_s: float, y_px: float) -> str:
        """What the bar at a place says about itself; empty where there is none."""
        for row, bars in ((rows.sections, self.sections), (rows.corners, self.corners), (rows.said, self.said),
                          (rows.captions, self.captions)):  # fmt: skip
            if row.holds(y_px):
                return next((bar.tip for bar in bars if bar.begin_s <= lesson_s < bar.end_s), "")
        return ""


def contents_of(lesson: ReadyLesson, project: Project, lap_distance_m: LapDistance) -> Contents:
    """What the strip shows of a lesson that was planned for `project`."""
    plan = lesson.plan
    sections = tuple(Bar(float(one.begin_s), float(one.end_s), one.title, one.title) for one in plan.sections)
    said = tuple(
        Bar(
            float(one.begin_s),
            float(min(one.begin_s + one.speaking_s, plan.length_s)),
            one.note.key,
            f"{one.note.key}: {one.note.text}",
        )
        for one in plan.said
    )
    captions = tuple(
        Bar(cue.start_ms / 1000, cue.end_ms / 1000, " ".join(cue.text.split()), cue.text)
        for cue in lesson.captions.cues
    )
    return Contents(plan, pieces_of(plan, project, lap_distance_m), sections, _corners(plan), said, captions)


def _corners(plan: LessonPlan) -> tuple[Bar, ...]:
    """Each corner in each lap section, from where its braking begins to its exit."""
    from syncview.lesson.chapters import corner_title

    bars = []
    for section in plan.sections:
        pace = section.pace
        if pace is None:
            continue
        for span in plan.spans:
            begin, end = (
                min(max(plan.film.clock.to_media_s(log_s), float(pace.begin_media_s)), float(pace.end_media_s))
                for log_s in (span.begin_log_s, span.end_log_s)
            )
            if begin < end:
                at = [float(section.begin_s + pace.to_lesson_s(Fraction(media_s))) for media_s in (begin, end)]
                bars.append(Bar(at[0], at[1], str(span.corner.number), corner_title(span.corner)))
    return tuple(bars)
