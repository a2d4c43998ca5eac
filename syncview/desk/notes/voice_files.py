"""The voice files of the notes, measured once each beside the work of the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, pyqtSignal

from syncview.desk.notes.changes import voice_path
from syncview.desk.work import Newest

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.errors import SyncviewError
    from syncview.media.voice_file import VoiceFile
    from syncview.media_file import MediaFile
    from syncview.notes.note import Voice
    from syncview.progress import Progress

MOST_KEPT = 64


class VoiceFiles(QObject):
    """Asked for one at a time: that of the note that is worked on."""

    measured = pyqtSignal(object)
    """The `MediaFile` that can be shown now, or has a fault."""

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._known: dict[MediaFile, VoiceFile] = {}
        self._faults: dict[MediaFile, SyncviewError] = {}
        self._asked: MediaFile | None = None
        self._newest = Newest(state.work, self._failed)

    def known(self, voice: Voice) -> VoiceFile | None:
        """The file, when it was measured."""
        return self._known.get(voice.file)

    def fault(self, voice: Voice) -> SyncviewError | None:
        """Why it cannot be heard."""
        return self._faults.get(voice.file)

    def ask(self, voice: Voice) -> None:
        """Measure it unless it is known; a fault is looked at afresh, as the file may be back."""
        path, file = self._state.path, voice.file
        if path is None or file in self._known or (self._newest.is_asking and self._asked == file):
            return
        self._asked = file

        def measure(progress: Progress) -> VoiceFile:
            from syncview.media.voice_file import open_voice

            return open_voice(voice_path(voice, path), progress=progress)

        self._newest.ask(measure, self._take)

    def _take(self, voice: VoiceFile) -> None:
        assert self._asked is not None
        while len(self._known) >= MOST_KEPT:
            del self._known[next(iter(self._known))]
        self._known[self._asked] = voice
        self._faults.pop(self._asked, None)
        self.measured.emit(self._asked)

    def _failed(self, error: SyncviewError) -> None:
        if self._asked is not None and str(self._faults.get(self._asked, "")) != str(error):
            self._faults[self._asked] = error
            self.measured.emit(self._asked)

    def forget(self) -> None:
        """Another project: the same names may mean other files."""
        self._newest.drop()
        self._known.clear()
        self._faults.clear()
