"""Drawing on the still at a note: right shares at any size, one step of undo, shown where it belongs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtWidgets import QApplication

from syncview.gauges.drawing import Drawing, Kind
from syncview.notes.note import Note, add

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.picture.panel import PicturePanel
    from syncview.desk.state import DeskState

MakePanel = Callable[["DeskState"], "PicturePanel"]
AT_M = 420.0


@pytest.fixture
def noted(desk_state: DeskState) -> DeskState:
    """With a note that is selected."""
    assert desk_state.project is not None
    notes = add(desk_state.project.notes, 1, lap_distance_m=AT_M, text="Brake at the board")
    desk_state.edit("drop a note", replace(desk_state.project, notes=notes, notes_made=1))
    desk_state.select_note("n1")
    return desk_state


def _note(state: DeskState) -> Note:
    assert state.project is not None
    return state.project.notes[0]


def _point(panel: PicturePanel, share: tuple[float, float]) -> QPoint:
    place = panel.view.fit
    assert place is not None
    at: QPointF = panel.view.from_device(*place.point_of(share))
    return at.toPoint()


def _drag(qtbot: QtBot, panel: PicturePanel, begin: tuple[float, float], end: tuple[float, float]) -> None:
    qtbot.mousePress(panel.view, Qt.MouseButton.LeftButton, pos=_point(panel, begin))
    middle = ((begin[0] + end[0]) / 2, (begin[1] + end[1]) / 2)
    for share in (middle, end):
        qtbot.mouseMove(panel.view, _point(panel, share))
        QApplication.processEvents()
    qtbot.mouseRelease(panel.view, Qt.MouseButton.LeftButton, pos=_point(panel, end))


def _is_near(place: tuple[float, float], wanted: tuple[float, float], across: float, down: float) -> None:
    assert abs(place[0] - wanted[0]) <= across
    assert abs(place[1] - wanted[1]) <= down


@pytest.mark.parametrize("size", [(700, 520), (400, 700), (1100, 400)])
@pytest.mark.parametrize(("key", "kind"), [("A", "arrow"), ("S", "spotlight")])
def test_a_drag_adds_a_drawing_with_the_right_shares_in_any_room(
    qtbot: QtBot, make_panel: MakePanel, noted: DeskState, size: tuple[int, int], key: str, kind: Kind
) -> None:
    panel = make_panel(noted)
    panel.resize(*size)
    qtbot.wait(1)
    steps = noted.history.count()
    qtbot.keyClick(panel.view, key)
    assert panel.tools.tool == kind
    _drag(qtbot, panel, (0.3, 0.8), (0.55, 0.4))
    (made,) = _note(noted).drawings
    place = panel.view.fit
    assert place is not None
    assert made.kind == kind
    # A pointer stands on whole pixels: half of one is the best a hand can do.
    _is_near(made.begin, (0.3, 0.8), 0.6 / place.width, 0.6 / place.height)
    _is_near(made.end, (0.55, 0.4), 0.6 / place.width, 0.6 / place.height)
    assert noted.history.count() == steps + 1
    noted.history.undo()
    assert _note(noted).drawings == ()
    noted.history.redo()
    assert _note(noted).drawings == (made,)


def test_taking_a_tool_goes_to_the_notes_still_and_stops(qtbot: QtBot, make_panel: MakePanel, noted: DeskState) -> None:
    panel = make_panel(noted)
    panel.player.toggle()
    panel.transport.tools["ellipse"].click()
    assert not noted.playing
    assert noted.recording is not None
    still = noted.media_s_at(AT_M)
    assert still is not None
    number = noted.recording.frames.index_at(still)
    assert noted.playhead_s == noted.recording.frames.media_s(number)
    assert panel.transport.tools["ellipse"].isChecked()
    qtbot.keyClick(panel.view, Qt.Key.Key_Escape)
    assert panel.tools.tool is None
    assert not panel.transport.tools["ellipse"].isChecked()


def test_the_label_is_written_in_place(qtbot: QtBot, make_panel: MakePanel, noted: DeskState) -> None:
    from syncview.desk.picture.label_editor import LabelEditor

    panel = make_panel(noted)
    panel.tools.take("arrow")
    _drag(qtbot, panel, (0.2, 0.2), (0.6, 0.6))
    editor = panel.view.findChild(LabelEditor)
    assert editor is not None
    assert editor.isVisible()
    qtbot.keyClicks(editor, "Turn in")
    assert _note(noted).drawings[0].label == ""
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    assert not editor.isVisible()
    assert _note(noted).drawings[0].label == "Turn in"
    qtbot.mouseDClick(panel.view, Qt.MouseButton.LeftButton, pos=_point(panel, (0.4, 0.4)))
    assert editor.isVisible()
    qtbot.keyClicks(editor, "Late")
    qtbot.keyClick(editor, Qt.Key.Key_Escape)
    assert _note(noted).drawings[0].label == "Turn in"


def test_a_label_begun_belongs_to_its_drawing_wherever_the_playhead_goes(
    qtbot: QtBot, make_panel: MakePanel, noted: DeskState
) -> None:
    from syncview.desk.picture.label_editor import LabelEditor

    panel = make_panel(noted)
    panel.tools.take("line")
    _drag(qtbot, panel, (0.2, 0.2), (0.6, 0.6))
    editor = panel.view.findChild(LabelEditor)
    assert editor is not None
    qtbot.keyClicks(editor, "Kerb")
    noted.move_playhead(noted.playhead_s + 3)
    assert _note(noted).drawings[0].label == "Kerb"


def test_drawings_show_on_their_still_only(qtbot: QtBot, make_panel: MakePanel, noted: DeskState) -> None:
    from syncview.notes.note import draw

    panel = make_panel(noted)
    assert noted.project is not None
    assert noted.recording is not None
    panel.view.show_gauges(False)
    panel.tools.take("arrow")
    panel.tools.take(None)
    still_s = noted.playhead_s
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    bare = panel.view.grab().toImage()
    drawings = (Drawing("ellipse", (0.3, 0.3), (0.6, 0.7), "here"),)
    noted.edit("draw", replace(noted.project, notes=draw(noted.project.notes, "n1", drawings)))
    qtbot.waitUntil(lambda: panel.tools._pictures._made is not None, timeout=5000)
    assert panel.view.grab().toImage() != bare
    panel.step(1)
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    after = panel.view.grab().toImage()
    noted.history.undo()
    assert panel.view.grab().toImage() == after  # nothing of it was on the next frame
    noted.move_playhead(still_s)
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    assert panel.view.grab().toImage() == bare


def test_a_drawing_is_moved_by_hand_and_by_keys_and_removed(
    qtbot: QtBot, make_panel: MakePanel, noted: DeskState
) -> None:
    panel = make_panel(noted)
    panel.tools.take("line")
    _drag(qtbot, panel, (0.2, 0.2), (0.6, 0.6))
    panel.view.setFocus()
    _drag(qtbot, panel, (0.4, 0.4), (0.5, 0.3))
    moved = _note(noted).drawings[0]
    _is_near(moved.begin, (0.3, 0.1), 0.01, 0.01)
    qtbot.keyClick(panel.view, Qt.Key.Key_Right)
    qtbot.keyClick(panel.view, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    nudged = _note(noted).drawings[0]
    _is_near(nudged.begin, (moved.begin[0] + 0.005, moved.begin[1]), 1e-4, 1e-9)
    assert nudged.end[1] == pytest.approx(moved.end[1] + 0.005, abs=1e-4)
    qtbot.keyClick(panel.view, Qt.Key.Key_Delete)
    assert _note(noted).drawings == ()


def test_it_can_all_be_done_from_the_keyboard(qtbot: QtBot, make_panel: MakePanel, noted: DeskState) -> None:
    panel = make_panel(noted)
    qtbot.keyClick(panel.view, "E")
    qtbot.keyClick(panel.view, Qt.Key.Key_Return)
    assert _note(noted).drawings[0].kind == "ellipse"
    panel.view.setFocus()
    qtbot.keyClick(panel.view, Qt.Key.Key_Escape)
    qtbot.keyClick(panel.view, "D")
    assert panel.tools.chosen == 0
    qtbot.keyClick(panel.view, Qt.Key.Key_Left)
    assert _note(noted).drawings[0].begin[0] == pytest.approx(0.415)


def test_without_a_note_it_is_said_what_to_do(make_panel: MakePanel, desk_state: DeskState) -> None:
    panel = make_panel(desk_state)
    told: list[tuple[str, str, str]] = []
    desk_state.faultTold.connect(lambda *fault: told.append(fault))
    panel.transport.tools["arrow"].click()
    assert panel.tools.tool is None
    assert not panel.transport.tools["arrow"].isChecked()
    assert "Select a note first" in told[0][1]


def test_a_slip_of_the_hand_changes_nothing(qtbot: QtBot, make_panel: MakePanel, noted: DeskState) -> None:
    panel = make_panel(noted)
    steps = noted.history.count()
    panel.tools.take("arrow")
    _drag(qtbot, panel, (0.5, 0.5), (0.502, 0.502))
    assert noted.history.count() == steps
    assert panel.tools.tool == "arrow"
