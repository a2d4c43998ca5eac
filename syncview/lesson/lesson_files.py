"""The lesson as files: its film, and beside it captions, chapters and the plan."""

from __future__ import annotations

import json
from pathlib import Path

from syncview.lesson.lesson_film import LessonFilmOptions, write_lesson
from syncview.lesson.plan_document import plan_document
from syncview.lesson.ready_lesson import ReadyLesson
from syncview.lesson.text_products import FilmText, write_captions, write_chapters
from syncview.output_file import write_text
from syncview.progress import Progress, silent

STEM = "lesson"


def write_lesson_files(
    lesson: ReadyLesson, folder: Path, *, options: LessonFilmOptions, progress: Progress = silent
) -> tuple[list[Path], list[str]]:
    """Write everything into `folder`; the files and what a person should know. See `write_lesson` for errors."""
    overwrite = options.overwrite
    film = folder / f"{STEM}.mp4"
    report = write_lesson(lesson, film, options=options, progress=progress)
    text = FilmText(
        lesson.captions.cues,
        lesson.plan.chapters.chapters,
        lesson.plan.sections[0].title,
        report.width,
        report.height,
    )
    plan = json.dumps(plan_document(lesson.plan), ensure_ascii=False, indent=1) + "\n"
    files = [film, write_text(folder / f"{STEM}-plan.json", plan, overwrite=overwrite)]
    if lesson.captions.cues:
        files += write_captions(text, folder, STEM, overwrite=overwrite)
    files += write_chapters(text, folder, STEM, overwrite=overwrite)
    return files, [*lesson.remarks, *report.notes]
