"""The export panel: real workers, stopped, killed and taken up again, while the window stays live."""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtWidgets import QApplication

from syncview.desk import theme
from syncview.desk.autosave import Autosave
from syncview.desk.export.job import Ended
from syncview.desk.export.panel import ExportPanel
from syncview.desk.export.ready import usual_folder
from syncview.notes.note import add
from syncview.project import load

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytestqt.qtbot import QtBot

    from syncview.desk.state import DeskState
    from tests.desk.watching import Watchdog

LONG_MS = 240_000


@pytest.fixture
def panel(desk_state: DeskState, qtbot: QtBot, tmp_path: Path) -> Iterator[ExportPanel]:
    """Writes to a folder of the test's own, in the quickest way."""
    made = ExportPanel(desk_state)
    qtbot.addWidget(made)
    made.resize(360, 560)
    made.show()
    made.wishes.folder.setText(str(tmp_path / "out"))
    made.wishes.quality.setCurrentIndex(made.wishes.quality.findData("draft"))
    yield made
    made.close()


def want(panel: ExportPanel, *products: str) -> None:
    for name, box in panel.wishes.products.items():
        box.setChecked(name in products)


def ended(panel: ExportPanel, qtbot: QtBot) -> Ended:
    with qtbot.waitSignal(panel.job.ended, timeout=LONG_MS) as told:
        pass
    found = told.args[0]
    assert isinstance(found, Ended)
    return found


@pytest.mark.slow
def test_the_whole_way(
    panel: ExportPanel, desk_state: DeskState, qtbot: QtBot, tmp_path: Path, watchdog: Watchdog
) -> None:
    assert desk_state.project is not None
    assert desk_state.path is not None
    notes = add((), 1, lap_distance_m=180.0, text="Brake firmly at the board.")
    autosave = Autosave(desk_state, tmp_path / "kept")
    desk_state.edit("another lap", replace(desk_state.project, notes=notes, notes_made=1, lap=1))
    want(panel, "captions", "chapters")
    watchdog.start_over()
    panel.start.click()
    assert ended(panel, qtbot).kind == "done"
    assert load(desk_state.path).notes == notes, "the project was saved before"
    assert autosave.close()
    paths = panel.results.paths
    assert {path.suffix for path in paths} >= {".srt", ".vtt", ".ttml", ".json"}
    assert all(path.exists() and path.parent == tmp_path / "out" for path in paths)
    assert all(path.name.startswith("lap-1") for path in paths)
    assert "Brake firmly" in next(path for path in paths if path.suffix == ".srt").read_text("utf-8")
    assert panel.open_folder.isVisible()
    assert panel.start.isVisible()
    assert not panel.bar.isVisible()


@pytest.mark.slow
def test_nothing_is_replaced_without_asking(panel: ExportPanel, qtbot: QtBot, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    want(panel, "chapters")
    panel.start.click()
    assert ended(panel, qtbot).kind == "done"
    mine = panel.results.paths[0]
    mine.write_text("mine", "utf-8")
    panel.start.click()
    qtbot.waitUntil(lambda: panel.question.isVisible(), timeout=10_000)
    assert mine.name in panel.question_words.text()
    assert not panel.job.is_running
    keep = panel.answers[-1]
    keep.click()
    assert mine.read_text("utf-8") == "mine"
    assert not panel.question.isVisible()
    panel.start.click()
    qtbot.waitUntil(lambda: panel.question.isVisible(), timeout=10_000)
    panel.answers[0].click()
    assert ended(panel, qtbot).kind == "done"
    assert mine.read_text("utf-8") != "mine"


@pytest.mark.slow
def test_cancel_leaves_nothing_half_written(panel: ExportPanel, qtbot: QtBot, tmp_path: Path) -> None:
    want(panel, "chapters", "film")
    panel.start.click()
    with qtbot.waitSignal(
        panel.job.progressed, timeout=LONG_MS, check_params_cb=lambda share, _what: share > 0.1
    ):  # fmt: skip
        pass
    assert panel.bar.value() > 0
    panel.cancel.click()
    assert not panel.cancel.isEnabled()
    assert ended(panel, qtbot).kind == "stopped"
    assert panel.job.process_id is None
    assert sorted(path for path in (tmp_path / "out").iterdir()) == sorted(panel.results.paths), "chapters, all whole"
    assert not list((tmp_path / "out").glob("*.mp4"))
    assert panel.start.isEnabled()


@pytest.mark.slow
def test_a_worker_that_dies_is_told_and_taken_up_again(
    panel: ExportPanel, desk_state: DeskState, qtbot: QtBot, tmp_path: Path
) -> None:
    assert desk_state.project is not None
    lesson = replace(desk_state.project.lesson, hot_lap=False, intro_s=0.0, closing_s=0.0, slow_pictures="repeat")
    desk_state.edit("short", replace(desk_state.project, lesson=lesson))
    want(panel, "chapters", "lesson")
    panel.start.click()
    parts = tmp_path / "out" / ".lesson.mp4.parts"
    qtbot.waitUntil(lambda: len(list(parts.glob("*.pictures"))) >= 2, timeout=LONG_MS)
    number = panel.job.process_id
    assert number is not None
    os.kill(number, signal.SIGKILL)
    told = ended(panel, qtbot)
    assert told.kind == "fault"
    assert "ended from outside" in panel.question_words.text()
    assert not (tmp_path / "out" / "lesson.mp4").exists()
    assert any(path.name.endswith(".json") for path in panel.results.paths), "what was finished stays listed"
    panel.answers[0].click()
    assert panel.bar.value() > 0
    assert ended(panel, qtbot).kind == "done"
    assert (tmp_path / "out" / "lesson.mp4").exists()
    assert any("finished by an earlier run" in words for words in panel.results.words)
    assert not parts.exists()


@pytest.mark.slow
def test_what_the_worker_refuses_is_told(panel: ExportPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.project is not None
    clock = desk_state.project.clock
    assert clock is not None
    desk_state.edit("unsure", replace(desk_state.project, clock=replace(clock, sure=False, doubts=("two peaks",))))
    want(panel, "chapters")
    panel.start.click()
    found = ended(panel, qtbot)
    assert found.kind == "fault"
    assert "two peaks" in panel.question_words.text()
    assert "syncview:" not in panel.question_words.text()


@pytest.mark.slow
def test_a_folder_that_cannot_be_is_told(panel: ExportPanel, qtbot: QtBot, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file", "utf-8")
    want(panel, "chapters")
    panel.start.click()
    assert ended(panel, qtbot).kind == "fault"
    assert str(tmp_path / "out") in panel.question_words.text()


def test_a_project_that_cannot_be_saved_is_not_exported(
    panel: ExportPanel, desk_state: DeskState, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("syncview.desk.export.ready.SAVING_PATIENCE_S", 0.3)
    autosave = Autosave(desk_state, tmp_path / "kept")
    assert desk_state.path is not None
    assert desk_state.project is not None
    desk_state.path.write_text("another program's", "utf-8")
    desk_state.edit("lap", replace(desk_state.project, lap=1))
    want(panel, "chapters")
    panel.start.click()
    qtbot.waitUntil(lambda: panel.question.isVisible(), timeout=10_000)
    assert "not on disk" in panel.question_words.text()
    assert not panel.job.is_running
    assert autosave.close()


def test_wishes(panel: ExportPanel, desk_state: DeskState) -> None:
    want(panel)
    assert not panel.start.isEnabled(), "nothing is wanted"
    want(panel, "lesson", "captions")
    assert panel.start.isEnabled()
    shape = panel.wishes.shape
    shape.setCurrentIndex(shape.findData("tall"))
    shape.activated.emit(shape.currentIndex())
    assert desk_state.project is not None
    assert desk_state.project.lesson.shape == "tall"
    desk_state.history.undo()
    assert shape.currentData() == "as recorded"
    order = panel.wishes.order()
    assert order is not None
    assert order.products == ("captions", "lesson")
    assert (order.quality, order.coding) == ("draft", "h264")
    panel.wishes.folder.setText("beside")
    order = panel.wishes.order()
    assert order is not None
    assert desk_state.path is not None
    assert order.folder == desk_state.path.parent / "beside"
    assert usual_folder(Path("/x/monday.syncview.json")) == Path("/x/monday lesson")
    desk_state.close_project()
    assert not panel.start.isEnabled()


@pytest.mark.slow
def test_closing_the_window_ends_the_worker(panel: ExportPanel, qtbot: QtBot, tmp_path: Path) -> None:
    want(panel, "film")
    panel.start.click()
    qtbot.waitUntil(lambda: panel.job.process_id is not None, timeout=10_000)
    number = panel.job.process_id
    assert number
    panel.close()
    assert not panel.job.is_running
    with pytest.raises(ProcessLookupError):
        os.kill(number, 0)
    assert not list(tmp_path.glob("out/*"))


@pytest.mark.parametrize("name", ["dark", "light"])
def test_both_themes(panel: ExportPanel, qapp: QApplication, name: theme.ThemeName) -> None:
    theme.apply(qapp, name)
    assert panel.grab().toImage().width() == 360
    assert all(box.accessibleName() and box.toolTip() for box in panel.wishes.products.values())
    theme.apply(qapp, "dark")
