"""The three steps, by keyboard and mouse alone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QMimeData, QPointF, Qt, QUrl
from PyQt6.QtGui import QDropEvent
from PyQt6.QtWidgets import QPushButton

from syncview.desk.opening.setup_page import SetupPage
from syncview.project import load

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.main_window import MainWindow
    from tests.desk.watching import Watchdog

SAMPLE = Path(__file__).parents[3] / "sample_media"
TRUTH = json.loads((SAMPLE / "truth.json").read_text("utf-8"))


@pytest.fixture
def media(tmp_path: Path) -> tuple[Path, Path]:
    """Copies of the sample's recording and log, so that the project is made beside them."""
    for name in ("session.mp4", "session.csv"):
        shutil.copy(SAMPLE / name, tmp_path / name)
    return tmp_path / "session.mp4", tmp_path / "session.csv"


def drop(window: MainWindow, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    window.dropEvent(
        QDropEvent(
            QPointF(9, 9), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
        )
    )


def setup_of(window: MainWindow, qtbot: QtBot) -> SetupPage:
    qtbot.waitUntil(lambda: window.setup is not None, timeout=10_000)
    assert window.setup is not None
    return window.setup


def go_on(page: SetupPage, qtbot: QtBot) -> None:
    qtbot.keyClick(page, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)


@pytest.mark.slow
def test_from_two_files_to_the_desk(
    desk_window: MainWindow, media: tuple[Path, Path], qtbot: QtBot, watchdog: Watchdog
) -> None:
    watchdog.start_over()
    drop(desk_window, *media)
    page = setup_of(desk_window, qtbot)
    qtbot.waitUntil(lambda: page.files.ready, timeout=60_000)
    assert page.files.roles.roles == {}
    go_on(page, qtbot)
    qtbot.waitUntil(lambda: page.step == "match", timeout=30_000)
    qtbot.waitUntil(lambda: page.match.ready, timeout=120_000)
    project = desk_window.state.project
    assert project is not None
    assert project.clock is not None
    assert project.clock.sure
    at_s = project.clock.clock.pivot_log_s
    assert project.clock.clock.to_media_s(at_s) == pytest.approx(
        TRUTH["clock"]["rate"] * at_s + TRUTH["clock"]["offset_s"], abs=0.02
    )
    go_on(page, qtbot)
    qtbot.waitUntil(lambda: page.step == "lap" and page.lap.ready, timeout=60_000)
    best = desk_window.state.lap
    assert best is not None
    assert page.lap.chosen == best
    qtbot.keyClick(page.lap.table, Qt.Key.Key_Down)
    assert page.lap.chosen is not None
    assert page.lap.chosen.number == best.number + 1
    go_on(page, qtbot)
    assert desk_window.pages.currentWidget() is not page
    assert desk_window.state.lap is not None
    assert desk_window.state.lap.number == best.number + 1
    qtbot.waitUntil(lambda: desk_window.state.lesson is not None, timeout=60_000)
    assert desk_window.autosave.saved is not None
    desk_window.close()
    saved = load(media[0].parent / "session.syncview.json")
    assert (saved.lap, saved.clock) == (best.number + 1, project.clock)


def test_a_unit_that_is_missing_is_said_in_the_table(
    desk_window: MainWindow, tmp_path: Path, media: tuple[Path, Path], qtbot: QtBot
) -> None:
    log = tmp_path / "bare.csv"
    rows = "\n".join(f"{i / 10},{60 + i % 40},{i % 5}" for i in range(100))
    log.write_text(f"time,speed,gear\n{rows}\n")
    drop(desk_window, log)
    page = setup_of(desk_window, qtbot)
    qtbot.waitUntil(lambda: page.files._look is not None, timeout=30_000)
    assert not page.files.ready
    drop(desk_window, media[0])
    qtbot.waitUntil(lambda: page.files._recording is not None, timeout=30_000)
    assert not page.files.ready
    assert "states no unit" in page.files.roles._fault.text()
    assert "--" not in page.files.roles._fault.text(), "no options of the command line in the window"
    row = next(row for row in page.files.roles._rows if row.role == "speed")
    row.unit.setFocus()
    qtbot.keyClicks(row.unit, "km/h")
    qtbot.keyClick(row.unit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.files.ready, timeout=10_000)
    assert page.files.roles.units == {"speed": "km/h"}


def test_nudging_and_taking_it_back(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    state = desk_window.state
    with qtbot.waitSignals([state.sessionReady, state.recordingReady], timeout=60_000):
        desk_window.open_project(project_file)
    desk_window.step_of_setup("match")
    page = setup_of(desk_window, qtbot)
    assert page.match._verdict.text().endswith("Sure")
    assert state.project is not None
    assert state.project.clock is not None
    before_s = state.project.clock.clock.offset_s
    qtbot.keyClick(page.match, Qt.Key.Key_BracketRight)
    button = next(b for b in page.match.findChildren(QPushButton) if b.text() == "+ 10 ms")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert state.recording is not None
    moved_s = 0.010 + float(1 / state.recording.nominal_rate)
    assert state.project.clock.clock.offset_s - before_s == pytest.approx(moved_s, abs=1e-9)
    qtbot.waitUntil(lambda: page.match._cards[0].picture._pixmap is not None, timeout=30_000)
    state.history.undo()
    assert state.project.clock.clock.offset_s == before_s
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert desk_window.pages.currentWidget() is not page


def test_stepping_to_a_frame_and_marking_it(desk_window: MainWindow, project_file: Path, qtbot: QtBot) -> None:
    state = desk_window.state
    with qtbot.waitSignals([state.sessionReady, state.recordingReady], timeout=60_000):
        desk_window.open_project(project_file)
    desk_window.step_of_setup("match")
    page = setup_of(desk_window, qtbot)
    finder = page.match.finder
    finder.go_to_frame(419)
    qtbot.keyClick(page.match, Qt.Key.Key_Period)
    qtbot.keyClick(page.match, Qt.Key.Key_Comma)
    qtbot.keyClick(page.match, Qt.Key.Key_Comma)
    assert finder.number == 418
    qtbot.keyClick(page.match, Qt.Key.Key_M)
    assert state.project is not None
    assert state.recording is not None
    assert [mark.media_s for mark in state.project.marks] == [float(state.recording.frames.media_s(418))]
    page.leave()


def test_leaving_without_a_project(desk_window: MainWindow, qtbot: QtBot) -> None:
    desk_window.begin_setup()
    page = setup_of(desk_window, qtbot)
    assert page.takes_files
    go_on(page, qtbot)
    assert page.step == "files", "there is nothing to go on with"
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert desk_window.pages.currentWidget() is desk_window.welcome


def test_a_file_that_is_no_recording(desk_window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    path = tmp_path / "noise.mp4"
    path.write_bytes(bytes(range(256)) * 40)
    drop(desk_window, path)
    page = setup_of(desk_window, qtbot)
    qtbot.waitUntil(lambda: not page.files._asks_recording.is_asking, timeout=30_000)
    assert not page.files.ready
    assert page.files.picture.accessibleDescription()
