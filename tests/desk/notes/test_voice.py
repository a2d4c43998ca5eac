"""The voice of a note in the panel: recorded, replayed, trimmed, taken off."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtWidgets import QApplication, QMessageBox

from syncview.desk.notes.level_meter import LevelMeter
from syncview.desk.notes.sound_blocks import Level
from syncview.desk.notes.sound_devices import DeviceError, Microphone
from syncview.desk.notes.voice_strip import columns_of
from syncview.media_file import locate
from syncview.notes.note import Voice, find
from tests.desk.notes.fakes import RATE_HZ, FakeLoudspeaker, FakeMicrophone, speech
from tests.desk.notes.test_panel import notes, put

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.notes.panel import NotesPanel
    from syncview.desk.state import DeskState


@pytest.fixture
def spoken(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone) -> NotesPanel:
    """A panel with one note that has just been spoken for two seconds."""
    put(desk_state, (250.0, "Brake at the board"))
    panel.select("n1")
    record(panel, qtbot, microphone, 2.0)
    return panel


def record(panel: NotesPanel, qtbot: QtBot, microphone: FakeMicrophone, seconds: float) -> None:
    panel.voice.record.click()
    assert microphone.on
    microphone.hear(speech(seconds))
    with qtbot.waitSignal(panel.recorder.taken, timeout=20_000):
        panel.voice.record.click()
    assert not microphone.on
    qtbot.waitUntil(lambda: panel.voice.cut.isVisible(), timeout=20_000)


def voice_of(state: DeskState, key: str = "n1") -> Voice:
    voice = find(notes(state), key).voice
    assert voice is not None
    return voice


def file_of(state: DeskState, key: str = "n1") -> Path:
    assert state.path is not None
    return locate(voice_of(state, key).file, state.path.parent, what="voice")


def test_recording_shows_its_level_and_gives_the_note_a_voice(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone
) -> None:
    put(desk_state, (250.0, "Brake at the board"))
    panel.select("n1")
    desk_state.set_playing(True)
    panel.voice.record.click()
    assert not desk_state.playing, "the film's sound must not be in the voice"
    assert panel.voice.meter.isVisible()
    assert panel.voice.meter.words == "nothing is heard yet"
    microphone.hear(speech(1.0, silence_s=0.0))
    assert panel.voice.meter.words in ("good", "loud: a little further away")
    assert "1.0 s" in panel.voice.record.text()
    with qtbot.waitSignal(panel.recorder.taken, timeout=20_000):
        panel.voice.record.click()
    assert desk_state.path is not None
    file = file_of(desk_state)
    assert file == desk_state.path.parent / "mine voices" / "n1.wav"
    assert voice_of(desk_state).file.path == "mine voices/n1.wav", "relative, so that the folder can be moved"
    with qtbot.waitSignal(desk_state.lessonReady, timeout=30_000):
        pass
    assert panel.editor.said.text().startswith("your voice 1.")
    desk_state.history.undo()
    assert find(notes(desk_state), "n1").voice is None
    assert file.exists(), "undo takes the voice off, not the file"


def test_recording_anew_keeps_the_earlier_file(
    spoken: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone
) -> None:
    first = file_of(desk_state)
    record(spoken, qtbot, microphone, 1.0)
    assert file_of(desk_state).name == "n1-2.wav"
    assert first.exists()
    desk_state.history.undo()
    assert file_of(desk_state) == first


def test_replay_is_what_the_lesson_plays(
    spoken: NotesPanel, qtbot: QtBot, loudspeaker: FakeLoudspeaker
) -> None:  # fmt: skip
    with qtbot.waitSignal(spoken.voice.heard, timeout=20_000):
        spoken.voice.replay.click()
    (samples,) = loudspeaker.played
    # 2 s of speech, with 50 ms of room before and 150 ms after it; the half seconds of silence are left out.
    assert samples.size / RATE_HZ == pytest.approx(2.2, abs=0.06)
    assert "Stop" in spoken.voice.replay.text()
    spoken.voice.replay.click()
    assert "Replay" in spoken.voice.replay.text()


def test_without_a_loudspeaker_it_says_so(
    spoken: NotesPanel, qtbot: QtBot, loudspeaker: FakeLoudspeaker
) -> None:  # fmt: skip
    loudspeaker.fault = DeviceError("there is nothing to play sound with", "Plug in headphones.")
    spoken.voice.replay.click()
    qtbot.waitUntil(lambda: "Plug in headphones" in spoken.voice.told.text(), timeout=20_000)


def test_trimming_by_numbers_and_by_dragging(spoken: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    cut = spoken.voice.cut
    assert cut.end.value() == pytest.approx(3.0, abs=0.01)
    cut.begin.setValue(1.0)
    assert (voice_of(desk_state).begin_s, voice_of(desk_state).end_s) == (1.0, None)
    strip = cut.strip
    at = [QPoint(round(1 + s / 3.0 * (strip.width() - 2)), 20) for s in (3.0, 2.0)]
    qtbot.mousePress(strip, Qt.MouseButton.LeftButton, pos=at[0])
    qtbot.mouseMove(strip, at[1])
    qtbot.mouseRelease(strip, Qt.MouseButton.LeftButton, pos=at[1])
    end_s = voice_of(desk_state).end_s
    assert end_s == pytest.approx(2.0, abs=0.02)
    assert "heard from 1.00 to 2.0" in spoken.voice.told.text()
    cut.speech.click()
    assert voice_of(desk_state).begin_s == pytest.approx(0.45, abs=0.02)
    cut.whole.click()
    assert (voice_of(desk_state).begin_s, voice_of(desk_state).end_s) == (None, None)


def test_a_part_in_which_nobody_speaks_is_refused(spoken: NotesPanel, desk_state: DeskState) -> None:
    spoken.voice.cut.cut.emit(0.0, 0.3)
    assert voice_of(desk_state).end_s is None
    assert "nobody speaks" in spoken.voice.told.text().lower()


def test_taking_the_voice_off_leaves_the_file(spoken: NotesPanel, desk_state: DeskState) -> None:
    file = file_of(desk_state)
    assert spoken.voice.take_off is not None
    spoken.voice.take_off.trigger()
    assert find(notes(desk_state), "n1").voice is None
    assert file.exists()
    assert not spoken.voice.cut.isVisible()


@pytest.mark.parametrize("answer", [QMessageBox.StandardButton.Yes, QMessageBox.StandardButton.No])
def test_the_file_is_deleted_only_when_the_coach_says_so(
    spoken: NotesPanel, desk_state: DeskState, monkeypatch: pytest.MonkeyPatch, answer: QMessageBox.StandardButton
) -> None:
    file = file_of(desk_state)
    asked: list[str] = []

    def question(_parent: object, _title: str, text: str) -> QMessageBox.StandardButton:
        asked.append(text)
        return answer

    monkeypatch.setattr(QMessageBox, "question", question)
    assert spoken.voice.delete_file is not None
    spoken.voice.delete_file.trigger()
    assert "Undo does not bring the file back" in asked[0]
    gone = answer == QMessageBox.StandardButton.Yes
    assert file.exists() is not gone
    assert (find(notes(desk_state), "n1").voice is None) is gone


def test_a_file_of_two_notes_is_not_deleted(spoken: NotesPanel, desk_state: DeskState) -> None:
    put(desk_state, (500.0, "Another"))
    assert desk_state.project is not None
    shared = tuple(replace(note, voice=voice_of(desk_state)) for note in notes(desk_state))
    desk_state.edit("share", replace(desk_state.project, notes=shared))
    assert spoken.voice.delete_file is not None
    spoken.voice.delete_file.trigger()
    assert file_of(desk_state).exists()
    assert "another note" in spoken.voice.told.text().lower()


def test_a_file_that_is_gone_is_told_and_may_come_back(spoken: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    file = file_of(desk_state)
    away = file.rename(file.parent.parent.parent / "away.wav")
    spoken.voice.forget()
    desk_state.select_note(None)
    desk_state.select_note("n1")
    qtbot.waitUntil(lambda: "not there any more" in spoken.voice.told.text(), timeout=20_000)
    assert not spoken.voice.replay.isEnabled()
    away.rename(file)
    desk_state.select_note(None)
    desk_state.select_note("n1")
    qtbot.waitUntil(lambda: spoken.voice.cut.isVisible(), timeout=20_000)
    assert "heard from" in spoken.voice.told.text()


def test_a_sound_file_can_be_used(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, tmp_path: Path) -> None:
    import wave

    put(desk_state, (250.0, "Brake at the board"))
    panel.select("n1")
    path = tmp_path / "phone.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(speech(1.0).tobytes())
    panel.voice.attach(path)
    qtbot.waitUntil(lambda: find(notes(desk_state), "n1").voice is not None, timeout=20_000)
    assert file_of(desk_state) == path
    empty = tmp_path / "empty.wav"
    empty.write_bytes(b"no sound at all")
    panel.voice.attach(empty)
    qtbot.waitUntil(lambda: "empty.wav" in panel.voice.told.text(), timeout=20_000)
    assert file_of(desk_state) == path


def test_no_microphone_is_told_with_the_remedy(
    panel: NotesPanel, desk_state: DeskState, microphone: FakeMicrophone, tmp_path: Path
) -> None:
    microphone.fault = DeviceError("there is no microphone", "Plug one in.")
    put(desk_state, (250.0, "A"))
    panel.select("n1")
    panel.voice.record.click()
    assert panel.voice.told.text() == "There is no microphone. Plug one in."
    assert panel.recorder.key is None
    assert not list(tmp_path.glob("**/*.wav"))


def test_silence_gives_no_voice(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone, tmp_path: Path
) -> None:
    put(desk_state, (250.0, "A"))
    panel.select("n1")
    panel.voice.record.click()
    microphone.hear(np.zeros(RATE_HZ, dtype=np.int16))
    with qtbot.waitSignal(panel.recorder.failed, timeout=20_000):
        panel.voice.record.click()
    assert "silent" in panel.voice.told.text()
    assert find(notes(desk_state), "n1").voice is None
    assert not list(tmp_path.glob("**/*.wav"))


def test_a_microphone_that_goes_away_leaves_what_was_said(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone
) -> None:
    put(desk_state, (250.0, "A"))
    panel.select("n1")
    panel.voice.record.click()
    microphone.hear(speech(1.0))
    with qtbot.waitSignals([panel.recorder.taken, desk_state.faultTold], timeout=20_000):
        microphone.failed.emit(DeviceError("the microphone stopped giving sound", "Plug it in again."))
    assert file_of(desk_state).exists()


def test_going_to_another_note_ends_the_recording(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone
) -> None:
    put(desk_state, (250.0, "A"), (500.0, "B"))
    panel.select("n1")
    panel.voice.record.click()
    microphone.hear(speech(1.0))
    with qtbot.waitSignal(panel.recorder.taken, timeout=20_000) as taken:
        panel.select("n2")
    assert taken.args == ["n1"]
    assert find(notes(desk_state), "n2").voice is None


def test_closing_the_project_keeps_what_was_said_as_a_file(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot, microphone: FakeMicrophone
) -> None:
    put(desk_state, (250.0, "A"))
    panel.select("n1")
    assert desk_state.path is not None
    folder = desk_state.path.parent / "mine voices"
    panel.voice.record.click()
    microphone.hear(speech(1.0))
    desk_state.close_project()
    assert not microphone.on
    qtbot.waitUntil(lambda: [path.name for path in folder.iterdir()] == ["n1.wav"], timeout=20_000)


def test_closing_the_window_keeps_what_was_said_as_a_file(
    panel: NotesPanel, desk_state: DeskState, microphone: FakeMicrophone
) -> None:
    put(desk_state, (250.0, "A"))
    panel.select("n1")
    assert desk_state.path is not None
    panel.voice.record.click()
    microphone.hear(speech(1.0))
    panel.recorder.close()
    assert not microphone.on
    assert [path.name for path in (desk_state.path.parent / "mine voices").iterdir()] == ["n1.wav"]


def test_the_meter_says_what_to_do(qtbot: QtBot) -> None:
    meter = LevelMeter()
    qtbot.addWidget(meter)
    for peak_db, words in ((-60.0, "nothing"), (-30.0, "soft"), (-10.0, "good"), (-1.0, "loud")):
        meter.show_level(None)
        meter.show_level(Level(peak_db - 10, peak_db, clipped=False))
        assert meter.words.startswith(words)
    meter.show_level(Level(-3.0, 0.0, clipped=True))
    meter.show_level(Level(-20.0, -10.0, clipped=False))
    assert meter.words.startswith("too loud"), "it stays told"


def test_columns_show_the_loudest_of_what_they_stand_for() -> None:
    levels = np.full(1000, -60.0, dtype=np.float32)
    levels[503] = 0.0
    columns = columns_of(levels, 100)
    assert columns.argmax() == 50
    assert columns.max() == 1.0
    assert columns_of(levels[:3], 10).shape == (10,)
    assert columns_of(levels[:0], 4).tolist() == [0, 0, 0, 0]


def test_the_systems_microphone_starts_or_says_why_not(qapp: QApplication) -> None:
    """Here there is usually none; where there is one, it starts and stops."""
    assert qapp is not None
    microphone = Microphone()
    try:
        microphone.start()
    except DeviceError as error:
        assert error.remedy  # noqa: PT017 (both ends are right)
    else:
        microphone.stop()
