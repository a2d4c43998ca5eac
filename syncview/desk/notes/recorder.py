"""Records the voice of one note: from the sound source into a take, and from there to the note."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, pyqtSignal

from syncview.desk.notes import changes, words
from syncview.desk.notes.sound_blocks import level_of
from syncview.desk.notes.take import Take
from syncview.errors import SyncviewError
from syncview.media_file import refer_to
from syncview.notes.note import Voice

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.desk.notes.sound_devices import SoundSource
    from syncview.desk.state import DeskState
    from syncview.media.voice_file import VoiceFile
    from syncview.media_file import MediaFile
    from syncview.progress import Progress


class Recorder(QObject):
    """One take at a time."""

    began = pyqtSignal(str)
    """Key of the note that is spoken."""
    heard = pyqtSignal(object, float)
    """The `Level` of the last block, and the seconds recorded so far."""
    ended = pyqtSignal(str)
    """The take has its end; its file is looked at."""
    taken = pyqtSignal(str)
    """The note has its new voice."""
    failed = pyqtSignal(str, object)
    """Key, and the `SyncviewError`; no file was kept."""

    def __init__(self, state: DeskState, source: SoundSource, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state, self._source = state, source
        self._take: Take | None = None
        source.heard.connect(self._write)
        source.failed.connect(self._lost)
        state.projectChanged.connect(self._follow)

    @property
    def key(self) -> str | None:
        """The note that is spoken now."""
        return None if self._take is None else self._take.key

    def start(self, key: str) -> None:
        """Begin; the film stops, so that its sound is not in the voice."""
        self.stop()
        if self._state.path is None:
            return
        self._state.set_playing(False)
        try:
            self._source.start()
        except SyncviewError as error:
            self.failed.emit(key, error)
            return
        try:
            self._take = Take(self._state.path, key, rate_hz=self._source.rate_hz)
        except SyncviewError as error:
            self._source.stop()
            self.failed.emit(key, error)
            return
        self.began.emit(key)

    def stop(self) -> None:
        """End the take and give it to its note."""
        if self._take is None:
            return
        self._source.stop()
        take, self._take = self._take, None
        folder, path = take.path.parent.parent, self._state.path
        self.ended.emit(take.key)

        def finish(_progress: Progress) -> tuple[VoiceFile, MediaFile]:
            voice = take.finish()
            return voice, refer_to(voice.path, folder)

        def done(found: tuple[VoiceFile, MediaFile]) -> None:
            if self._state.path == path:
                self._give(take.key, found[1])

        def failed(error: SyncviewError) -> None:
            self.failed.emit(take.key, error)

        self._state.work.run(finish, done=done, failed=failed, what=self.tr("keeping the recording"))

    def _give(self, key: str, file: MediaFile) -> None:
        project = self._state.project
        if project is None or not any(note.key == key for note in project.notes):
            return  # the note was removed while it was spoken; the file lies in the folder of voices
        self._state.edit(words.tr("record the voice of %s") % key, changes.say(project, key, Voice(file)))
        self.taken.emit(key)

    def _write(self, samples: NDArray[np.int16]) -> None:
        if self._take is None:
            return
        try:
            self._take.write(samples)
        except SyncviewError as error:
            self._break(error)
            return
        self.heard.emit(level_of(samples), float(self._take.length_s))

    def _lost(self, error: SyncviewError) -> None:
        """The microphone is gone: what was said until then is kept."""
        if self._take is not None:
            self._state.tell(error, where=words.tr("Voice"))
            self.stop()

    def _break(self, error: SyncviewError) -> None:
        assert self._take is not None
        self._source.stop()
        take, self._take = self._take, None
        take.abandon()
        self.ended.emit(take.key)
        self.failed.emit(take.key, error)

    def _follow(self, project: object) -> None:
        """A project that is closed ends its take; what was said stays as a file beside it."""
        if project is None and self._take is not None:
            self.close()

    def close(self) -> None:
        """End at once: a take under way is kept as a file, without waiting for the window's work."""
        if self._take is None:
            return
        self._source.stop()
        take, self._take = self._take, None
        self.ended.emit(take.key)
        try:
            take.finish()
        except SyncviewError as error:
            self.failed.emit(take.key, error)
