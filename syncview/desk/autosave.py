"""Autosave: every change is on disk within a second, whatever happens to the program afterwards."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QStandardPaths, QTimer, pyqtSignal

from syncview.desk.saving import Saved, Saver
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.project import Project

SAVE_AFTER_MS = 400
"""After the first change that is not saved yet, whether or not more follow: typing on does not put it off."""


def kept_folder() -> Path:
    """Where copies are kept: the program's own data folder."""
    return Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppDataLocation)) / "kept"


class Autosave(QObject):
    """Saves the project of a `DeskState`."""

    saved = pyqtSignal(str)
    """At what time of day it was saved last."""
    troubled = pyqtSignal(object)
    """A `SyncviewError`: the project cannot be saved; told once until it can be again."""
    foreign = pyqtSignal(object)
    """Path of a project that another program changed; nothing is written over it until someone decides."""
    _answered = pyqtSignal(object)

    def __init__(self, state: DeskState, folder: Path | None = None) -> None:
        super().__init__(state)
        self._state = state
        self.folder = folder or kept_folder()
        self._saver = Saver(self.folder, self._answered.emit)
        self._project: Project | None = state.project
        self._path: Path | None = state.path
        self._unsaved = False
        self._trouble = ""
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SAVE_AFTER_MS)
        self._timer.timeout.connect(self.save_now)
        self._answered.connect(self._take)
        state.projectChanged.connect(self._follow)
        if self._path is not None:
            self._saver.know(self._path)

    def _follow(self, project: Project | None) -> None:
        path = self._state.path
        if path != self._path or self._project is None or project is None:
            self.save_now()
            self._path, self._project, self._trouble = path, project, ""
            if path is not None:
                self._saver.know(path)
            return
        self._project, self._unsaved = project, True
        if not self._timer.isActive():
            self._timer.start()

    def save_now(self) -> None:
        """Begin to write what is not written yet."""
        self._timer.stop()
        if self._unsaved and self._project is not None and self._path is not None:
            self._unsaved = False
            self._saver.save(self._project, self._path)

    def keep_mine(self) -> None:
        """Write over what another program wrote."""
        if self._project is not None and self._path is not None:
            self._unsaved = False
            self._saver.save(self._project, self._path, over_foreign=True)

    def _take(self, saved: Saved) -> None:
        if saved.path != self._path:
            if saved.fault is not None:
                self.troubled.emit(saved.fault)
            return
        words = "" if saved.fault is None else str(saved.fault)
        if saved.kind == "saved":
            self.saved.emit(datetime.now().strftime("%H:%M:%S"))
        if words and words != self._trouble:
            if saved.foreign:
                self.foreign.emit(saved.path)
            else:
                self.troubled.emit(self._worded(saved))
        self._trouble = words

    def _worded(self, saved: Saved) -> SyncviewError:
        assert saved.fault is not None
        safe = {
            "saved": self.tr("The project itself is saved."),
            "kept only": self.tr("Meanwhile your work is kept in %s.") % self.folder,
            "lost": self.tr("Your last changes are nowhere on disk yet: keep the window open."),
        }[saved.kind]
        return SyncviewError(saved.fault.problem, f"{saved.fault.remedy} {safe}", where=saved.fault.where)

    def close(self) -> bool:
        """Write what waits and end the thread."""
        self.save_now()
        return self._saver.close()
