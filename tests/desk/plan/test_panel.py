"""The plan panel by mouse and keys."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtGui import QWheelEvent
from PyQt6.QtWidgets import QApplication, QComboBox, QLineEdit

from syncview.desk import theme
from syncview.desk.plan.panel import PlanPanel
from syncview.notes.note import add
from syncview.plan.lesson_choices import PinnedPace

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pytestqt.qtbot import QtBot

    from syncview.desk.plan.pieces import Piece
    from syncview.desk.plan.strip import Strip
    from syncview.desk.state import DeskState
    from tests.desk.watching import Watchdog


@pytest.fixture
def panel(desk_state: DeskState, qtbot: QtBot) -> Iterator[PlanPanel]:
    """With two notes, planned and shown."""
    assert desk_state.project is not None
    notes = add((), 1, lap_distance_m=180.0, text="Brake firmly at the board, wait for the car to turn, then go.")
    notes = add(notes, 2, lap_distance_m=640.0, text="Late apex.")
    notes = tuple(replace(note, hold_s=3.0) if note.key == "n1" else note for note in notes)
    made = PlanPanel(desk_state)
    qtbot.addWidget(made)
    made.resize(1000, 260)
    made.show()
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        desk_state.edit("notes", replace(desk_state.project, notes=notes, notes_made=2))
    yield made
    made.close()


def number_of(strip: Strip, wanted: str, *, speed: Fraction | None = None) -> int:
    assert strip.contents is not None
    return next(
        number
        for number, piece in enumerate(strip.contents.pieces)
        if piece.can_be_set and piece.kind == wanted and (speed is None or piece.speed == speed)
        and (wanted == "hold" or piece.length_s > 4)
    )  # fmt: skip


def piece_of(strip: Strip, number: int) -> Piece:
    assert strip.contents is not None
    return strip.contents.pieces[number]


def drag(qtbot: QtBot, strip: Strip, begin: QPoint, end: QPoint) -> None:
    button = Qt.MouseButton.LeftButton
    qtbot.mousePress(strip, button, pos=begin)
    qtbot.mouseMove(strip, (begin + end) / 2)
    qtbot.mouseMove(strip, end)
    qtbot.mouseRelease(strip, button, pos=end)


def test_dragging_the_top_edge_pins_the_speed(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    strip = panel.strip
    piece = piece_of(strip, number_of(strip, "play", speed=Fraction(1, 2)))
    x = round(strip.scale.x(float(piece.begin_s + piece.end_s) / 2))
    rows, steps = strip.rows, desk_state.history.count()
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        drag(qtbot, strip, QPoint(x, round(rows.speed_y(0.5))), QPoint(x, round(rows.speed_y(0.25))))
    assert desk_state.project is not None
    assert [(pin.begin_m, pin.end_m, pin.speed) for pin in desk_state.project.lesson.pinned] == [
        (piece.begin_m, piece.end_m, "1/4")
    ]
    assert desk_state.history.count() == steps + 1
    chosen = strip.chosen_piece
    assert chosen is not None
    assert chosen.speed == Fraction(1, 4)
    assert panel.detail.why.words == "1/4 speed: set by the coach"
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        desk_state.history.undo()
    assert strip.contents is not None
    assert not any(one.pinned for one in strip.contents.pieces if one.kind == "play")


def test_dragging_a_hold_pins_it_and_a_double_click_frees_it(
    panel: PlanPanel, desk_state: DeskState, qtbot: QtBot
) -> None:
    strip = panel.strip
    piece = piece_of(strip, number_of(strip, "hold"))
    y = round((strip.rows.speeds.top + strip.rows.speeds.bottom) / 2)
    begin = QPoint(round(strip.scale.x(float(piece.end_s))), y)
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        drag(qtbot, strip, begin, QPoint(round(strip.scale.x(float(piece.end_s) + 4)), y))
    assert desk_state.project is not None
    held_s = desk_state.project.notes[0].hold_s
    assert held_s == pytest.approx(7.0, abs=0.3)
    piece = piece_of(strip, number_of(strip, "hold"))
    assert float(piece.length_s) == pytest.approx(held_s)
    middle = QPoint(round(strip.scale.x(float(piece.begin_s + piece.end_s) / 2)), y)
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.mouseDClick(strip, Qt.MouseButton.LeftButton, pos=middle)
    assert desk_state.project.notes[0].hold_s is None


def test_the_whole_job_by_keys(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    strip = panel.strip
    strip.setFocus()
    qtbot.keyClick(strip, Qt.Key.Key_Home)
    first = strip.chosen
    qtbot.keyClick(strip, Qt.Key.Key_Right)
    assert first is not None
    assert strip.chosen == first + 1
    piece = strip.chosen_piece
    assert piece is not None
    assert desk_state.playhead_s == piece.begin_media_s, "stepping seeks"
    qtbot.keyClick(strip, Qt.Key.Key_Return)
    assert desk_state.project is not None
    assert [pin.begin_m for pin in desk_state.project.lesson.pinned] == [piece.begin_m]
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.keyClick(strip, Qt.Key.Key_Down)
    chosen = strip.chosen_piece
    assert chosen is not None
    assert chosen.speed < piece.speed
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.keyClick(strip, Qt.Key.Key_Delete)
    assert desk_state.project.lesson.pinned == ()
    qtbot.keyClick(strip, Qt.Key.Key_Plus)
    assert strip.scale.view_s < strip.scale.length_s
    qtbot.keyClick(strip, Qt.Key.Key_0)
    assert strip.scale.view_s == strip.scale.length_s


def test_a_value_can_be_typed(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    panel.strip.choose(number_of(panel.strip, "hold"))
    panel.detail.value.setText("4,5 s")
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.keyClick(panel.detail.value, Qt.Key.Key_Return)
    assert desk_state.project is not None
    assert desk_state.project.notes[0].hold_s == 4.5
    panel.detail.value.setText("long")
    qtbot.keyClick(panel.detail.value, Qt.Key.Key_Return)
    assert panel.trouble.isVisible()
    assert desk_state.project.notes[0].hold_s == 4.5


def test_clicks_seek_in_both_sections(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    strip = panel.strip
    assert strip.contents is not None
    hot = next(one for one in strip.contents.plan.sections if one.kind == "hot lap")
    wanted_s = float(hot.begin_s) + 20.0
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(round(strip.scale.x(wanted_s)), 100))
    assert float(panel.lesson_s) == pytest.approx(wanted_s, abs=0.5)
    assert hot.to_media_s(panel.lesson_s) == desk_state.playhead_s
    media_s = desk_state.media_s_at(640.0)
    assert media_s is not None
    desk_state.move_playhead(media_s, by="another panel")
    assert strip.contents.plan.section_at(panel.lesson_s).kind == "breakdown"


def test_clicking_what_is_said_takes_up_its_note(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    strip = panel.strip
    assert strip.contents is not None
    for bar in strip.contents.said:
        at = QPoint(round(strip.scale.x((bar.begin_s + bar.end_s) / 2)), round(strip.rows.said.top + 4))
        qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=at)
        assert desk_state.selected_note == bar.words


def test_the_wheel_zooms_and_dragging_pans(panel: PlanPanel, qtbot: QtBot) -> None:
    strip = panel.strip
    at = QPointF(strip.scale.x(60.0), 100.0)
    none = Qt.KeyboardModifier.NoModifier
    for _ in range(6):
        event = QWheelEvent(at, strip.mapToGlobal(at), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton, none,
                            Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
        QApplication.sendEvent(strip, event)
    assert strip.scale.view_s < 0.3 * strip.scale.length_s
    assert strip.scale.lesson_s(at.x()) == pytest.approx(60.0)
    drag(qtbot, strip, QPoint(500, 5), QPoint(400, 5))
    assert strip.scale.lesson_s(at.x() - 100) == pytest.approx(60.0, abs=0.5)


def test_hovering_tells_why(panel: PlanPanel) -> None:
    strip = panel.strip
    piece = piece_of(strip, number_of(strip, "hold"))
    at = QPointF(strip.scale.x(float(piece.begin_s + piece.end_s) / 2), strip.rows.speeds.bottom - 3)
    assert strip.words_at(at).startswith("held 3.0 s: set by the coach")
    assert "Double click" in strip.words_at(at)
    assert strip.contents is not None
    said = strip.contents.said[0]
    at = QPointF(strip.scale.x((said.begin_s + said.end_s) / 2), strip.rows.said.top + 2)
    assert "Brake firmly" in strip.words_at(at)


def test_why_there_is_no_plan_is_told_and_can_be_mended(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.project is not None
    both = (PinnedPace(100.0, 300.0, "1"), PinnedPace(200.0, 300.0, "1/2"))
    lesson = replace(desk_state.project.lesson, pinned=both)
    with qtbot.waitSignal(desk_state.lessonFailed, timeout=30_000):
        desk_state.edit("two pins", replace(desk_state.project, lesson=lesson))
    assert panel.trouble.isVisible()
    assert "Take one of them back" in panel.trouble.words.text()
    assert panel.strip.contents is not None, "the plan before stays, greyed"
    assert panel.trouble.free_all.isVisible()
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.mouseClick(panel.trouble.undo, Qt.MouseButton.LeftButton)
    assert not panel.trouble.isVisible()


def test_choices_are_edits(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    panel.show_choices.click()
    slowest, title = panel.choices.findChild(QComboBox, "slowest"), panel.choices.findChild(QLineEdit, "title")
    assert slowest is not None
    assert title is not None
    qtbot.keyClicks(title, "Ostrel Holm")
    qtbot.keyClick(title, Qt.Key.Key_Return)
    assert desk_state.project is not None
    assert desk_state.project.lesson.title == "Ostrel Holm"
    steps = desk_state.history.count()
    slowest.setCurrentText("3/4")
    slowest.lineEdit().editingFinished.emit()  # type: ignore[union-attr]
    assert panel.choices.fault.isVisible(), "slower corners than the slowest speed cannot be"
    assert slowest.currentText() == "1/4"
    assert desk_state.history.count() == steps
    slowest.setCurrentText("1/3")
    slowest.lineEdit().editingFinished.emit()  # type: ignore[union-attr]
    assert desk_state.project.lesson.slowest == "1/3"
    desk_state.history.undo()
    assert slowest.currentText() == "1/4"


def test_the_preview_plays_holds_and_ends(
    panel: PlanPanel, desk_state: DeskState, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    now_s = [100.0]
    monkeypatch.setattr("syncview.desk.plan.preview.time.monotonic", lambda: now_s[0])
    piece = piece_of(panel.strip, number_of(panel.strip, "hold"))
    panel.go_to(piece.begin_s - 1)
    before = desk_state.playhead_s
    seen: list[Fraction] = []
    desk_state.playheadMoved.connect(seen.append)
    qtbot.mouseClick(panel.preview, Qt.MouseButton.LeftButton)
    assert panel.stop.isVisible()
    for passed_s in (1.5, 2.0, 3.5):  # the picture stands
        now_s[0] = 100.0 + passed_s
        panel._preview.run_on()
        assert desk_state.playhead_s == piece.begin_media_s
        assert panel.preview_speed == 0
    assert before < piece.begin_media_s
    now_s[0] = 104.5
    panel._preview.run_on()
    assert desk_state.playhead_s > piece.begin_media_s
    assert panel.preview_speed == Fraction(1, 2)
    now_s[0] = 1000.0
    panel._preview.run_on()
    assert not panel.is_previewing
    assert panel.strip.contents is not None
    assert panel.lesson_s == panel.strip.contents.plan.length_s
    assert seen == sorted(seen)


def test_the_preview_gives_way(panel: PlanPanel, desk_state: DeskState) -> None:
    panel.strip.setFocus()
    told: list[bool] = []
    panel.previewing.connect(told.append)
    panel.start_preview()
    desk_state.move_playhead(Fraction(30), by="the traces")
    assert not panel.is_previewing
    panel.start_preview()
    desk_state.set_playing(True)
    assert not panel.is_previewing
    assert told == [True, False, True, False]


@pytest.mark.parametrize("name", ["dark", "light"])
def test_it_is_painted_in_both_themes(panel: PlanPanel, qapp: QApplication, name: theme.ThemeName) -> None:
    theme.apply(qapp, name)
    picture = panel.strip.grab().toImage()
    colours = {picture.pixelColor(x, y).name() for x in range(0, picture.width(), 3) for y in range(0, 200, 3)}
    shown = theme.THEMES[name]
    assert {theme.css(shown.panel), theme.css(shown.accent)} <= colours
    theme.apply(qapp, "dark")


def test_nothing_blocks_the_window(panel: PlanPanel, desk_state: DeskState, qtbot: QtBot, watchdog: Watchdog) -> None:
    watchdog.start_over()
    panel.strip.choose(number_of(panel.strip, "play", speed=Fraction(1, 2)))
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        qtbot.keyClick(panel.strip, Qt.Key.Key_Down)
    for step in range(20):
        panel.strip.zoom(0.8 if step < 10 else 1.25)
        panel.go_to(Fraction(70 + step))
        qtbot.wait(5)


def test_closing_the_project_empties_it(panel: PlanPanel, desk_state: DeskState) -> None:
    desk_state.close_project()
    assert panel.strip.contents is None
    assert panel.empty.isVisible()
