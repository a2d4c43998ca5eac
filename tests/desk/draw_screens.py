"""Draws the window as a person sees it: `python -m tests.desk.draw_screens FOLDER WIDTH HEIGHT dark|light`.

Run in a process of its own, because Qt reads the scale of the screen (QT_SCALE_FACTOR) only when it starts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from PyQt6.QtCore import QEventLoop, QTimer

from syncview.clock.clock_map import ClockMap
from syncview.desk import theme
from syncview.desk.app import make_app
from syncview.desk.main_window import MainWindow
from syncview.desk.state import DeskState
from syncview.errors import ProjectError
from syncview.media_file import refer_to
from syncview.notes.note import add
from syncview.project import Project, SavedClock, save

SAMPLE = Path(__file__).parents[2] / "sample_media"
NOTES = (
    (150.0, "Brake at the hundred board, hard at once, and be off the pedal when you turn."),
    (430.0, "Fourth is enough here: let it run to the kerb on the way out."),
    (640.0, "Look for the fifty board. Second gear, and wait with the throttle until the wheel unwinds."),
)


def pause(milliseconds: int) -> None:
    """Let the window live for a while."""
    loop = QEventLoop()
    QTimer.singleShot(milliseconds, loop.quit)
    loop.exec()


def wait(what: Callable[[], bool], seconds: float = 60.0) -> None:
    """Let the window live until something is so."""
    end = time.monotonic() + seconds
    while not what():
        if time.monotonic() > end:
            raise TimeoutError(what)
        pause(20)


def sample_with_notes(folder: Path) -> Path:
    """A project of the sample with some notes."""
    path = folder / "Ostrel Holm, morning.syncview.json"
    project = Project(
        refer_to(SAMPLE / "session.mp4", folder),
        refer_to(SAMPLE / "session.csv", folder),
        clock=SavedClock(ClockMap(-7.3426, 1.00004, sigma_pivot_s=0.002), True, "truth of the sample"),
    )
    for number, (at_m, text) in enumerate(NOTES, start=1):
        project = replace(project, notes=add(project.notes, number, lap_distance_m=at_m, text=text), notes_made=number)
    save(project, path)
    return path


def draw(folder: Path, width: int, height: int, name: theme.ThemeName) -> None:
    """The first page, the desk, a fault, and the match."""
    app = make_app()
    theme.apply(app, name)
    window = MainWindow(DeskState())
    window.resize(width, height)
    window.show()
    try:
        _draw_all(folder, window, name)
    finally:
        window.close()


def _draw_all(folder: Path, window: MainWindow, name: str) -> None:
    state, width, height = window.state, window.width(), window.height()
    wait(lambda: len(window.panels) == 6)

    def keep(what: str) -> None:
        pause(300)
        picture = window.grab()
        assert picture.save(str(folder / f"{what}-{name}-{width}x{height}@{picture.devicePixelRatio():g}.png"))

    keep("welcome")
    window.open_project(sample_with_notes(folder))
    wait(lambda: state.lesson is not None)
    state.select_note("n1")
    state.move_playhead(state.media_s_at(200.0) or Fraction(70))
    pause(1200)
    keep("desk")
    state.tell(ProjectError("the disk is full", "Free space on it, or save the project elsewhere."), where="Saving")
    keep("fault")
    window.faults.clear()
    window.step_of_setup("match")
    pause(2500)
    keep("match")


if __name__ == "__main__":
    draw(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), "light" if sys.argv[4] == "light" else "dark")
