"""The panel of notes, driven by keyboard and mouse."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtGui import QGuiApplication, QKeySequence, QShortcut
from PyQt6.QtWidgets import QAbstractButton, QApplication, QDockWidget, QLabel, QMainWindow, QVBoxLayout, QWidget

from syncview.desk import theme
from syncview.desk.notes.changes import NO_WORDS
from syncview.desk.notes.editor import NoteEditor
from syncview.desk.notes.note_row import NoteRow
from syncview.desk.notes.panel import NotesPanel
from syncview.desk.shortcuts import keys_of
from syncview.notes.note import Note, add, find

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.desk.state import DeskState
    from tests.desk.notes.fakes import FakeLoudspeaker, FakeMicrophone


def notes(state: DeskState) -> tuple[Note, ...]:
    assert state.project is not None
    return state.project.notes


def put(state: DeskState, *at: tuple[float, str]) -> None:
    """Give the project these notes, in one step."""
    assert state.project is not None
    made, number = state.project.notes, state.project.notes_made
    for place_m, text in at:
        number += 1
        made = add(made, number, lap_distance_m=place_m, text=text)
    state.edit("put", replace(state.project, notes=made, notes_made=number))


def drive_to(state: DeskState, lap_distance_m: float) -> None:
    media_s = state.media_s_at(lap_distance_m)
    assert media_s is not None
    state.move_playhead(media_s)


def check_of(panel: NotesPanel, key: str) -> NoteCheck | None:
    return panel.checker.checks().get(key)


def press(qtbot: QtBot, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    focus = QApplication.focusWidget()
    assert focus is not None
    qtbot.keyClick(focus, key, modifier)


# N


def test_n_drops_a_note_while_the_lap_plays(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    """The key is pressed anywhere in the window; what is typed next goes into the note."""
    window = QWidget()
    qtbot.addWidget(window)
    column = QVBoxLayout(window)
    column.addWidget(panel)
    other = QWidget(window)
    other.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    column.addWidget(other)
    window.show()
    with qtbot.waitActive(window):
        window.activateWindow()
    other.setFocus()
    drive_to(desk_state, 412.0)
    desk_state.set_playing(True)
    qtbot.keyClick(other, Qt.Key.Key_N)
    (note,) = notes(desk_state)
    assert note.text == NO_WORDS
    assert note.lap_distance_m == pytest.approx(412.0, abs=0.1)
    assert desk_state.playing, "it goes on playing"
    assert desk_state.selected_note == note.key
    focus = QApplication.focusWidget()
    assert focus is panel.editor.text
    qtbot.keyClicks(focus, "no new N")
    assert [note.text for note in notes(desk_state)] == ["no new N"], "an n that is typed drops no note"
    qtbot.keyClick(focus, Qt.Key.Key_Escape)
    assert QApplication.focusWidget() is other, "the keyboard goes back to where it was"
    qtbot.keyClick(other, Qt.Key.Key_N)
    assert len(notes(desk_state)) == 2
    panel.setParent(None)  # the fixture closes it


def test_n_brings_a_panel_that_is_closed_or_behind_another_to_the_front(
    desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone, loudspeaker: FakeLoudspeaker
) -> None:
    window = QMainWindow()
    qtbot.addWidget(window)
    middle = QWidget()
    middle.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    window.setCentralWidget(middle)
    docks = [QDockWidget(name, window) for name in ("notes", "export")]
    for dock in docks:
        window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, dock)
    panel = NotesPanel(desk_state, window, source=microphone, sink=loudspeaker)
    docks[0].setWidget(panel)
    docks[1].setWidget(QWidget())
    window.tabifyDockWidget(*docks)
    window.show()
    docks[1].raise_()
    with qtbot.waitActive(window):
        window.activateWindow()
    drive_to(desk_state, 300.0)
    for closed in (False, True):
        if closed:
            docks[0].close()
        middle.setFocus()
        qtbot.keyClick(middle, Qt.Key.Key_N)
        qtbot.waitUntil(lambda: not panel.editor.text.visibleRegion().isEmpty())
        assert QApplication.focusWidget() is panel.editor.text
    assert len(notes(desk_state)) == 2
    for dock in docks:
        dock.close()
    middle.setFocus()
    qtbot.keyClick(middle, Qt.Key.Key_N)
    assert len(notes(desk_state)) == 2, "no lap is worked on where all panels are closed"


def test_keys_are_never_used_twice(panel: NotesPanel, desk_state: DeskState) -> None:
    drive_to(desk_state, 100.0)
    panel.drop_note()
    panel.remove_selected()
    panel.drop_note()
    assert [note.key for note in notes(desk_state)] == ["n2"]
    desk_state.history.undo()
    panel.drop_note()
    # The dropped n2 was undone: nobody saw it in a saved project, so its number is free again.
    assert [note.key for note in notes(desk_state)] == ["n2"]


def test_outside_the_laps_it_says_where_a_note_can_be(panel: NotesPanel, desk_state: DeskState) -> None:
    desk_state.move_playhead(Fraction(0))
    panel.drop_note()
    assert notes(desk_state) == ()
    assert "outside the timed laps" in panel.remark.text()
    assert panel.remark.isVisible()
    drive_to(desk_state, 300.0)
    panel.drop_note()
    assert not panel.remark.isVisible()


def test_a_note_without_words_does_not_spoil_the_lesson(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    drive_to(desk_state, 300.0)
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        panel.drop_note()
    assert desk_state.lesson is not None
    assert panel.editor.said.text() == ""
    assert "1 without words" in panel.summary.text()


# Writing


def test_typing_is_one_step_and_undo_works_from_the_text(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot
) -> None:
    drive_to(desk_state, 250.0)
    panel.drop_note()
    undo = QShortcut(QKeySequence("Ctrl+Z"), panel)
    undo.activated.connect(desk_state.history.undo)
    qtbot.keyClicks(panel.editor.text, "Brake later")
    qtbot.keyClick(panel.editor.text, Qt.Key.Key_Return)
    qtbot.keyClicks(panel.editor.text, "and softer")
    assert notes(desk_state)[0].text == "Brake later\nand softer"
    assert desk_state.history.count() == 2
    qtbot.keyClick(panel.editor.text, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert notes(desk_state)[0].text == NO_WORDS
    assert panel.editor.text.toPlainText() == ""
    desk_state.history.redo()
    assert panel.editor.text.toPlainText() == "Brake later\nand softer"


def test_a_blank_that_is_typed_stays_in_the_field(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    drive_to(desk_state, 250.0)
    panel.drop_note()
    qtbot.keyClicks(panel.editor.text, "Brake ")
    assert panel.editor.text.toPlainText() == "Brake "
    assert notes(desk_state)[0].text == "Brake"
    qtbot.keyClicks(panel.editor.text, "now")
    assert notes(desk_state)[0].text == "Brake now"


def test_words_that_cannot_be_kept_are_told(panel: NotesPanel, desk_state: DeskState) -> None:
    put(desk_state, (250.0, "Short"))
    panel.select("n1")
    panel.editor.text.setPlainText("x" * 20_000)
    assert notes(desk_state)[0].text == "Short"
    assert "longer than 10000" in panel.editor.fault.text()
    panel.editor.text.setPlainText("Better")
    assert notes(desk_state)[0].text == "Better"
    assert not panel.editor.fault.isVisible()


# The list


def test_the_list_stands_in_lap_order_under_corners(panel: NotesPanel, desk_state: DeskState) -> None:
    assert desk_state.session is not None
    one, two = desk_state.session.corners[:2]
    put(desk_state, (two.apex_m, "Second"), (one.apex_m, "First"), (one.exit_m - 1, "First, too"))
    panel.select("n1")
    shown = [
        widget.text() if isinstance(widget, QLabel) else widget.accessibleName().split(". ")[0]
        for widget in panel.list.shown
        if isinstance(widget, QLabel | NoteRow)
    ]
    assert shown == ["Corner 1", "n2", "n3", "Corner 2"]
    assert panel.editor.key == "n1"
    assert panel.list.shown[-1].isAncestorOf(panel.editor)
    assert "at the apex" in panel.editor.place.text()
    desk_state.set_units("imperial")
    assert " yd" in panel.editor.place.text()


def test_up_down_enter_and_del(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    put(desk_state, (100.0, "A"), (300.0, "B"), (500.0, "C"))
    panel.setFocus()
    for key, wanted in ((Qt.Key.Key_Down, "n1"), (Qt.Key.Key_Down, "n2"), (Qt.Key.Key_Up, "n1")):
        press(qtbot, key)
        assert desk_state.selected_note == wanted
        assert isinstance(QApplication.focusWidget(), NoteEditor)
        place_m = desk_state.lap_distance_m(desk_state.playhead_s)
        assert place_m == pytest.approx(find(notes(desk_state), wanted).lap_distance_m, abs=0.1)
    press(qtbot, Qt.Key.Key_Return)
    qtbot.keyClicks(panel.editor.text, "!")
    press(qtbot, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert notes(desk_state)[0].text == "A!"
    press(qtbot, Qt.Key.Key_Delete)
    assert [note.key for note in notes(desk_state)] == ["n2", "n3"]
    assert desk_state.selected_note == "n2"
    desk_state.history.undo()
    assert [note.key for note in notes(desk_state)] == ["n1", "n2", "n3"]


def test_a_click_shows_the_place_and_a_double_click_writes(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot
) -> None:
    put(desk_state, (100.0, "A"), (500.0, "B"))
    row = panel.list.row("n2")
    assert row is not None
    with qtbot.waitSignals([desk_state.noteSelected, desk_state.playheadMoved]):
        qtbot.mouseClick(row, Qt.MouseButton.LeftButton, pos=QPoint(30, 12))
    assert desk_state.moved_by is panel
    assert desk_state.lap_distance_m(desk_state.playhead_s) == pytest.approx(500.0, abs=0.1)
    assert panel.list.row("n2") is None, "it is open"
    row = panel.list.row("n1")
    assert row is not None
    qtbot.mouseDClick(row, Qt.MouseButton.LeftButton, pos=QPoint(30, 12))
    assert desk_state.selected_note == "n1"
    assert QApplication.focusWidget() is panel.editor.text


def test_it_follows_a_selection_made_elsewhere(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    put(desk_state, *((20.0 * i, f"Note {i}\nwith\nlines") for i in range(40)))
    before = desk_state.playhead_s
    desk_state.select_note("n40")
    assert panel.editor.text.toPlainText() == "Note 39\nwith\nlines"
    assert desk_state.playhead_s == before, "whoever selected it moves the playhead"
    view = panel.list.viewport()
    assert view is not None
    qtbot.waitUntil(lambda: view.rect().contains(panel.editor.text.mapTo(view, QPoint(5, 5))))
    desk_state.select_note(None)
    assert panel.list.row("n40") is not None


def test_moving_and_stopping(panel: NotesPanel, desk_state: DeskState) -> None:
    put(desk_state, (100.0, "A"), (300.0, "B"))
    panel.select("n1")
    drive_to(desk_state, 450.0)
    panel.editor.here.click()
    assert [note.key for note in notes(desk_state)] == ["n2", "n1"]
    assert notes(desk_state)[1].lap_distance_m == pytest.approx(450.0, abs=0.1)
    assert panel.list.row("n2") is not None
    panel.editor.stops.setChecked(True)
    assert find(notes(desk_state), "n1").hold_s == 2.0
    panel.editor.stop_s.setValue(4.5)
    assert find(notes(desk_state), "n1").hold_s == 4.5
    assert find(notes(desk_state), "n2").hold_s is None
    panel.editor.stops.setChecked(False)
    assert find(notes(desk_state), "n1").hold_s is None
    assert not panel.editor.stop_s.isVisible()


# Everyone


def test_everything_has_a_name_and_can_be_reached_by_keys(panel: NotesPanel, desk_state: DeskState) -> None:
    put(desk_state, (100.0, "A"), (300.0, "B"))
    panel.select("n1")
    for button in panel.findChildren(QAbstractButton):
        if button.isVisibleTo(panel):
            assert button.accessibleName() or button.text(), button
            assert button.toolTip(), button.text()
            assert button.focusPolicy() & Qt.FocusPolicy.TabFocus, button.text()
    row = panel.list.row("n2")
    assert row is not None
    assert "B" in row.accessibleName()
    assert {key.keys for key in keys_of(panel)} >= {"N", "Alt+Down", "Alt+M", "Alt+R", "Del"}


def test_the_project_goes_and_comes(panel: NotesPanel, desk_state: DeskState) -> None:
    put(desk_state, (100.0, "A"))
    panel.select("n1")
    desk_state.close_project()
    assert panel.summary.text() == "no notes yet"
    assert not panel.add.isEnabled()
    assert desk_state.selected_note is None


@pytest.mark.parametrize("name", ["dark", "light"])
def test_it_is_painted_in_both_themes(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, name: theme.ThemeName
) -> None:
    app = QGuiApplication.instance()
    assert isinstance(app, QApplication)
    before = theme.current().name
    theme.apply(app, name)
    try:
        put(desk_state, (100.0, "A"), (300.0, "B " * 400))
        panel.select("n1")
        qtbot.waitUntil(lambda: check_of(panel, "n1") is not None, timeout=10_000)
        picture = panel.grab().toImage()
    finally:
        theme.apply(app, before)
    look = theme.THEMES[name]
    seen = {picture.pixelColor(x, y).getRgb()[:3] for x in range(picture.width()) for y in range(picture.height())}
    assert look.panel in seen
    assert look.ink in seen
    assert look.accent in seen
