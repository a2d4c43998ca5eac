"""A bar-coded clip of unsteady rate in a `DeskState`, and panels that leave no thread behind."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
import pytest

from syncview.media.recording import Recording, open_recording
from tests.media_samples import BARS, SoundTrack, make_clip

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QApplication
    from pytestqt.qtbot import QtBot

    from syncview.desk.picture.panel import PicturePanel
    from syncview.desk.state import DeskState
    from syncview.media.scrub.pictures import ScrubPicture

FRAMES = 240


@pytest.fixture(scope="session")
def coded(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Frames that show their numbers; now and then one lasts twice as long; one key frame in two seconds."""
    steps = [1 + (number % 7 == 3) for number in range(FRAMES)]
    pts = [90 + 256 * sum(steps[:number]) for number in range(FRAMES)]
    path = tmp_path_factory.mktemp("coded") / "coded.mp4"
    sound = SoundTrack(beeps_s=(1.0,))
    clip = make_clip(path, pts=pts, rate=Fraction(60), key_step=120, sound=sound, size=(320, 180))
    return open_recording(clip)


def number_shown(picture: ScrubPicture | None) -> int:
    """The number that the picture itself shows."""
    assert picture is not None
    grey = picture.rgb.mean(axis=2)
    rows, columns = grey.shape
    bar_px = columns / BARS
    strip = grey[rows // 8 : rows // 3]
    bits = [strip[:, round((bit + 0.25) * bar_px) : round((bit + 0.75) * bar_px)].mean() > 125 for bit in range(BARS)]
    return int(np.sum([1 << bit for bit, is_set in enumerate(bits) if is_set]))


@pytest.fixture
def coded_state(qapp: QApplication, coded: Recording) -> Iterator[DeskState]:
    """The clip without a project."""
    from syncview.desk.state import DeskState

    assert qapp is not None
    state = DeskState()
    state.take_recording(coded)
    yield state
    assert state.close()


@pytest.fixture
def make_panel(qtbot: QtBot) -> Iterator[Callable[[DeskState], PicturePanel]]:
    """Makes shown panels; afterwards they are closed, and no thread of theirs is left."""
    from syncview.desk.picture.panel import PicturePanel

    before = set(threading.enumerate())
    made: list[PicturePanel] = []

    def make(state: DeskState) -> PicturePanel:
        panel = PicturePanel(state)
        qtbot.addWidget(panel)
        panel.resize(700, 520)
        panel.show()
        panel.activateWindow()
        with qtbot.waitActive(panel):  # keys are only heard by the window in front
            pass
        panel.view.setFocus()
        made.append(panel)
        return panel

    yield make
    for panel in made:
        panel.close()
    end_s = time.monotonic() + 5
    while (left := _left(before)) and time.monotonic() < end_s:
        qtbot.wait(20)
    assert not left, f"threads left: {left}"


def _left(before: set[threading.Thread]) -> list[str]:
    """Threads of the picture; those of the state's own work end with the state."""
    mine = ("scrub", "played sound", "sound card", "Dummy")
    return [one.name for one in threading.enumerate() if one not in before and one.name.startswith(mine)]
