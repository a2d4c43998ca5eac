"""The lesson's cut for editing programs, read back by the OpenTimelineIO library."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import opentimelineio as otio
import pytest

from syncview.lesson.lesson_plan import LessonPlan
from syncview.lesson.session import Session
from syncview.lesson.timeline_files import NAMES, lesson_cut, write_timeline
from syncview.media.recording import Recording
from tests.lesson.test_lesson_plan import planned, recording, session  # noqa: F401


@pytest.fixture(scope="module")
def plan(session: Session, recording: Recording) -> LessonPlan:  # noqa: F811
    return planned(session, recording)


def test_the_cut_is_as_long_as_the_film(plan: LessonPlan, tmp_path: Path) -> None:
    cut = lesson_cut(plan, tmp_path)
    assert cut.frames == plan.frame_count
    assert all(mark.frame < cut.frames for mark in cut.marks)


def test_every_piece_begins_at_the_plans_media_time(plan: LessonPlan, tmp_path: Path) -> None:
    files = write_timeline(plan, tmp_path, overwrite=False)
    assert [path.name for path in files] == list(NAMES)
    timeline = otio.adapters.read_from_file(str(files[0]))
    track = timeline.video_tracks()[0]
    at = 0
    for item in track:
        lesson_s = at / plan.rate
        if isinstance(item, otio.schema.Clip):
            media_s = plan.section_at(lesson_s).to_media_s(lesson_s)
            assert media_s is not None
            assert item.source_range.start_time.to_seconds() == pytest.approx(float(media_s), abs=1e-6)
        at += round(item.source_range.duration.value)
    names = {marker.name for item in track for marker in item.markers}
    assert {"n1", "n2", "n3"} <= names
    assert {f"{span.corner.number} {span.corner.name}" for span in plan.spans} <= names


def test_slow_pieces_name_as_much_of_the_recording_as_they_play(plan: LessonPlan, tmp_path: Path) -> None:
    cut = lesson_cut(plan, tmp_path)
    slow = [piece for piece in cut.pieces if piece.begin_media_s is not None and 0 < piece.speed < 1]
    assert slow
    for piece, following in zip(cut.pieces, cut.pieces[1:], strict=False):
        if (
            piece.begin_media_s is None
            or following.begin_media_s is None
            or following.begin_media_s <= piece.begin_media_s
        ):
            continue
        played = piece.begin_media_s + piece.frames / plan.rate * piece.speed
        assert abs(following.begin_media_s - played) <= 1 / plan.rate
    assert replace(cut, name="x").frames == cut.frames
