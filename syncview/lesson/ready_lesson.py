"""A lesson that is ready to be looked at or rendered: its plan, its voices and its captions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from syncview.lesson.captions import FilmCaptions, summed_up, to_cues
from syncview.lesson.lesson_plan import LessonPlan, caption_limits, plan_lesson
from syncview.lesson.voices import NoteVoice, voices_of
from syncview.plan.caption_timing import plan_captions
from syncview.plan.lesson_choices import LessonChoices
from syncview.plan.pace_solver import NoteTime
from syncview.plan.said_captions import spoken_notes
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from syncview.lesson.session import Session
    from syncview.media.recording import Recording
    from syncview.track.laps import Lap


@dataclass(frozen=True, slots=True, eq=False)
class ReadyLesson:
    """Everything that a product of the lesson needs."""

    plan: LessonPlan
    voices: Mapping[str, NoteVoice]
    """What is heard, by the note's key."""
    captions: FilmCaptions
    """In lesson time."""
    remarks: tuple[str, ...]

    @property
    def choices(self) -> LessonChoices:
        """What the coach chose."""
        return self.plan.film.session.project.lesson


def ready_lesson(session: Session, recording: Recording, lap: Lap, *, progress: Progress = silent) -> ReadyLesson:
    """Measure the voices, plan the lesson, time its captions; see `voices_of` and `plan_lesson` for errors."""
    voices, said_of_voices = voices_of(session.project, session.path, progress=part_of(progress, 0, 0.8))
    lengths = {key: voice.piece.length_s for key, voice in voices.items()}
    plan = plan_lesson(session, recording, lap, voices_s=lengths)
    captions = lesson_captions(plan)
    return ReadyLesson(plan, voices, captions, (*said_of_voices, *plan.remarks, *captions.remarks))


def lesson_captions(plan: LessonPlan) -> FilmCaptions:
    """The notes as captions in lesson time: each comes when its note begins to be said, and stays while it is."""
    times = [NoteTime(said.note.key, said.media_s, said.begin_s, said.end_s) for said in plan.said]
    spoken = spoken_notes(times, {said.note.key: said.note.text for said in plan.said})
    timed = plan_captions(spoken, film_ms=int(plan.length_s * 1000), limits=caption_limits(plan.rate))
    return FilmCaptions(tuple(to_cues(timed)), tuple(summed_up(timed)), tuple(unmet.words for unmet in timed.unmet))
