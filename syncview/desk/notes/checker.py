"""Holds the notes against the data whenever either changed, beside the work of the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QTimer, pyqtSignal

from syncview.desk.notes.verdict_lines import NoteCheck, lines_of, still_fits
from syncview.desk.work import Newest

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.errors import SyncviewError
    from syncview.lesson.checking import CheckedNote
    from syncview.progress import Progress
    from syncview.project import Project

CHECK_AFTER_MS = 120
"""Typing without a pause as long as this is not checked yet."""


class NoteChecker(QObject):
    """Keeps the newest verdicts; those of a note that has changed since are not told."""

    checked = pyqtSignal()
    """There are other verdicts."""

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._found: dict[str, tuple[CheckedNote, NoteCheck]] = {}
        self._about: tuple[object, ...] = ()
        self.why_not = ""
        """Why nothing can be checked; empty when it can."""
        self._newest = Newest(state.work, self._failed)
        self._wait = QTimer(self)
        self._wait.setSingleShot(True)
        self._wait.setInterval(CHECK_AFTER_MS)
        self._wait.timeout.connect(self._check)
        state.projectChanged.connect(self._follow)
        state.sessionReady.connect(self._data_changed)
        state.lapChanged.connect(self._data_changed)
        self._wait.start()

    def checks(self) -> dict[str, NoteCheck]:
        """What is known of the notes as they are now, by their keys."""
        project = self._state.project
        if project is None:
            return {}
        notes = {note.key: note for note in project.notes}
        return {
            key: lines for key, (found, lines) in self._found.items() if key in notes and still_fits(found, notes[key])
        }

    def _follow(self, project: Project | None) -> None:
        """Only what a check rests on makes another one needed."""
        about = (
            () if project is None else (project.units, tuple((n.key, n.text, n.lap_distance_m) for n in project.notes))
        )
        if about != self._about:
            self._about = about
            self._wait.start()

    def _data_changed(self, *_what: object) -> None:
        self._found = {}
        self._wait.start()
        self.checked.emit()

    def _check(self) -> None:
        session, lap = self._state.session, self._state.lap
        if session is None or lap is None:
            self._newest.drop()
            self.why_not = self.tr("not checked: there is no lap to hold it against yet")
            self._take(())
            return

        def check(_progress: Progress) -> tuple[CheckedNote, ...]:
            from syncview.lesson.checking import check_notes

            return check_notes(session, lap)

        self._newest.ask(check, self._take_checks)

    def _take_checks(self, checks: tuple[CheckedNote, ...]) -> None:
        self.why_not = ""
        self._take(checks)

    def _take(self, checks: tuple[CheckedNote, ...]) -> None:
        units = self._state.units
        self._found = {one.note.key: (one, lines_of(one, units)) for one in checks}
        self.checked.emit()

    def _failed(self, error: SyncviewError) -> None:
        self.why_not = self.tr("not checked: %s") % error
        self._take(())
