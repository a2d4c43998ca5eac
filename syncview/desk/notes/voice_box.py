"""The voice of the note that is worked on: record, replay, trim, take off."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QMenu,
    QMessageBox,
    QToolButton,
    QVBoxLayout,
    QWidget,
)  # fmt: skip

from syncview.desk.notes import changes, words
from syncview.desk.notes.level_meter import LevelMeter
from syncview.desk.notes.sound_blocks import samples_of
from syncview.desk.notes.sound_devices import VOICE_RATE_HZ
from syncview.desk.notes.voice_cut import VoiceCut
from syncview.desk.notes.voice_files import VoiceFiles
from syncview.desk.work import Newest
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.desk.notes.recorder import Recorder
    from syncview.desk.notes.sound_blocks import Level
    from syncview.desk.notes.sound_devices import SoundSink
    from syncview.desk.state import DeskState
    from syncview.media.voice_file import VoiceFile, VoicePiece
    from syncview.notes.note import Note, Voice
    from syncview.progress import Progress
    from syncview.project import Project


class VoiceBox(QWidget):
    """Shows one note's voice and changes it."""

    heard = pyqtSignal(str)
    """Key of the note whose voice is replayed."""
    measured = pyqtSignal()
    """The length of another voice is known."""
    troubled = pyqtSignal()
    """It tells a fault, which should be seen."""

    def __init__(
        self, state: DeskState, recorder: Recorder, sink: SoundSink, parent: QWidget | None = None
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._state, self._recorder, self._sink = state, recorder, sink
        self._note: Note | None = None
        self._fault = ""
        self._playing = False
        self._files = VoiceFiles(state, self)
        self._replaying = Newest(state.work, self._show_fault)
        self._attaching = Newest(state.work, self._show_fault)
        self.record = QToolButton(self)
        self.replay = QToolButton(self)
        self.more = QToolButton(self)
        self.meter = LevelMeter(self)
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setObjectName("quiet")
        self.cut = VoiceCut(self)
        self._menu()
        self._place()
        self._connect()
        self._refresh()

    def _menu(self) -> None:
        self.more.setText(self.tr("More"))
        self.more.setToolTip(self.tr("Use a sound file as the voice, or take the voice off"))
        self.more.setAccessibleName(self.more.toolTip())
        self.more.setStyleSheet("padding-right: 16px;")  # room for the arrow
        self.more.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.more)
        self.use_file = menu.addAction(self.tr("Use a sound file…"), self._ask_file)
        self.take_off = menu.addAction(self.tr("Take the voice off (its file stays)"), self._take_off)
        self.delete_file = menu.addAction(self.tr("Take the voice off and delete its file…"), self._ask_delete)
        self.more.setMenu(menu)

    def _place(self) -> None:
        self.buttons = QHBoxLayout()
        self.buttons.setSpacing(3)
        for button in (self.record, self.replay, self.more):
            self.buttons.addWidget(button)
        self.buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(self.buttons)
        for part in (self.meter, self.cut, self.told):
            column.addWidget(part)

    def _connect(self) -> None:
        self.record.clicked.connect(self._record_or_stop)
        self.replay.clicked.connect(self._replay_or_stop)
        self.cut.cut.connect(self._cut)
        self._files.measured.connect(self._measured)
        self._recorder.began.connect(self._began)
        self._recorder.heard.connect(self._show_level)
        self._recorder.ended.connect(lambda _key: self._refresh())
        self._recorder.taken.connect(lambda _key: self._show_fault(None))
        self._recorder.failed.connect(self._recording_failed)
        self._sink.ended.connect(self._play_ended)

    # What is shown

    def _measured(self, _file: object) -> None:
        self._refresh()
        self.measured.emit()

    def length_s(self, voice: Voice) -> Fraction | None:
        """How long a voice is heard, where its file was measured."""
        file = self._files.known(voice)
        try:
            return None if file is None else _piece(file, voice).length_s
        except (SyncviewError, ValueError):
            return None

    def show_note(self, note: Note | None) -> None:
        """Work on that note's voice; the recording of another ends."""
        before, self._note = self._note, note
        if (None if before is None else before.key) != (None if note is None else note.key):
            self._fault = ""
            self.stop_replay()
            if self._recorder.key is not None and (note is None or self._recorder.key != note.key):
                self._recorder.stop()
        if note is not None and note.voice is not None:
            self._files.ask(note.voice)
        self._refresh()

    def forget(self) -> None:
        """Another project."""
        self._files.forget()

    @property
    def _voice(self) -> Voice | None:
        return None if self._note is None else self._note.voice

    @property
    def _file(self) -> VoiceFile | None:
        return None if self._voice is None else self._files.known(self._voice)

    @property
    def is_recording(self) -> bool:
        """Whether this note is spoken now."""
        return self._note is not None and self._recorder.key == self._note.key

    def _refresh(self) -> None:
        recording, voice, file = self.is_recording, self._voice, self._file
        self.record.setText(self.tr("■ Stop") if recording else self.tr("● Record"))
        again = self.tr("Record this note anew; the earlier file stays") if voice else self.tr("Record this note")
        self.record.setToolTip(self.tr("End the recording") if recording else again)
        self.replay.setText(self.tr("■ Stop") if self._playing else self.tr("▶ Replay"))
        self.replay.setToolTip(self.tr("Hear the voice as the lesson plays it"))
        for button in (self.record, self.replay):
            button.setAccessibleName(f"{button.text()}: {button.toolTip()}")
        self.replay.setVisible(voice is not None and not recording)
        self.replay.setEnabled(file is not None)
        self.more.setVisible(not recording)
        for action in (self.take_off, self.delete_file):
            if action is not None:
                action.setEnabled(voice is not None)
        self.meter.setVisible(recording)
        self.cut.setVisible(file is not None and not recording)
        if voice is not None and file is not None:
            self.cut.show_voice(voice, file)
        self._tell()

    def _tell(self) -> None:
        text = self._fault or self._state_in_words()
        self.told.setText(text)
        self.told.setAccessibleName(text)
        self.told.setVisible(bool(text))
        if self._fault:
            self.troubled.emit()

    def _state_in_words(self) -> str:
        voice, file = self._voice, self._file
        if self.is_recording or voice is None:
            return ""
        fault = self._files.fault(voice)
        if fault is not None:
            return words.sentence(fault)
        if file is None:
            return self.tr("listening to the file…")
        try:
            piece = _piece(file, voice)
        except (SyncviewError, ValueError) as error:
            return words.sentence(error)
        heard = self.tr("%s: heard from %.2f to %.2f s.") % (file.path.name, piece.begin_s, piece.end_s)
        return " ".join([heard, *file.notes])

    def _show_level(self, level: Level, length_s: float) -> None:
        self.meter.show_level(level)
        if self.is_recording:
            self.record.setText(self.tr("■ Stop %.1f s") % length_s)

    def _show_fault(self, error: SyncviewError | None) -> None:
        self._fault = "" if error is None else words.sentence(error)
        self._refresh()

    # Recording

    def _record_or_stop(self) -> None:
        if self.is_recording:
            self._recorder.stop()
        elif self._note is not None:
            self.stop_replay()
            self._fault = ""
            self._recorder.start(self._note.key)

    def _began(self, _key: str) -> None:
        self.meter.show_level(None)
        self._refresh()

    def _recording_failed(self, key: str, error: SyncviewError) -> None:
        if self._note is not None and self._note.key == key:
            self._show_fault(error)
        else:
            self._state.tell(error, where=key)
            self._refresh()

    # Replay

    def _replay_or_stop(self) -> None:
        if self._playing:
            self.stop_replay()
        else:
            self.play()

    def play(self) -> None:
        """Hear the voice of the note."""
        voice, file = self._voice, self._file
        if voice is None or file is None:
            return

        def decode(progress: Progress) -> NDArray[np.int16]:
            return samples_of(_piece(file, voice), progress)

        self._state.set_playing(False)
        self._replaying.ask(decode, self._sound)

    def _sound(self, samples: NDArray[np.int16]) -> None:
        try:
            self._sink.play(samples, VOICE_RATE_HZ)
        except SyncviewError as error:
            self._show_fault(error)
            return
        self._playing, self._fault = True, ""
        self._refresh()
        if self._note is not None:
            self.heard.emit(self._note.key)

    def stop_replay(self) -> None:
        """Fall silent."""
        self._replaying.drop()
        if self._playing:
            self._sink.stop()

    def _play_ended(self) -> None:
        self._playing = False
        self._refresh()

    # Changes

    def _cut(self, begin_s: float | None, end_s: float | None) -> None:
        note, project = self._note, self._state.project
        if note is None or project is None or note.voice is None or self._file is None:
            return
        begin, end = (None if at is None else Fraction(at) for at in (begin_s, end_s))
        try:
            self._file.piece(begin, end)
        except (SyncviewError, ValueError) as error:
            self._show_fault(error if isinstance(error, SyncviewError) else SyncviewError(str(error), "Cut elsewhere."))
            return
        self._fault = ""
        self._edit(self.tr("trim the voice of %s") % note.key, changes.cut_voice(project, note.key, begin_s, end_s),
                   merge=f"{note.key} trim")  # fmt: skip

    def _edit(self, what: str, project: Project, *, merge: str = "") -> None:
        self._state.edit(what, project, merge=merge)

    def _take_off(self) -> None:
        note, project = self._note, self._state.project
        if note is not None and project is not None and note.voice is not None:
            self.stop_replay()
            self._edit(self.tr("take the voice off %s") % note.key, changes.say(project, note.key, None))

    def _ask_delete(self) -> None:
        note, project, path = self._note, self._state.project, self._state.path
        if note is None or note.voice is None or project is None or path is None:
            return
        if changes.is_shared(project, note.key):
            problem = self.tr("another note is heard from the same file, so it was not deleted")
            self._show_fault(SyncviewError(problem, self.tr("Take the voice off instead; the file stays.")))
            return
        try:
            file = changes.voice_path(note.voice, path)
        except SyncviewError as error:
            self._show_fault(error)
            return
        question = self.tr("Delete “%s”? Undo does not bring the file back.") % file.name
        if QMessageBox.question(self, self.tr("Delete the voice"), question) == QMessageBox.StandardButton.Yes:
            self.delete(file)

    def delete(self, file: Path) -> None:
        """Take the voice off and delete its file."""
        self._take_off()
        try:
            file.unlink()
        except OSError as error:
            self._state.tell(error, where=file.name)

    def _ask_file(self) -> None:
        path = self._state.path
        folder = "" if path is None else str(path.parent)
        name, _kind = QFileDialog.getOpenFileName(
            self, self.tr("A sound file with the words of this note"), folder,
            self.tr("Sound (*.wav *.flac *.mp3 *.m4a *.ogg *.opus *.aac);;All files (*)"),
        )  # fmt: skip
        if name:
            self.attach(Path(name))

    def attach(self, file: Path) -> None:
        """Use a sound file as the voice."""
        note, project, path = self._note, self._state.project, self._state.path
        if note is None or project is None or path is None:
            return
        key = note.key

        def measure(_progress: Progress) -> Voice | None:
            from syncview.lesson.voices import attach_voice

            attached, _length_s = attach_voice(project, key, file, path)
            return next(note.voice for note in attached.notes if note.key == key)

        def done(voice: Voice | None) -> None:
            now = self._state.project
            if now is not None and any(note.key == key for note in now.notes):
                self._show_fault(None)
                self._edit(self.tr("give %s a voice") % key, changes.say(now, key, voice))

        self._attaching.ask(measure, done, what=self.tr("listening to %s") % file.name)


def _piece(file: VoiceFile, voice: Voice) -> VoicePiece:
    """What the lesson plays of the file."""
    begin, end = (None if at is None else Fraction(at) for at in (voice.begin_s, voice.end_s))
    return file.piece(begin, None if end is None else min(end, file.length_s))
