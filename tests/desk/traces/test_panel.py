"""The panel by mouse and keys, beside the state: seeks, zoom, pan, choices; and that a move paints only strips."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtGui import QImage, QWheelEvent
from PyQt6.QtWidgets import QApplication

from syncview.desk import theme
from syncview.desk.state import DeskState
from syncview.desk.traces.lines import trace_set
from syncview.desk.traces.panel import NOTHING, TracesPanel
from syncview.desk.traces.plot_data import HEAD_PX, Subject
from tests.desk.traces.test_lines import without

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot


@pytest.fixture
def panel(desk_state: DeskState, qtbot: QtBot) -> TracesPanel:
    made = TracesPanel(desk_state)
    qtbot.addWidget(made)
    made.resize(1000, 560)
    made.show()
    qtbot.waitUntil(lambda: made.plot.subject is not None, timeout=10_000)
    QApplication.processEvents()
    return made


def at(panel: TracesPanel, share: float, y: int = 200) -> QPoint:
    frame = panel.plot.frame
    assert frame is not None
    return QPoint(round(frame.left + share * (frame.right - frame.left)), y)


def wheel(panel: TracesPanel, where: QPoint, notches: int, *, shift: bool = False) -> None:
    held = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
    event = QWheelEvent(QPointF(where), QPointF(where), QPoint(), QPoint(0, 120 * notches), Qt.MouseButton.NoButton,
                        held, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
    QApplication.sendEvent(panel.plot, event)


def test_a_click_seeks_the_place(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    where = at(panel, 0.5)
    qtbot.mouseClick(panel.plot, Qt.MouseButton.LeftButton, pos=where)
    frame = panel.plot.frame
    assert frame is not None
    assert desk_state.session is not None
    begin_m = desk_state.session.track.lap_begin_m(desk_state.session.lap())
    expected_m = frame.x(where.x()) - begin_m
    assert desk_state.lap_distance_m(desk_state.playhead_s) == pytest.approx(expected_m, abs=1e-3)
    assert desk_state.moved_by is panel


def test_a_drag_seeks_all_the_way_and_stays_in_the_lap(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    seen: list[Fraction] = []
    desk_state.playheadMoved.connect(seen.append)
    qtbot.mousePress(panel.plot, Qt.MouseButton.LeftButton, pos=at(panel, 0.2))
    for share in (0.4, 0.6, 3.0):
        qtbot.mouseMove(panel.plot, at(panel, share))
    qtbot.mouseRelease(panel.plot, Qt.MouseButton.LeftButton, pos=at(panel, 3.0))
    assert seen == sorted(seen)
    assert len(seen) == 4
    assert desk_state.film is not None
    end_s = desk_state.film.clock.to_media_s(desk_state.film.lap.end_s)
    assert float(desk_state.playhead_s) == pytest.approx(end_s, abs=1e-6)


def test_a_move_paints_no_traces_and_leaves_no_trail(panel: TracesPanel, desk_state: DeskState) -> None:
    """After many moves the window looks as if it were painted anew, and the traces were never painted again."""
    painted = panel.plot.paints
    for second in range(70, 120, 3):
        desk_state.move_playhead(Fraction(second))
        QApplication.processEvents()
    assert panel.plot.paints == painted
    by_strips = panel.plot.grab().toImage()
    panel.plot._repaint_all()
    assert panel.plot.grab().toImage() == by_strips


def test_the_strips_cover_all_that_changes(panel: TracesPanel, desk_state: DeskState) -> None:
    """Painted by Qt's own partial updates into the window, pixel by pixel as a whole picture of the same moment."""
    window, moments = panel.plot, [Fraction(second) for second in (75, 90, 91, 118)]
    for media_s in moments:
        desk_state.move_playhead(media_s)
        QApplication.processEvents()
    screen = window.screen()
    assert screen is not None
    shown = screen.grabWindow(panel.winId()).toImage()
    if shown.isNull():
        pytest.skip("this platform shows no window to look at")
    part = shown.copy(window.x(), window.y(), window.width(), window.height())
    whole = window.grab().toImage().convertToFormat(part.format())
    assert differing(part, whole) == 0


def differing(one: QImage, other: QImage) -> int:
    assert one.size() == other.size()
    return sum(
        one.pixel(x, y) != other.pixel(x, y) for y in range(0, one.height(), 3) for x in range(0, one.width(), 2)
    )


def test_the_wheel_zooms_about_the_pointer_and_pans_with_shift(panel: TracesPanel) -> None:
    where, frame = at(panel, 0.25), panel.plot.frame
    assert frame is not None
    below = frame.x(where.x())
    wheel(panel, where, 4)
    frame = panel.plot.frame
    assert frame is not None
    assert frame.x(where.x()) == pytest.approx(below)
    assert frame.view.length == pytest.approx((frame.view.most - frame.view.least) * 0.85**4)
    begin = frame.view.begin
    wheel(panel, where, -1, shift=True)
    assert panel.plot.view is not None
    assert panel.plot.view.begin > begin
    wheel(panel, where, -40)
    assert panel.plot.view.is_whole


def test_keys(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    plot = panel.plot

    def press(key: Qt.Key, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        qtbot.keyClick(plot, key, held)

    desk_state.move_playhead(Fraction(90))
    press(Qt.Key.Key_Plus)
    assert plot.view is not None
    assert plot.view.length == pytest.approx(0.7 * (plot.view.most - plot.view.least))
    begin = plot.view.begin
    press(Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert plot.view.begin > begin
    press(Qt.Key.Key_0)
    assert plot.view.is_whole
    press(Qt.Key.Key_PageDown)
    assert plot.subject is not None
    assert plot.subject.marks.corner_at((plot.view.begin + plot.view.end) / 2) is not None or plot.view.length < 400
    first = plot.view
    press(Qt.Key.Key_PageDown)
    assert plot.view.begin > first.begin
    press(Qt.Key.Key_PageUp)
    assert plot.view == first
    press(Qt.Key.Key_Home)
    assert desk_state.film is not None
    start_s = desk_state.film.clock.to_media_s(desk_state.film.lap.start_s)
    assert float(desk_state.playhead_s) == pytest.approx(start_s, abs=1e-6)
    press(Qt.Key.Key_Minus)
    press(Qt.Key.Key_End)
    assert float(desk_state.playhead_s) > start_s + 50


def test_shift_and_drag_zooms_to_the_stretch(panel: TracesPanel, qtbot: QtBot) -> None:
    plot, frame = panel.plot, panel.plot.frame
    assert frame is not None
    begin, end = frame.x(at(panel, 0.3).x()), frame.x(at(panel, 0.5).x())
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.mousePress(plot, Qt.MouseButton.LeftButton, shift, pos=at(panel, 0.3))
    qtbot.mouseMove(plot, at(panel, 0.5))
    qtbot.mouseRelease(plot, Qt.MouseButton.LeftButton, shift, pos=at(panel, 0.5))
    assert plot.view is not None
    assert [plot.view.begin, plot.view.end] == pytest.approx([begin, end])


def test_the_scale_is_dragged(panel: TracesPanel, qtbot: QtBot) -> None:
    plot = panel.plot
    plot.zoom(0.2)
    assert plot.view is not None
    before, y = plot.view, plot.height() - 5
    qtbot.mousePress(plot, Qt.MouseButton.LeftButton, pos=at(panel, 0.5, y))
    qtbot.mouseMove(plot, at(panel, 0.25, y))
    qtbot.mouseRelease(plot, Qt.MouseButton.LeftButton, pos=at(panel, 0.25, y))
    assert plot.view.begin == pytest.approx(before.begin + 0.25 * before.length, rel=1e-2)


def test_a_double_click_zooms_to_a_corner_and_out(panel: TracesPanel, qtbot: QtBot) -> None:
    plot, frame = panel.plot, panel.plot.frame
    assert frame is not None
    mark = frame.subject.marks.corners_between(frame.view.begin, frame.view.end)[2]
    where = QPoint(round(frame.px(mark.apex)), HEAD_PX + 5)
    qtbot.mouseDClick(plot, Qt.MouseButton.LeftButton, pos=where)
    assert plot.view is not None
    assert plot.view.begin < mark.begin < mark.end < plot.view.end
    assert not plot.view.is_whole


def test_axis_scope_and_reference(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    plot = panel.plot
    desk_state.move_playhead(Fraction(90))
    assert plot.readout is not None
    values = plot.readout.own
    panel.by_time.click()
    assert plot.subject is not None
    assert plot.subject.axis == "time"
    assert plot.readout.own == values
    panel.all_laps.click()
    assert plot.subject.lap is None
    assert plot.view is not None
    assert plot.view.length > 150
    panel.one_lap.click()
    assert plot.subject.lap == desk_state.lap
    panel.references.setCurrentIndex(panel.references.findData(NOTHING))
    panel.references.activated.emit(panel.references.currentIndex())
    qtbot.waitUntil(lambda: plot.subject is not None and plot.subject.traces.reference is None)
    assert plot.readout.own["gap"] is None
    assert plot.readout.reference == {}


def test_units(panel: TracesPanel, desk_state: DeskState) -> None:
    desk_state.set_units("imperial")
    assert panel.plot.subject is not None
    assert panel.plot.subject.units == "imperial"


def test_another_lap(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    desk_state.choose_lap(1)
    qtbot.waitUntil(lambda: panel.plot.subject is not None and panel.plot.subject.lap == desk_state.lap)
    assert desk_state.lap is not None
    assert desk_state.lap.number == 1
    assert panel.references.findData(1) < 0


def test_the_view_turns_the_page_when_the_film_runs_out_of_it(panel: TracesPanel, desk_state: DeskState) -> None:
    desk_state.move_playhead(Fraction(70))
    panel.plot.zoom(0.1)
    assert panel.plot.view is not None
    before = panel.plot.view
    desk_state.move_playhead(Fraction(95), by=desk_state)
    x = panel.plot.playhead_x()
    assert x is not None
    assert panel.plot.view.begin < x < panel.plot.view.end
    assert panel.plot.view.begin > before.begin


def test_without_a_clock_a_click_says_what_to_do(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    told: list[tuple[str, str, str]] = []
    desk_state.faultTold.connect(lambda *words: told.append(words))
    assert desk_state.project is not None
    desk_state.edit("no clock", replace(desk_state.project, clock=None))
    before = desk_state.playhead_s
    qtbot.mouseClick(panel.plot, Qt.MouseButton.LeftButton, pos=at(panel, 0.7))
    assert desk_state.playhead_s == before
    assert told[-1][1] == "picture and data are not on one clock yet"
    assert panel.plot.readout is None


def test_a_closed_project_leaves_a_sentence(panel: TracesPanel, desk_state: DeskState) -> None:
    desk_state.close_project()
    assert panel.plot.subject is None
    panel.plot.grab()
    assert "log" in panel.plot.accessibleDescription()


def test_what_is_said_to_screen_readers(panel: TracesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    desk_state.move_playhead(Fraction(90))
    qtbot.waitUntil(lambda: "speed" in panel.plot.accessibleDescription(), timeout=3000)
    assert "lap 2" in panel.plot.accessibleDescription()
    for button in (panel.by_distance, panel.by_time, panel.one_lap, panel.all_laps, panel.zoom_in, panel.zoom_out):
        assert button.accessibleName()
        assert button.toolTip()
    assert panel.references.accessibleName()


def test_hints(panel: TracesPanel) -> None:
    frame = panel.plot.frame
    assert frame is not None
    brake = next(place for place in frame.rows() if place.row.key == "brake")
    assert "column" in panel.plot.hint_at(QPointF(20, brake.top + 3))
    mark = frame.subject.marks.corners_between(frame.view.begin, frame.view.end)[0]
    assert f"corner {mark.corner.number}" in panel.plot.hint_at(QPointF(frame.px(mark.apex), HEAD_PX + 4))


def test_missing_channels_and_little_room(panel: TracesPanel, desk_state: DeskState) -> None:
    """What is missing is said; every size is painted without a complaint of Qt."""
    assert desk_state.session is not None
    traces = trace_set(without(desk_state.session, "brake", "gear"), None)
    panel.plot.show_subject(Subject.of(traces, "distance", desk_state.lap, "metric"))
    for size in ((1000, 560), (330, 190), (2400, 190), (330, 1400)):
        panel.plot.resize(*size)
        panel.plot.grab()
    frame = panel.plot.frame
    assert frame is not None
    hints = [panel.plot.hint_at(QPointF(10, place.top + 2)) for place in frame.rows() if place.row.number is None]
    assert hints == ["gear: not in the log", "brake: not in the log", "gap: no lap to compare with"]


def test_themes_differ(panel: TracesPanel, qapp: QApplication) -> None:
    theme.apply(qapp, "dark")
    QApplication.processEvents()
    dark = panel.plot.grab().toImage()
    theme.apply(qapp, "light")
    QApplication.processEvents()
    light = panel.plot.grab().toImage()
    theme.apply(qapp, "dark")
    assert dark.pixelColor(3, 100).lightness() < 60
    assert light.pixelColor(3, 100).lightness() > 200
