"""Has notes drafted from the facts, beside the work of the window."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, pyqtSignal

from syncview.desk.notes import changes
from syncview.desk.work import Newest

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.lesson.drafting import Drafted
    from syncview.notes.note import Note
    from syncview.progress import Progress


class Drafter(QObject):
    """What a person wrote, edited or imported stays."""

    drafted = pyqtSignal(object, object)
    """Key of the draft to work on (None: several were made), and remarks, each a sentence."""
    failed = pyqtSignal(object)

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._newest = Newest(state.work, self.failed.emit)

    def draft_all(self) -> None:
        """A draft for every corner without a note of the coach's; earlier drafts are replaced."""
        session, lap = self._state.session, self._state.lap
        if session is None or lap is None:
            return
        project = session.project

        def draft(_progress: Progress) -> Drafted:
            from syncview.lesson.drafting import draft_missing

            return draft_missing(session, lap)

        def done(drafted: Drafted) -> None:
            if self._state.project is not project:
                self.draft_all()  # it was edited meanwhile: what was found is about the project before
                return
            self._state.edit(self.tr("draft notes"), drafted.project)
            none = () if drafted.made else (self.tr("Every corner has a note of yours already."),)
            self.drafted.emit(None, (*none, *drafted.too_long))

        self._newest.ask(draft, done, what=self.tr("drafting notes"))

    def draft_corner(self, number: int) -> None:
        """A draft for one corner, beside what the coach wrote there."""
        session, lap, before = self._state.session, self._state.lap, self._state.project
        if session is None or lap is None or before is None:
            return

        def draft(_progress: Progress) -> tuple[Note, tuple[str, ...]]:
            return changes.draft_at(session, lap, number)

        def done(found: tuple[Note, tuple[str, ...]]) -> None:
            project, note = self._state.project, found[0]
            if project is None or self._state.session is None or project.log != before.log:
                return
            changed, key = changes.with_draft(project, self._state.session, number, note)
            self._state.edit(self.tr("draft corner %s") % number, changed)
            remarks = (words.replace(note.key, key, 1) for words in found[1])
            self.drafted.emit(key, tuple(remarks))

        self._newest.ask(draft, done, what=self.tr("drafting a note"))
