"""Pictures follow the sound card: here one of the tests' own, whose quartz is far too slow."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from syncview.desk.picture import sound_out
from syncview.desk.picture.played_sound import SoundForm

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.picture.panel import PicturePanel
    from syncview.desk.state import DeskState

MakePanel = Callable[["DeskState"], "PicturePanel"]
FORM = SoundForm(rate_hz=48_000, is_float=False)
CARD_RATE = 0.7


class _SlowCard:
    """Takes what Qt's sink takes, and plays it at `CARD_RATE`, after a while of silence as real ones do."""

    made: list[_SlowCard]

    def __init__(self, *_device_format_parent: object) -> None:
        self._buffer_bytes = 0
        self._begin_s = 0.0
        self.written = 0
        self.is_stopped = False
        _SlowCard.made.append(self)

    def setBufferSize(self, count: int) -> None:  # noqa: N802
        self._buffer_bytes = count

    def bufferSize(self) -> int:  # noqa: N802
        return self._buffer_bytes

    def start(self) -> _SlowCard:
        self._begin_s = time.monotonic() + 0.1
        return self

    def bytesFree(self) -> int:  # noqa: N802
        played_s = max(0.0, time.monotonic() - self._begin_s) * CARD_RATE
        played = min(round(played_s * FORM.rate_hz) * FORM.frame_bytes, self.written)
        return self._buffer_bytes - (self.written - played)

    def write(self, block: bytes) -> int:
        taken = min(len(block), self.bytesFree())
        self.written += taken
        return taken

    def reset(self) -> None:
        self.is_stopped = True

    def stop(self) -> None:
        self.is_stopped = True

    def deleteLater(self) -> None:  # noqa: N802
        pass


@pytest.fixture
def slow_card(monkeypatch: pytest.MonkeyPatch) -> type[_SlowCard]:
    _SlowCard.made = []

    def find(self: sound_out.SoundOut) -> None:
        self._device, self.form = object(), FORM  # type: ignore[assignment]
        self._is_searched, self._is_searching = True, False

    monkeypatch.setattr(sound_out.SoundOut, "_find", find)
    monkeypatch.setattr("PyQt6.QtMultimedia.QAudioSink", _SlowCard)
    return _SlowCard


def test_pictures_keep_to_what_is_heard(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, slow_card: type[_SlowCard]
) -> None:
    panel = make_panel(coded_state)
    panel.player.toggle()
    qtbot.waitUntil(lambda: panel.player.is_running, timeout=5000)
    begin_s, begin_media_s = time.monotonic(), float(coded_state.playhead_s)
    qtbot.wait(1500)
    rate = (float(coded_state.playhead_s) - begin_media_s) / (time.monotonic() - begin_s)
    assert rate == pytest.approx(CARD_RATE, rel=0.1)
    panel.player.toggle()
    assert slow_card.made[0].is_stopped


def test_without_sound_wanted_no_card_is_used(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, slow_card: type[_SlowCard]
) -> None:
    panel = make_panel(coded_state)
    qtbot.keyClick(panel.view, "m")
    panel.player.toggle()
    qtbot.waitUntil(lambda: panel.player.is_running, timeout=5000)
    assert not slow_card.made


def test_another_speed_begins_the_sound_anew_from_where_it_is(
    qtbot: QtBot, make_panel: MakePanel, coded_state: DeskState, slow_card: type[_SlowCard]
) -> None:
    panel = make_panel(coded_state)
    panel.player.toggle()
    qtbot.waitUntil(lambda: coded_state.playhead_s > 0.3, timeout=5000)
    here_s = coded_state.playhead_s
    panel.player.change_speed(-1)
    qtbot.waitUntil(lambda: panel.player.is_running, timeout=5000)
    assert [card.is_stopped for card in slow_card.made] == [True, False]
    assert coded_state.playhead_s >= here_s
