"""What the coach does to the notes, without a window."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.notes import changes
from syncview.lesson.drafting import draft_missing
from syncview.media_file import MediaFile
from syncview.notes.note import NoteError, Voice, find
from syncview.project import Project

if TYPE_CHECKING:
    from syncview.lesson.session import Session

EMPTY = Project(MediaFile("a.mp4", 1, "x"), MediaFile("a.csv", 1, "y"))
VOICE = Voice(MediaFile("mine voices/n1.wav", 10, "z"))


def test_a_dropped_note_keeps_its_place_without_words() -> None:
    project, key = changes.drop(EMPTY, 412.345)
    note = find(project.notes, key)
    assert (note.lap_distance_m, changes.written(note)) == (412.35, "")
    written = changes.write(project, key, "  Brake\nhere ")
    assert changes.written(find(written.notes, key)) == "Brake\nhere"
    assert changes.write(written, key, " \n") == project


def test_a_refused_text_changes_nothing() -> None:
    project, key = changes.drop(EMPTY, 1.0)
    with pytest.raises(NoteError, match="longer than"):
        changes.write(project, key, "x" * 20_000)
    with pytest.raises(NoteError, match=r"U\+0007"):
        changes.write(project, key, "ring\x07")


@given(st.lists(st.sampled_from(["drop", "remove first", "remove last"]), max_size=30))
def test_a_key_is_never_used_twice(steps: list[str]) -> None:
    project, used = EMPTY, set()
    for i, step in enumerate(steps):
        if step == "drop":
            project, key = changes.drop(project, float(i * 37 % 500))
            assert key not in used
            used.add(key)
        elif project.notes:
            gone = project.notes[0 if step == "remove first" else -1].key
            project = changes.leave_out(project, gone)
    keys = [note.key for note in project.notes]
    assert len(set(keys)) == len(keys)
    assert [note.lap_distance_m for note in project.notes] == sorted(note.lap_distance_m for note in project.notes)


def test_moving_and_stopping() -> None:
    project, key = changes.drop(EMPTY, 5.0)
    assert find(changes.move(project, key, 90.0).notes, key).lap_distance_m == 90.0
    assert find(changes.stop_here(project, key, 2.5).notes, key).hold_s == 2.5
    assert find(changes.stop_here(project, key, None).notes, key).hold_s is None
    with pytest.raises(NoteError, match="hold"):
        changes.stop_here(project, key, 500.0)


def test_voices() -> None:
    project, one = changes.drop(EMPTY, 5.0)
    project, two = changes.drop(project, 6.0)
    assert changes.cut_voice(project, one, 1.0, 2.0) == project, "there is no voice to cut"
    project = changes.say(project, one, VOICE)
    assert not changes.is_shared(project, one)
    assert not changes.is_shared(project, two)
    cut = find(changes.cut_voice(project, one, 1.0, None).notes, one).voice
    assert cut == replace(VOICE, begin_s=1.0)
    assert changes.is_shared(changes.say(project, two, cut), one)
    assert find(changes.say(project, one, None).notes, one).voice is None


def test_a_draft_of_one_corner_is_the_one_that_all_corners_get(sample_session: Session) -> None:
    lap = sample_session.lap()
    for number, expected in ((1, 0), (6, 5)):
        note, remarks = changes.draft_at(sample_session, lap, number)
        assert note.text == draft_missing(sample_session, lap).made[expected].text
        assert remarks == ()


def test_a_draft_takes_the_place_of_an_earlier_one_but_not_of_the_coachs(sample_session: Session) -> None:
    lap, project = sample_session.lap(), sample_session.project
    draft, _ = changes.draft_at(sample_session, lap, 2)
    project, mine = changes.drop(project, draft.lap_distance_m)
    project = changes.write(project, mine, "My own words")
    project, first = changes.with_draft(project, sample_session, 2, draft)
    other, _ = changes.draft_at(sample_session, lap, 3)
    project, third = changes.with_draft(project, sample_session, 3, other)
    project, again = changes.with_draft(project, sample_session, 2, draft)
    assert {note.key for note in project.notes} == {mine, third, again}
    assert first != again
    assert find(project.notes, again).origin == "draft"
