"""The lesson as a timeline for editing programs: pieces of the recording with their speeds, markers named by corner."""

from __future__ import annotations

import os
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from urllib.parse import quote

from syncview.lesson.chapters import corner_title
from syncview.lesson.lesson_plan import LessonPlan, Section
from syncview.output_file import write_text
from syncview_codecs.timeline import otio
from syncview_codecs.timeline.cut import Cut, Mark, Piece

NAMES = ("lesson.otio", "lesson.edl")


def write_timeline(plan: LessonPlan, folder: Path, *, overwrite: bool) -> list[Path]:
    """Write the lesson's cut in both formats; raises OutputError, and CodecError where their library is missing."""
    cut = lesson_cut(plan, folder)
    texts = (otio.write(cut), otio.write_edl(cut))
    return [write_text(folder / name, text, overwrite=overwrite) for name, text in zip(NAMES, texts, strict=True)]


def lesson_cut(plan: LessonPlan, folder: Path) -> Cut:
    """The lesson in whole pictures of its film; the recording is named from `folder`, where the document will lie."""
    recording = plan.film.recording
    try:
        url = quote(Path(os.path.relpath(recording.path.resolve(), folder.resolve())).as_posix())
    except ValueError:  # another drive on Windows
        url = recording.path.resolve().as_uri()
    return Cut(
        name=plan.sections[0].title,
        rate=plan.rate,
        media_url=url,
        media_rate=recording.nominal_rate,
        media_frames=len(recording.frames),
        pieces=tuple(piece for section in plan.sections for piece in _pieces(plan, section)),
        marks=tuple(sorted(_marks(plan), key=lambda mark: mark.frame)),
    )


def _frame(plan: LessonPlan, lesson_s: Fraction) -> int:
    """The first picture at or after a lesson time."""
    return -int(-lesson_s * plan.rate // 1)


def _pieces(plan: LessonPlan, section: Section) -> Iterator[Piece]:
    """The section's spans cut at whole pictures; a span between two pictures is not seen and has no piece."""
    if section.pace is None:
        yield Piece(_frame(plan, section.end_s) - _frame(plan, section.begin_s), section.title)
        return
    for number, span in enumerate(section.pace.spans):
        begin, end = (_frame(plan, section.begin_s + section.pace.begin_lesson_s(n)) for n in (number, number + 1))
        if begin < end:
            media_s = section.pace.to_media_s(begin / plan.rate - section.begin_s)
            yield Piece(end - begin, section.title, media_s, span.speed, span.why)


def _marks(plan: LessonPlan) -> Iterator[Mark]:
    for section in plan.sections:
        yield Mark(_frame(plan, section.begin_s), section.title)
    section = plan.breakdown
    assert section.pace is not None  # the breakdown is no card
    for span in plan.spans:
        media_s = Fraction(plan.film.clock.to_media_s(span.begin_log_s))
        if section.pace.begin_media_s <= media_s < section.pace.end_media_s:
            yield Mark(_frame(plan, section.begin_s + section.pace.to_lesson_s(media_s)), corner_title(span.corner))
    for said in plan.said:
        frames = max(1, _frame(plan, said.end_s) - _frame(plan, said.begin_s))
        yield Mark(_frame(plan, said.begin_s), said.note.key, frames, " ".join(said.note.text.split()))
