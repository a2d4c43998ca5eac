"""Saving by itself: within a second, whole, never over another program's work; what kill -9 leaves."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from syncview.desk.autosave import Autosave
from syncview.desk.kept import good_copy, kept_copy_of, newer_copy, put_back, tidy
from syncview.desk.state import DeskState
from syncview.errors import ProjectError, SyncviewError
from syncview.notes.note import add
from syncview.project import load, save

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot


@pytest.fixture
def autosave(desk_state: DeskState, tmp_path: Path) -> Iterator[Autosave]:
    saving = Autosave(desk_state, tmp_path / "kept")
    yield saving
    assert saving.close()


def write(state: DeskState, text: str) -> None:
    assert state.project is not None
    number = state.project.notes_made + 1
    notes = add(state.project.notes, number, lap_distance_m=float(number), text=text)
    state.edit("write", replace(state.project, notes=notes, notes_made=number))


def test_an_edit_is_on_disk_within_a_second(
    desk_state: DeskState, autosave: Autosave, qtbot: QtBot, project_file: Path
) -> None:
    with qtbot.waitSignal(autosave.saved, timeout=3000):
        begin = time.monotonic()
        write(desk_state, "one")
    assert time.monotonic() - begin < 1.0
    assert load(project_file) == desk_state.project
    assert good_copy(project_file, autosave.folder) == desk_state.project


def test_undo_is_saved_too(desk_state: DeskState, autosave: Autosave, qtbot: QtBot, project_file: Path) -> None:
    write(desk_state, "one")
    with qtbot.waitSignal(autosave.saved, timeout=3000):
        desk_state.history.undo()
    assert load(project_file).notes == ()


def test_leaving_a_project_saves_it(desk_state: DeskState, autosave: Autosave, project_file: Path) -> None:
    write(desk_state, "one")
    desk_state.close_project()
    assert autosave.close()
    assert [note.text for note in load(project_file).notes] == ["one"]


def test_another_programs_work_is_left_alone(
    desk_state: DeskState, autosave: Autosave, qtbot: QtBot, project_file: Path
) -> None:
    assert desk_state.project is not None
    save(replace(desk_state.project, conditions={"fuel": "12 L"}), project_file)
    with qtbot.waitSignal(autosave.foreign, timeout=3000):
        write(desk_state, "mine")
    assert load(project_file).conditions == {"fuel": "12 L"}
    kept = good_copy(project_file, autosave.folder)
    assert kept is not None
    assert [note.text for note in kept.notes] == ["mine"]
    with qtbot.waitSignal(autosave.saved, timeout=3000):
        autosave.keep_mine()
    assert load(project_file) == desk_state.project


def test_a_project_that_cannot_be_written_is_kept(
    desk_state: DeskState, autosave: Autosave, qtbot: QtBot, project_file: Path
) -> None:
    project_file.unlink()
    project_file.mkdir()  # a folder of that name: not even root can write the file
    with qtbot.waitSignal(autosave.troubled, timeout=3000) as told:
        write(desk_state, "kept all the same")
    fault = told.args[0]
    assert isinstance(fault, SyncviewError)
    assert str(autosave.folder) in fault.remedy
    project_file.rmdir()
    kept = good_copy(project_file, autosave.folder)
    assert kept is not None
    assert kept.notes[0].text == "kept all the same"


def test_a_full_disk_is_told_and_the_old_project_is_whole(
    desk_state: DeskState, autosave: Autosave, qtbot: QtBot, project_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = project_file.read_bytes()

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with qtbot.waitSignal(autosave.troubled, timeout=3000) as told:
        write(desk_state, "too much")
    assert "no space left" in told.args[0].problem
    assert "keep the window open" in told.args[0].remedy
    assert project_file.read_bytes() == before
    monkeypatch.undo()
    with qtbot.waitSignal(autosave.saved, timeout=3000):
        write(desk_state, "now it fits")
    assert len(load(project_file).notes) == 2


def test_a_newer_copy_is_found(project_file: Path, tmp_path: Path) -> None:
    project = load(project_file)
    folder = tmp_path / "kept"
    folder.mkdir()
    assert newer_copy(project, project_file, folder) is None
    changed = replace(project, conditions={"fuel": "9 L"})
    copy = kept_copy_of(project_file, folder)
    save(changed, copy)
    os.utime(copy, (time.time() + 5, time.time() + 5))
    assert newer_copy(project, project_file, folder) == changed
    os.utime(project_file, (time.time() + 10, time.time() + 10))
    assert newer_copy(project, project_file, folder) is None


def test_a_damaged_project_gets_its_copy_and_is_set_aside(project_file: Path, tmp_path: Path) -> None:
    project, folder = load(project_file), tmp_path / "kept"
    folder.mkdir()
    with pytest.raises(ProjectError, match="no kept copy"):
        put_back(project_file, folder)
    save(project, kept_copy_of(project_file, folder))
    project_file.write_text('{"format": "syncview pro')
    aside = put_back(project_file, folder)
    assert load(project_file) == project
    assert aside is not None
    assert aside.read_text() == '{"format": "syncview pro'


def test_parts_of_a_killed_program_are_tidied(project_file: Path, tmp_path: Path) -> None:
    old, new = (project_file.with_name(f".{project_file.stem}.{n}.part.json") for n in (111, 222))
    old.write_text("{")
    new.write_text("{")
    os.utime(old, (1e9, 1e9))
    tidy(project_file, tmp_path / "kept")
    assert (old.exists(), new.exists(), project_file.exists()) == (False, True, True)


TYPIST = """
import sys, time
from dataclasses import replace
from pathlib import Path
from PyQt6.QtCore import QTimer
from PyQt6.QtWidgets import QApplication
from syncview.desk.autosave import Autosave
from syncview.desk.state import DeskState
from syncview.notes.note import add, edit
from syncview.project import load
path = Path(sys.argv[1])
app = QApplication([])
state = DeskState()
state._enter(load(path), path)
saving = Autosave(state, Path(sys.argv[2]))
state.edit("note", replace(state.project, notes=add((), 1, lap_distance_m=5.0, text="t"), notes_made=1))
def type_on():
    text = f"{time.time():.3f}"
    state.edit("type", replace(state.project, notes=edit(state.project.notes, "n1", text=text)), merge="n1")
    print(text, flush=True)
timer = QTimer()
timer.timeout.connect(type_on)
timer.start(20)
app.exec()
"""


@pytest.mark.parametrize("after_s", [1.3, 2.1])
def test_kill_9_loses_at_most_a_second_of_typing(project_file: Path, tmp_path: Path, after_s: float) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", TYPIST, str(project_file), str(tmp_path / "kept")],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    ) as typist:  # fmt: skip
        assert typist.stdout is not None
        typist.stdout.readline()
        time.sleep(after_s)
        os.kill(typist.pid, signal.SIGKILL)
        typed = typist.stdout.read().split()
    last = float(typed[-1])
    kept = float(json.loads(project_file.read_text())["notes"][0]["text"])
    assert 0 <= last - kept <= 1.0
    assert load(project_file).notes[0].key == "n1"
