"""The window: faults with their remedy, undo, arrangement, recent projects, units, themes, dropping, closing."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QMimeData, QPointF, Qt, QUrl
from PyQt6.QtGui import QAction, QDropEvent, QShortcut
from PyQt6.QtWidgets import QPushButton, QWidget

from syncview.desk import settings, theme
from syncview.desk.app import FaultCatcher
from syncview.desk.kept import keep
from syncview.desk.main_window import MainWindow
from syncview.desk.shortcuts import KeysDialog
from syncview.desk.state import DeskState
from syncview.errors import ProjectError
from syncview.gauges.palette import Colour
from syncview.notes.note import add
from syncview.project import load, save

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

SAMPLE = Path(__file__).parents[2] / "sample_media"


def opened(window: MainWindow, path: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignals([window.state.sessionReady, window.state.recordingReady], timeout=60_000):
        window.open_project(path)


def press(qtbot: QtBot, window: MainWindow, words: str) -> None:
    """Press the button of the bar for faults that says so."""
    button = next(button for button in window.faults.findChildren(QPushButton) if button.text() == words)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def contrast(one: Colour, other: Colour) -> float:
    """WCAG 2.2's contrast ratio of two sRGB colours."""

    def luminance(colour: Colour) -> float:
        parts = [part / 255 for part in colour]
        red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def drop(window: MainWindow, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(50, 50), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    )
    window.dropEvent(event)


def test_open_edit_undo_and_close(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    opened(desk_window, project_file, qtbot)
    state = desk_window.state
    assert desk_window.windowTitle().startswith("mine")
    assert settings.recent_projects() == [project_file.resolve()]
    assert state.project is not None
    state.edit("note", replace(state.project, notes=add((), 1, lap_distance_m=9.0, text="x"), notes_made=1))
    qtbot.keyClick(desk_window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert state.project.notes == ()
    qtbot.keyClick(desk_window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    assert len(state.project.notes) == 1
    desk_window.close()
    assert len(load(project_file).notes) == 1, "closing saves at once"


def test_a_corrupt_project_is_told_and_put_back(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    project = load(project_file)
    keep(project, project_file, desk_window.autosave.folder)
    project_file.write_text(project_file.read_text()[:200])
    with qtbot.waitSignal(desk_window.state.openFailed, timeout=10_000):
        desk_window.open_project(project_file)
    assert desk_window.faults.isVisible()
    assert "not a project document" in desk_window.faults.faults[-1].problem
    with qtbot.waitSignal(desk_window.state.sessionReady, timeout=60_000):
        press(qtbot, desk_window, "Put the copy back")
    assert desk_window.state.project == project
    assert project_file.with_name(f"{project_file.name}.damaged-1").exists()


def test_a_corrupt_project_without_a_copy(desk_window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    path = tmp_path / "broken.syncview.json"
    path.write_bytes(b"\x00\x01{")
    with qtbot.waitSignal(desk_window.state.openFailed, timeout=10_000):
        desk_window.open_project(path)
    assert "Restore it from a copy" in desk_window.faults.faults[-1].remedy
    assert path.read_bytes() == b"\x00\x01{"


def test_a_later_state_that_was_kept_is_offered(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    project = load(project_file)
    kept = replace(project, conditions={"fuel": "7 L"})
    keep(kept, project_file, desk_window.autosave.folder)
    opened(desk_window, project_file, qtbot)
    qtbot.waitUntil(lambda: bool(desk_window.faults.faults), timeout=10_000)
    press(qtbot, desk_window, "Take it up")
    assert desk_window.state.project is not None
    assert desk_window.state.project.conditions == {"fuel": "7 L"}
    desk_window.state.history.undo()
    assert desk_window.state.project.conditions == {}


def test_a_recording_that_is_gone(desk_window: MainWindow, project_file: Path, tmp_path: Path, qtbot: QtBot) -> None:
    from syncview.desk.opening.finding import take_file
    from syncview.media_file import MediaFile

    project = load(project_file)
    gone = MediaFile("gone.mp4", project.recording.size_bytes, project.recording.fingerprint)
    save(replace(project, recording=gone), project_file)
    with qtbot.waitSignal(desk_window.state.sourceFailed, timeout=30_000) as failed:
        desk_window.open_project(project_file)
    assert failed.args[0] == "recording"
    assert isinstance(failed.args[1], ProjectError)
    assert [words for words, _act in desk_window.faults.faults[-1].actions] == ["Find the recording…"]
    other = tmp_path / "other.mp4"
    other.write_bytes(b"something else")
    with qtbot.waitSignal(desk_window.state.faultTold, timeout=10_000) as told:
        take_file(desk_window.state, "recording", other)
    assert "another file" in told.args[1]
    with qtbot.waitSignal(desk_window.state.recordingReady, timeout=60_000):
        take_file(desk_window.state, "recording", SAMPLE / "session.mp4")


def test_another_program_changed_it(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    opened(desk_window, project_file, qtbot)
    state = desk_window.state
    assert state.project is not None
    save(replace(state.project, conditions={"fuel": "1 L"}), project_file)
    with qtbot.waitSignal(desk_window.autosave.foreign, timeout=5000):
        state.choose_lap(1)
    with qtbot.waitSignal(state.sessionReady, timeout=60_000):
        press(qtbot, desk_window, "Take its version")
    assert state.project.conditions == {"fuel": "1 L"}


def test_a_project_without_a_clock_says_where_to_match(
    desk_window: MainWindow, project_file: Path, qtbot: QtBot
) -> None:
    save(replace(load(project_file), clock=None), project_file)
    opened(desk_window, project_file, qtbot)
    assert "not on one clock" in desk_window.faults.faults[-1].problem
    assert desk_window.state.film is None


def test_faults_pile_up_and_are_dismissed(desk_window: MainWindow) -> None:
    for number in (1, 2, 2):
        desk_window.state.tell(ProjectError(f"fault {number}", "Do something."), where="Notes")
    assert [fault.problem for fault in desk_window.faults.faults] == ["fault 1", "fault 2"]
    desk_window.faults.dismiss()
    desk_window.faults.dismiss()
    assert not desk_window.faults.isVisible()


@pytest.mark.qt_no_exception_capture
def test_what_nobody_caught_is_told(desk_window: MainWindow, capsys: pytest.CaptureFixture[str]) -> None:
    catcher = FaultCatcher(desk_window.state)
    try:
        try:
            raise KeyError("lost")
        except KeyError:
            sys.excepthook(*sys.exc_info())
    finally:
        catcher.release()
    assert "KeyError" in desk_window.faults.faults[-1].problem
    assert "Traceback" in capsys.readouterr().err


def test_the_arrangement_is_remembered(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    opened(desk_window, project_file, qtbot)
    qtbot.wait(50)
    assert desk_window.docks["map"].isVisible()
    desk_window.docks["map"].close()
    desk_window.close()
    again = MainWindow(DeskState())
    again.show()
    opened(again, project_file, qtbot)
    assert not again.docks["map"].isVisible()
    assert again.docks["traces"].isVisible()
    again.arrange_afresh()
    assert again.docks["map"].isVisible()
    again.close()


def test_the_window_fits_a_small_screen(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    desk_window.resize(1280, 720)
    opened(desk_window, project_file, qtbot)
    qtbot.wait(100)
    assert (desk_window.width(), desk_window.height()) == (1280, 720)


def test_units_and_theme(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    opened(desk_window, project_file, qtbot)
    desk_window.state.set_units("imperial")
    assert settings.units_for_new() == "imperial"
    before = theme.current().name
    qtbot.keyClick(desk_window, Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    assert theme.current().name != before
    assert settings.theme_name() == theme.current().name
    desk_window.toggle_theme()


@pytest.mark.parametrize("look", [theme.DARK, theme.LIGHT], ids=["dark", "light"])
def test_text_can_be_read(look: theme.Theme) -> None:
    """WCAG 2.2, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (other than text 3:1)."""
    for ground in (look.ground, look.panel, look.raised):
        for ink in (look.ink, look.quiet):
            assert contrast(ink, ground) >= 4.5
    assert contrast(look.on_accent, look.accent) >= 4.5
    assert contrast(look.on_warning, look.warning) >= 4.5
    for colour in (look.throttle, look.brake, look.ahead, look.behind, look.playhead):
        assert contrast(colour, look.panel) >= 3


def test_dropping_a_project(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    with qtbot.waitSignal(desk_window.state.sessionReady, timeout=60_000):
        drop(desk_window, project_file)
    assert desk_window.state.path == project_file


def test_the_list_of_keys(desk_window: MainWindow, qtbot: QtBot) -> None:
    qtbot.keyClick(desk_window, Qt.Key.Key_F1)
    dialog = desk_window.findChild(KeysDialog)
    assert dialog is not None
    keys = dict(dialog.rows)
    assert keys["Ctrl+Z"] == "Undo"
    assert keys["Ctrl+O"] == "Open"
    dialog._search.setText("dark")
    assert dialog.rows == [("Ctrl+T", "Dark or light")]
    dialog.close()


def test_everything_has_a_name_that_can_be_read_aloud(desk_window: MainWindow) -> None:
    for button in desk_window.faults.findChildren(QPushButton) + desk_window.welcome.findChildren(QPushButton):
        assert button.accessibleName() or button.text()
    for dock in desk_window.docks.values():
        assert dock.accessibleName()


def test_no_key_means_two_things(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    """A key that is bound twice in what is shown would do neither."""
    opened(desk_window, project_file, qtbot)
    for dock in desk_window.docks.values():
        dock.raise_()
    seen: dict[str, str] = {}
    bound = [(action.shortcuts(), action.text()) for action in desk_window.findChildren(QAction)]
    for shortcut in desk_window.findChildren(QShortcut):
        parent = shortcut.parent()
        on_page = not isinstance(parent, QWidget) or parent.isVisibleTo(desk_window)
        if shortcut.context() == Qt.ShortcutContext.WindowShortcut and on_page:
            bound.append((shortcut.keys(), shortcut.whatsThis()))
    for sequences, words in bound:
        for sequence in sequences:
            keys = sequence.toString()
            assert keys not in seen or seen[keys] == words, f"{keys}: {seen.get(keys)} and {words}"
            seen[keys] = words
    assert "Ctrl+Z" in seen
