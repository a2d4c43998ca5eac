"""The panel over the open sample, with a microphone and a loudspeaker of the test's own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from tests.desk.notes.fakes import FakeLoudspeaker, FakeMicrophone

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.notes.panel import NotesPanel
    from syncview.desk.state import DeskState


@pytest.fixture
def microphone() -> FakeMicrophone:
    return FakeMicrophone()


@pytest.fixture
def loudspeaker() -> FakeLoudspeaker:
    return FakeLoudspeaker()


@pytest.fixture
def panel(
    desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone, loudspeaker: FakeLoudspeaker
) -> Iterator[NotesPanel]:
    from syncview.desk.notes.panel import NotesPanel

    panel = NotesPanel(desk_state, source=microphone, sink=loudspeaker)
    qtbot.addWidget(panel)
    panel.resize(380, 700)
    panel.show()
    qtbot.waitExposed(panel)
    panel.activateWindow()
    yield panel
    panel.recorder.close()
