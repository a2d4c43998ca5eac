"""Nothing keeps the main thread for more than 50 ms: opening, matching, editing, choosing a lap. And the dog bites."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QTimer

from syncview.desk.state import DeskState
from syncview.notes.note import add
from tests.desk.watching import BLOCKED_MS, Watchdog

if TYPE_CHECKING:
    from pathlib import Path

    from pytestqt.qtbot import QtBot

    from syncview.desk.main_window import MainWindow


def burn(milliseconds: float) -> None:
    end_s = time.thread_time() + milliseconds / 1000
    while time.thread_time() < end_s:
        pass


def test_the_watchdog_sees_a_blocked_thread(qtbot: QtBot) -> None:
    dog = Watchdog()
    QTimer.singleShot(20, lambda: burn(80))
    qtbot.wait(200)
    dog.stop()
    assert dog.beats > 5
    assert dog.longest_ms > BLOCKED_MS


def test_opening_a_project(qtbot: QtBot, project_file: Path, watchdog: Watchdog) -> None:
    state = DeskState()
    watchdog.start_over()
    with qtbot.waitSignals([state.sessionReady, state.recordingReady, state.lessonReady], timeout=60_000):
        state.open(project_file)
    assert state.close()


def test_opening_in_the_window(qtbot: QtBot, desk_window: MainWindow, project_file: Path, watchdog: Watchdog) -> None:
    watchdog.start_over()
    with qtbot.waitSignal(desk_window.state.lessonReady, timeout=60_000):
        desk_window.open_project(project_file)
    qtbot.wait(200)
    watchdog.stop()


def test_editing_and_planning(qtbot: QtBot, desk_state: DeskState, watchdog: Watchdog) -> None:
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        pass
    watchdog.start_over()
    for number in range(1, 6):
        assert desk_state.project is not None
        notes = add(desk_state.project.notes, number, lap_distance_m=300.0 * number, text=f"note {number}")
        with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
            desk_state.edit("note", replace(desk_state.project, notes=notes, notes_made=number))
    for step in range(50):
        desk_state.move_playhead(Fraction(60) + Fraction(step, 60))
    desk_state.choose_lap(1)
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        pass
