"""One picture of the lesson, without making the film."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from syncview.errors import OutputError
from syncview.lesson.lesson_film import lesson_pictures
from syncview.lesson.ready_lesson import ReadyLesson
from syncview.notes.note import NoteError
from syncview.output_file import whole_file


def write_preview(
    lesson: ReadyLesson, path: Path, *, at_s: float | None = None, note_key: str | None = None, overwrite: bool = False
) -> Fraction:
    """Write the picture shown at a lesson time, or while a note is said, as a PNG; returns its lesson time.

    Raises OutputError, MediaError, or NoteError for a note that the lesson does not have.
    """
    from PIL import Image

    if path.suffix.lower() != ".png":
        raise OutputError("the preview is a PNG", "End the name with .png.", where=path)
    number = _number(lesson, at_s, note_key)
    with whole_file(path, overwrite=overwrite) as part:
        Image.fromarray(lesson_pictures(lesson).rgb(number)).save(part, format="PNG")
    return number / lesson.plan.rate


def _number(lesson: ReadyLesson, at_s: float | None, note_key: str | None) -> int:
    plan = lesson.plan
    if note_key is not None:
        said = next((said for said in plan.said if said.note.key == note_key), None)
        if said is None:
            known = ", ".join(item.note.key for item in plan.said) or "none"
            raise NoteError(f"the lesson has no note “{note_key}”", f"Its notes are: {known}.")
        # In a hold the drawings are seen; the hold, where there is one, is at the note's own place.
        section = plan.breakdown
        assert section.pace is not None  # the breakdown is no card
        arrival = section.begin_s + section.pace.to_lesson_s(said.media_s)
        moment = max(said.begin_s, arrival) + Fraction(1, 10)
    else:
        moment = Fraction(at_s or 0.0)
    if not 0 <= moment < plan.length_s:
        raise OutputError(
            f"the lesson has no picture at {float(moment):g} s", f"Give 0 to {float(plan.length_s):.1f} seconds."
        )
    return int(moment * plan.rate)
