"""Playing: at its speed, to the frame, round and round; a hand on the playhead comes first."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import Qt

from syncview.desk.picture.play_run import SPEEDS, Loop
from tests.desk.picture.conftest import FRAMES, number_shown

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.picture.panel import PicturePanel
    from syncview.desk.state import DeskState
    from syncview.media.recording import Recording

MakePanel = Callable[["DeskState"], "PicturePanel"]


def _played(qtbot: QtBot, panel: PicturePanel, seconds: float) -> tuple[list[int], float]:
    """Frames shown in order, and media seconds a second, between the first and the last picture."""
    seen: list[tuple[float, Fraction, int]] = []

    def note(picture: object) -> None:
        shown = panel.view.picture
        assert shown is picture
        assert shown is not None
        assert number_shown(shown) == shown.number
        seen.append((time.monotonic(), shown.media_s, shown.number))

    panel.player.pictured.connect(note)
    qtbot.waitUntil(lambda: len(seen) > 0, timeout=5000)
    qtbot.wait(round(seconds * 1000))
    panel.player.pictured.disconnect(note)
    rate = float(seen[-1][1] - seen[0][1]) / (seen[-1][0] - seen[0][0])
    return [number for _s, _media_s, number in seen], rate


@pytest.mark.parametrize("speed", [Fraction(1, 4), Fraction(1), Fraction(2)])
def test_it_plays_at_its_speed_by_the_clock_where_no_sound_card_is(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, speed: Fraction
) -> None:
    panel = make_panel(coded_state)
    panel.player.set_speed(speed)
    qtbot.keyClick(panel.view, Qt.Key.Key_Space)
    assert coded_state.playing
    numbers, rate = _played(qtbot, panel, 0.8)
    assert numbers == sorted(numbers)
    # A busy machine shows the last picture up to some frames late; two seconds of clip allow no tighter bound.
    assert rate == pytest.approx(float(speed), rel=0.15)
    qtbot.keyClick(panel.view, Qt.Key.Key_Space)
    assert not coded_state.playing
    qtbot.waitUntil(lambda: panel.is_exact, timeout=5000)
    assert number_shown(panel.view.picture) == panel.view.picture.number


def test_the_playhead_is_always_at_the_frame_that_is_shown(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    panel = make_panel(coded_state)
    off: list[bool] = []
    coded_state.playheadMoved.connect(lambda _media_s: off.append(panel.is_exact))
    panel.player.toggle()
    qtbot.waitUntil(lambda: len(off) > 20, timeout=5000)
    assert all(off)


def test_a_loop_comes_round_and_stays_inside(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    loop = Loop(coded.frames.media_s(30), coded.frames.media_s(45), "corner 1")
    panel.player.set_loop(loop)
    panel.player.toggle()
    numbers, _rate = _played(qtbot, panel, 1.2)
    assert min(numbers) >= 30
    assert max(numbers) < 45
    assert sum(after < before for before, after in pairwise(numbers)) >= 2


def test_at_the_end_it_stops_on_the_last_frame_and_plays_again_from_the_begin(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    coded_state.move_playhead(coded.frames.media_s(FRAMES - 10))
    panel.player.toggle()
    qtbot.waitUntil(lambda: not coded_state.playing, timeout=5000)
    qtbot.waitUntil(lambda: panel.is_exact and number_shown(panel.view.picture) == FRAMES - 1, timeout=5000)
    panel.player.toggle()
    qtbot.waitUntil(lambda: coded_state.playhead_s < 1, timeout=5000)


def test_a_hand_on_the_playhead_comes_first_and_playing_goes_on_from_there(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, coded: Recording
) -> None:
    panel = make_panel(coded_state)
    panel.player.toggle()
    qtbot.waitUntil(lambda: panel.player.is_running, timeout=5000)
    coded_state.move_playhead(coded.frames.media_s(150), by="traces")
    assert not panel.player.is_running
    assert coded_state.playing
    qtbot.waitUntil(
        lambda: panel.player.is_running and coded_state.playhead_s > coded.frames.media_s(150), timeout=5000
    )
    qtbot.keyClick(panel.view, Qt.Key.Key_Comma)
    assert not coded_state.playing  # stepping means standing


def test_keys_choose_the_speed(qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState) -> None:
    panel = make_panel(coded_state)
    for _press in range(9):
        qtbot.keyClick(panel.view, Qt.Key.Key_Q)
    assert panel.player.speed == SPEEDS[0] == panel.transport.speed.currentData()
    for _press in range(9):
        qtbot.keyClick(panel.view, Qt.Key.Key_W)
    assert panel.player.speed == SPEEDS[-1] == panel.transport.speed.currentData()
    qtbot.keyClick(panel.view, Qt.Key.Key_R)
    assert panel.player.speed == 1
    assert panel.transport.speed.currentText() == "1×"


def test_space_presses_the_button_that_has_the_keyboard(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState
) -> None:
    panel = make_panel(coded_state)
    panel.transport.gauges.setFocus()
    qtbot.keyClick(panel.transport.gauges, Qt.Key.Key_Space)
    assert not coded_state.playing
    assert not panel.view.with_gauges


def test_l_loops_the_corner_at_the_playhead(qtbot: QtBot, make_panel: MakePanel, desk_state: DeskState) -> None:
    panel = make_panel(desk_state)
    with qtbot.waitSignal(panel.gauges.changed, timeout=10_000):
        pass
    assert desk_state.film is not None
    corner = desk_state.film.session.corners[2]
    at_s = desk_state.media_s_at(corner.apex_m)
    assert at_s is not None
    desk_state.move_playhead(at_s)
    qtbot.keyClick(panel.view, Qt.Key.Key_L)
    loop = panel.player.loop
    assert loop is not None
    assert loop.corner == corner.number
    assert loop.begin_s < at_s < loop.end_s
    assert panel.transport.loop.currentData() == loop
    qtbot.keyClick(panel.view, Qt.Key.Key_L)
    assert panel.player.loop is None
    panel.transport.loop.setCurrentIndex(1)
    panel.transport.loop.activated.emit(1)
    assert panel.player.loop is not None
    assert panel.player.loop.corner == desk_state.film.session.corners[0].number
