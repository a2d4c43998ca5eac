"""The hub: what follows what, undo and redo, the playhead, work in threads."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from syncview.desk.state import DeskState
from syncview.errors import SyncviewError
from syncview.notes.note import add, edit

if TYPE_CHECKING:
    from pathlib import Path

    from pytestqt.qtbot import QtBot

    from syncview.progress import Progress


def with_note(state: DeskState, text: str) -> None:
    assert state.project is not None
    number = state.project.notes_made + 1
    notes = add(state.project.notes, number, lap_distance_m=250.0, text=text)
    state.edit("drop a note", replace(state.project, notes=notes, notes_made=number))


def test_the_lesson_follows_every_edit(desk_state: DeskState, qtbot: QtBot) -> None:
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        with_note(desk_state, "Brake at the board")
    assert desk_state.lesson is not None
    assert [said.note.text for said in desk_state.lesson.plan.said] == ["Brake at the board"]
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        desk_state.history.undo()
    assert desk_state.lesson.plan.said == ()


def test_undo_and_redo(desk_state: DeskState) -> None:
    before = desk_state.project
    with_note(desk_state, "One")
    with_note(desk_state, "Two")
    after = desk_state.project
    desk_state.history.undo()
    desk_state.history.undo()
    assert desk_state.project == before
    assert desk_state.session is not None
    assert desk_state.session.project is desk_state.project
    assert not desk_state.history.canUndo()
    desk_state.history.redo()
    desk_state.history.redo()
    assert desk_state.project == after


def test_typing_is_one_step(desk_state: DeskState) -> None:
    with_note(desk_state, "B")
    for text in ("Br", "Bra", "Brake"):
        assert desk_state.project is not None
        changed = edit(desk_state.project.notes, "n1", text=text)
        desk_state.edit("write", replace(desk_state.project, notes=changed), merge="n1 text")
    assert desk_state.history.count() == 2
    desk_state.history.undo()
    assert desk_state.project is not None
    assert desk_state.project.notes[0].text == "B"


def test_nothing_changed_is_no_step(desk_state: DeskState) -> None:
    assert desk_state.project is not None
    desk_state.edit("nothing", replace(desk_state.project))
    assert desk_state.history.count() == 0


def test_lap_and_units(desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.film is not None
    assert desk_state.session is not None
    other = next(lap.number for lap in desk_state.session.track.timed if lap != desk_state.film.lap)
    with qtbot.waitSignals([desk_state.lapChanged, desk_state.filmChanged]):
        desk_state.choose_lap(other)
    assert desk_state.film.lap.number == other
    with qtbot.waitSignal(desk_state.unitsChanged):
        desk_state.set_units("imperial")
    desk_state.history.undo()
    assert desk_state.units == "metric"


def test_the_playhead_stays_in_the_recording(desk_state: DeskState) -> None:
    assert desk_state.recording is not None
    seen: list[Fraction] = []
    desk_state.playheadMoved.connect(seen.append)
    desk_state.move_playhead(Fraction(-5), by="a test")
    desk_state.move_playhead(Fraction(10**6))
    last = desk_state.recording.frames.media_s(len(desk_state.recording.frames) - 1)
    assert seen == [0, last]
    desk_state.move_playhead(last)
    assert len(seen) == 2, "no signal without a move"


def test_places_go_there_and_back(desk_state: DeskState) -> None:
    media_s = desk_state.media_s_at(400.0)
    assert media_s is not None
    assert desk_state.lap_distance_m(media_s) == pytest.approx(400.0, abs=1e-3)
    assert desk_state.lap_distance_m(Fraction(0)) is None
    assert desk_state.media_s_at(1e6) is None


def test_a_fault_in_a_thread_is_told(desk_state: DeskState, qtbot: QtBot) -> None:
    def broken(_progress: Progress) -> None:
        raise ValueError("five is not six")

    with qtbot.waitSignal(desk_state.faultTold) as told:
        desk_state.work.run(broken, done=lambda _none: None, failed=desk_state.tell, what="counting")
    where, problem, remedy = told.args
    assert where == "counting"
    assert "five is not six" in problem
    assert "report" in remedy


def test_cancelled_work_gives_no_answer(desk_state: DeskState, qtbot: QtBot) -> None:
    answers: list[object] = []

    def endless(progress: Progress) -> None:
        while True:
            progress(0.5, "going on")

    work = desk_state.work.run(endless, done=answers.append, failed=answers.append, what="endless")
    work.cancel()
    qtbot.waitUntil(lambda: work not in desk_state.work.under_way)
    assert answers == []


def test_opening_one_by_one(qtbot: QtBot, project_file: Path) -> None:
    state = DeskState()
    with qtbot.waitSignals([state.projectChanged, state.sessionReady, state.recordingReady, state.lessonReady],
                           timeout=60_000):  # fmt: skip
        state.open(project_file)
    assert state.film is not None
    assert state.playhead_s == state.film.span.begin_s
    state.close_project()
    gone: list[object] = [state.project, state.session, state.recording, state.film]
    assert gone == [None] * 4
    assert state.close()


def test_closing_ends_everything(qtbot: QtBot, project_file: Path) -> None:
    state = DeskState()
    with qtbot.waitSignal(state.projectChanged, timeout=30_000):
        state.open(project_file)
    assert state.close()


def test_a_change_without_a_project_is_refused(desk_state: DeskState) -> None:
    assert desk_state.project is not None
    empty = DeskState()
    with pytest.raises(SyncviewError, match="no project"):
        empty.edit("x", desk_state.project)
    assert empty.close()


def test_a_column_that_is_not_there_takes_the_session_away(desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.project is not None
    with qtbot.waitSignal(desk_state.sourceFailed, timeout=30_000) as failed:
        desk_state.edit("columns", replace(desk_state.project, roles={"speed": "no such column"}))
    assert failed.args[0] == "log"
    assert desk_state.session is None
    assert desk_state.film is None
    with qtbot.waitSignal(desk_state.sessionReady, timeout=30_000):
        desk_state.history.undo()
    assert desk_state.film is not None
