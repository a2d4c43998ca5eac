"""The sample opened in a `DeskState`; its log and recording are read once for all tests of the desk."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

from syncview.clock.clock_map import ClockMap
from syncview.media_file import refer_to
from syncview.project import Project, SavedClock, save
from tests.desk.watching import BLOCKED_MS, Watchdog

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QApplication
    from pytestqt.qtbot import QtBot

    from syncview.desk.main_window import MainWindow
    from syncview.desk.state import DeskState
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording

SAMPLE = Path(__file__).parents[2] / "sample_media"


@pytest.fixture(autouse=True, scope="session")
def qt_sound_loaded() -> None:
    """As `app.run` does: before there are threads."""
    from syncview.desk.sound_library import load_sound

    assert load_sound()


@pytest.fixture(autouse=True)
def settings_of_their_own(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Settings, kept copies and journals of the tests, never those of the person who runs them."""
    from PyQt6.QtCore import QSettings

    folder = tmp_path_factory.mktemp("settings")
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(folder))
    QSettings.setDefaultFormat(QSettings.Format.IniFormat)
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder))


@pytest.fixture(scope="session")
def sample_project() -> Project:
    """The sample's project with its true clock; its media are referred to from the sample's own folder."""
    truth = json.loads((SAMPLE / "truth.json").read_text("utf-8"))["clock"]
    clock = ClockMap(truth["offset_s"], truth["rate"], sigma_pivot_s=0.002)
    return Project(
        recording=refer_to(SAMPLE / "session.mp4", SAMPLE),
        log=refer_to(SAMPLE / "session.csv", SAMPLE),
        clock=SavedClock(clock, sure=True, basis="truth of the sample"),
    )


@pytest.fixture(scope="session")
def sample_session(sample_project: Project) -> Session:
    """Its data."""
    from syncview.lesson.session import session_of

    return session_of(sample_project, SAMPLE / "sample.syncview.json")


@pytest.fixture(scope="session")
def sample_recording() -> Recording:
    """Its picture."""
    from syncview.media.recording import open_recording

    return open_recording(SAMPLE / "session.mp4")


@pytest.fixture
def project_file(sample_project: Project, tmp_path: Path) -> Path:
    """The sample's project saved in a folder of the test's own."""
    from dataclasses import replace

    path = tmp_path / "mine.syncview.json"
    recording, log = (refer_to(SAMPLE / name, tmp_path) for name in ("session.mp4", "session.csv"))
    save(replace(sample_project, recording=recording, log=log), path)
    return path


@pytest.fixture
def desk_state(
    qapp: QApplication, project_file: Path, sample_session: Session, sample_recording: Recording
) -> Iterator[DeskState]:
    """The sample, open: project, session, recording and film are there; the lesson follows by itself (`lessonReady`).

    Nothing is saved unless the test attaches an `Autosave`.
    """
    from syncview.desk.state import DeskState
    from syncview.project import load

    assert qapp is not None
    state = DeskState()
    state.adopt(load(project_file), project_file, sample_session, sample_recording)
    yield state
    assert state.close()


@pytest.fixture
def watchdog(qapp: QApplication) -> Iterator[Watchdog]:
    """The test fails when the main thread was busy for more than twice 50 ms at a stretch.

    50 ms is the bar; the same stretch takes up to half as long again on a machine that is shared, processor time too.
    """
    dog = Watchdog(qapp)
    yield dog
    dog.stop()
    assert dog.longest_ms <= 2 * BLOCKED_MS, f"busy for {dog.longest_ms:.0f} ms at a stretch, such as in:\n{dog.where}"


@pytest.fixture
def desk_window(qtbot: QtBot) -> Iterator[MainWindow]:
    """The window with nothing open, all its panels made."""
    from syncview.desk.main_window import MainWindow
    from syncview.desk.panels import DOCKED
    from syncview.desk.state import DeskState

    window = MainWindow(DeskState())
    window.show()
    qtbot.waitUntil(lambda: len(window.panels) == 1 + len(DOCKED), timeout=60_000)
    yield window
    window.close()
