"""The map by mouse and keys."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtWidgets import QApplication

from syncview.desk.map.panel import MapPanel
from syncview.desk.state import DeskState

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot


@pytest.fixture
def panel(desk_state: DeskState, qtbot: QtBot) -> MapPanel:
    made = MapPanel(desk_state)
    qtbot.addWidget(made)
    made.resize(420, 380)
    made.show()
    qtbot.waitUntil(lambda: made.plot.course is not None, timeout=10_000)
    QApplication.processEvents()
    return made


def place(panel: MapPanel, lap_m: float) -> QPoint:
    assert panel.plot.fitted is not None
    x, y = panel.plot.fitted.at(lap_m)
    return QPoint(round(x), round(y))


@pytest.mark.parametrize("lap_m", [100.0, 640.0, 1500.0])
def test_a_click_seeks_the_nearest_place(panel: MapPanel, desk_state: DeskState, qtbot: QtBot, lap_m: float) -> None:
    qtbot.mouseClick(panel.plot, Qt.MouseButton.LeftButton, pos=place(panel, lap_m))
    found_m = desk_state.lap_distance_m(desk_state.playhead_s)
    assert found_m == pytest.approx(lap_m, abs=6)  # a pixel is some 3 m
    assert panel.plot.dot_m == pytest.approx(found_m, abs=1e-3)


def test_a_click_far_off_seeks_nothing(panel: MapPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    before = desk_state.playhead_s
    qtbot.mouseClick(panel.plot, Qt.MouseButton.LeftButton, pos=QPoint(3, 330))
    assert desk_state.playhead_s == before


def test_the_dot_follows_in_every_lap_and_paints_no_map(panel: MapPanel, desk_state: DeskState) -> None:
    painted = panel.plot.paints
    assert desk_state.session is not None
    assert desk_state.film is not None
    for media_s in (20, 80, 150):
        desk_state.move_playhead(Fraction(media_s))
        QApplication.processEvents()
        log_s = desk_state.film.clock.to_log_s(float(media_s))
        lap = next(lap for lap in desk_state.session.track.timed if lap.start_s <= log_s < lap.end_s)
        expected = desk_state.session.track.traces[lap.number].distance_m
        times = desk_state.session.track.traces[lap.number].log_s
        import numpy as np

        assert panel.plot.dot_m == pytest.approx(np.interp(log_s, times, expected), abs=1e-3)
    assert panel.plot.paints == painted
    moved = panel.plot.grab().toImage()
    panel.plot._repaint_all()
    assert panel.plot.grab().toImage() == moved


def test_keys_go_corner_by_corner(panel: MapPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    qtbot.keyClick(panel.plot, Qt.Key.Key_Home)
    assert desk_state.lap_distance_m(desk_state.playhead_s) == pytest.approx(0, abs=0.01)
    qtbot.keyClick(panel.plot, Qt.Key.Key_PageDown)
    assert panel.plot.course is not None
    first = panel.plot.course.corners[0]
    assert desk_state.lap_distance_m(desk_state.playhead_s) == pytest.approx(first.brake_m, abs=0.1)
    qtbot.keyClick(panel.plot, Qt.Key.Key_Up)
    qtbot.keyClick(panel.plot, Qt.Key.Key_PageUp)
    assert desk_state.lap_distance_m(desk_state.playhead_s) == pytest.approx(first.brake_m, abs=0.1)
    qtbot.keyClick(panel.plot, Qt.Key.Key_End)
    assert panel.plot.dot_m is not None


def test_hints_and_names(panel: MapPanel) -> None:
    assert "m, " in panel.plot.hint_at(place(panel, 640.0))
    assert panel.plot.hint_at(QPoint(20, panel.plot.height() - 5)) == "Line by position."
    assert panel.plot.accessibleName()


def test_another_lap_and_none(panel: MapPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    desk_state.choose_lap(1)
    qtbot.waitUntil(lambda: panel.plot.course is not None and panel.plot.course.lap.number == 1)
    desk_state.set_units("imperial")
    panel.plot.grab()
    desk_state.close_project()
    assert panel.plot.course is None
    panel.plot.grab()
