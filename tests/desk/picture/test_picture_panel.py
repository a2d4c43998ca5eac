"""The picture at the playhead: always the frame asked for, by keys, hands and other panels."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtGui import QWheelEvent
from PyQt6.QtWidgets import QApplication

from syncview.desk import theme
from tests.desk.picture.conftest import FRAMES, number_shown

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.picture.panel import PicturePanel
    from syncview.desk.state import DeskState
    from syncview.media.recording import Recording

MakePanel = Callable[["DeskState"], "PicturePanel"]


def _frame(state: DeskState) -> int:
    assert state.recording is not None
    return state.recording.frames.index_at(state.playhead_s)


def _settle(qtbot: QtBot, panel: PicturePanel, number: int) -> None:
    """Wait until the picture under the playhead is there; it must show frame `number`."""
    qtbot.waitUntil(lambda: panel.is_exact and panel.view.picture is not None, timeout=5000)
    assert panel.view.picture is not None
    assert panel.view.picture.number == number
    assert number_shown(panel.view.picture) == number


def test_each_step_shows_exactly_the_frame_asked_for(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    panel = make_panel(coded_state)
    _settle(qtbot, panel, 0)
    for key, number in (
        (Qt.Key.Key_Period, 1), (Qt.Key.Key_Right, 2), (Qt.Key.Key_Up, 12), (Qt.Key.Key_Comma, 11),
        (Qt.Key.Key_Left, 10), (Qt.Key.Key_Down, 0), (Qt.Key.Key_Left, 0), (Qt.Key.Key_End, FRAMES - 1),
        (Qt.Key.Key_Right, FRAMES - 1), (Qt.Key.Key_Comma, FRAMES - 2), (Qt.Key.Key_Home, 0),
    ):  # fmt: skip
        qtbot.keyClick(panel.view, key)
        assert _frame(coded_state) == number
        _settle(qtbot, panel, number)


def test_the_newest_seek_wins_and_no_picture_is_called_exact_that_is_not(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    shown: list[tuple[int, int, int, bool]] = []
    panel.feed.pictured.connect(
        lambda picture: shown.append((picture.number, number_shown(picture), _frame(coded_state), panel.is_exact))
    )
    wanted = [(37 * n) % FRAMES for n in range(60)]
    for number in wanted:
        coded_state.move_playhead(coded.frames.media_s(number))
        qtbot.wait(3)
    _settle(qtbot, panel, wanted[-1])
    qtbot.wait(200)
    _settle(qtbot, panel, wanted[-1])
    assert shown
    for number, seen, asked, is_exact in shown:
        assert seen == number  # a picture is what it says it is
        assert is_exact == (number == asked)


def test_the_readout_tells_frame_and_exactness(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    coded_state.move_playhead(coded.frames.media_s(200))
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    assert panel.transport.readout.toolTip().startswith("# 200")
    assert "● exact" in panel.transport.readout.toolTip()


def test_a_drag_jogs_frame_by_frame_and_back(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    coded_state.move_playhead(coded.frames.media_s(100))
    view, begin = panel.view, QPoint(200, 150)
    qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=begin)
    for moved_px, number in ((40, 110), (41, 110), (-80, 80), (400, 200), (0, 100)):
        qtbot.mouseMove(view, begin + QPoint(moved_px, 0))
        QApplication.processEvents()
        assert _frame(coded_state) == number
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=begin)
    _settle(qtbot, panel, 100)


def test_the_wheel_steps(make_panel: MakePanel, coded_state: DeskState) -> None:
    panel = make_panel(coded_state)

    def turn(angle: int, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        at = QPointF(50, 50)
        event = QWheelEvent(at, at, QPoint(), QPoint(0, angle), Qt.MouseButton.NoButton, held,
                            Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
        QApplication.sendEvent(panel.view, event)

    turn(-120)
    turn(-60)
    turn(-60)
    assert _frame(coded_state) == 2
    turn(-120, Qt.KeyboardModifier.ControlModifier)
    assert _frame(coded_state) == 12
    turn(120)
    assert _frame(coded_state) == 11


def test_the_strip_seeks(qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording) -> None:
    panel = make_panel(coded_state)
    x = panel.strip.x_of(coded.frames.media_s(120) + Fraction(1, 300))
    qtbot.mouseClick(panel.strip, Qt.MouseButton.LeftButton, pos=QPoint(round(x), 10))
    assert abs(_frame(coded_state) - 120) <= 1  # a pixel is more than half a frame
    _settle(qtbot, panel, _frame(coded_state))


def test_a_fine_screen_gets_the_full_picture_when_the_playhead_rests(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    panel = make_panel(coded_state)
    panel.feed.show_width(320)
    assert not panel.feed._wants_full  # a picture of 320 columns has no larger one
    _settle(qtbot, panel, 0)


def test_full_screen_and_back_keeps_keys_and_picture(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    panel = make_panel(coded_state)
    qtbot.keyClick(panel.view, Qt.Key.Key_F11)
    full = panel.stage.window()
    assert full is not None
    assert full is not panel.window()
    assert full.isFullScreen()
    with qtbot.waitActive(full):
        pass
    qtbot.keyClick(panel.view, Qt.Key.Key_Period)
    _settle(qtbot, panel, 1)
    qtbot.keyClick(panel.view, Qt.Key.Key_Escape)
    assert panel.stage.window() is panel.window()
    assert panel.stage.isVisible()
    with qtbot.waitActive(panel):
        pass
    qtbot.keyClick(panel.view, Qt.Key.Key_Period)
    _settle(qtbot, panel, 2)


def test_in_full_screen_the_desks_own_keys_go_on_working(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    from syncview.desk.shortcuts import bind

    panel = make_panel(coded_state)
    heard: list[str] = []
    bind(panel, "N", "Drop a note", lambda: heard.append("n"))
    panel.toggle_full_screen()
    qtbot.keyClick(panel.view, Qt.Key.Key_N)
    assert heard == ["n"]


def test_a_recording_that_goes_leaves_no_picture(qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState) -> None:
    panel = make_panel(coded_state)
    _settle(qtbot, panel, 0)
    coded_state.recordingReady.emit(None)
    assert panel.view.picture is None
    assert panel.feed.source is None


def test_a_file_that_is_gone_is_told_with_a_remedy(qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState,
                                                   coded: Recording) -> None:  # fmt: skip
    from dataclasses import replace

    make_panel(coded_state)
    told: list[tuple[str, str, str]] = []
    coded_state.faultTold.connect(lambda *fault: told.append(fault))
    coded_state.take_recording(replace(coded, path=coded.path.with_name("gone.mp4")))
    qtbot.waitUntil(lambda: bool(told), timeout=5000)
    assert told[0][0] == "Picture"
    assert told[0][2]


def test_gauges_show_the_values_of_the_frame_shown_and_can_be_left_out(
    qtbot: QtBot, make_panel: MakePanel, desk_state: DeskState
) -> None:
    panel = make_panel(desk_state)
    with qtbot.waitSignal(panel.gauges.changed, timeout=10_000):
        pass
    assert desk_state.film is not None
    desk_state.move_playhead(desk_state.media_s_at(desk_state.film.session.corners[1].apex_m) or Fraction(0))
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    with_gauges = panel.view.grab().toImage()
    qtbot.keyClick(panel.view, Qt.Key.Key_G)
    without = panel.view.grab().toImage()
    assert with_gauges != without
    qtbot.keyClick(panel.view, Qt.Key.Key_G)
    assert panel.view.grab().toImage() == with_gauges
    words = panel.transport.readout.toolTip()
    assert "lap 0:" in words
    assert words.endswith(" m")
    desk_state.set_units("imperial")
    assert panel.transport.readout.toolTip().endswith(" yd")


def test_without_a_clock_there_are_no_gauges_and_it_is_said(
    qtbot: QtBot, make_panel: MakePanel, desk_state: DeskState
) -> None:
    from dataclasses import replace

    panel = make_panel(desk_state)
    with qtbot.waitSignal(panel.gauges.changed, timeout=10_000):
        pass
    assert not panel.gauges.trouble
    assert desk_state.project is not None
    desk_state.edit("forget the clock", replace(desk_state.project, clock=None))
    assert "not on one clock" in panel.gauges.trouble
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)


@pytest.mark.parametrize("name", ["dark", "light"])
def test_everything_has_a_name_and_a_tip_in_both_themes(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, name: theme.ThemeName, qapp: QApplication
) -> None:
    from PyQt6.QtWidgets import QAbstractButton, QComboBox

    panel = make_panel(coded_state)
    theme.apply(qapp, name)
    for widget in (*panel.findChildren(QAbstractButton), *panel.findChildren(QComboBox)):
        assert widget.accessibleName(), widget
        assert widget.toolTip(), widget
    _settle(qtbot, panel, 0)
