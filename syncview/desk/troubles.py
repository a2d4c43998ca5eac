"""Troubles of a project that the window can help with: each is told with buttons that mend it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject

from syncview.desk.fault_bar import Fault
from syncview.desk.kept import good_copy, newer_copy, put_back
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.main_window import MainWindow
    from syncview.progress import Progress
    from syncview.project import Project


class Troubles(QObject):
    """Tells them in the window's bar and withdraws them when they are over."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._told: dict[str, Fault] = {}
        """What was told of log, recording, clock and lesson of the open project."""
        state = window.state
        state.faultTold.connect(self._tell)
        state.openFailed.connect(self.could_not_open)
        state.sourceFailed.connect(self.source_failed)
        for changed in (state.sessionReady, state.recordingReady, state.filmChanged):
            changed.connect(self.ask_for_match)
        state.lessonReady.connect(lambda _lesson: self.mended("lesson"))
        state.lessonFailed.connect(self.no_lesson)
        window.autosave.troubled.connect(lambda fault: self._tell(fault.where, fault.problem, fault.remedy))
        window.autosave.foreign.connect(self.changed_elsewhere)

    def _tell(self, where: str, problem: str, remedy: str) -> None:
        self._window.faults.tell(Fault(where, problem, remedy))

    def forget(self, *, keep: set[str]) -> None:
        """Another project: only what was told of these places stays."""
        self._told.clear()
        self._window.faults.withdraw(lambda fault: fault.where not in keep)

    def offer_newer_copy(self, project: Project, path: Path) -> None:
        """Say so when a later state of the project was kept than the one that was opened."""

        def look(_progress: Progress) -> Project | None:
            return newer_copy(project, path, self._window.autosave.folder)

        def offer(kept: Project | None) -> None:
            if kept is None or self._window.state.path != path:
                return
            take = (self.tr("Take it up"), lambda: self._window.state.edit(self.tr("take up the kept copy"), kept))
            self._window.faults.tell(
                Fault(
                    path.name,
                    self.tr("a later state of this project was kept when it could not be saved"),
                    self.tr("Take it up (this can be undone), or dismiss this."),
                    (take,),
                )
            )

        self._window.state.work.run(look, done=offer, failed=lambda _error: None)

    def could_not_open(self, path: Path, error: SyncviewError) -> None:
        """A project that cannot be read; its kept copy is offered where there is one."""
        actions: tuple[tuple[str, Callable[[], object]], ...] = ()
        remedy = error.remedy
        if path.exists() and good_copy(path, self._window.autosave.folder) is not None:
            remedy = self.tr("Your notes are safe: a whole copy was kept. Nothing is thrown away by putting it back.")
            actions = ((self.tr("Put the copy back"), lambda: self._put_back(path)),)
        self._window.faults.tell(Fault(path.name, error.problem, remedy, actions))

    def _put_back(self, path: Path) -> None:
        try:
            put_back(path, self._window.autosave.folder)
        except SyncviewError as error:
            self._window.state.tell(error)
        else:
            self._window.open_project(path)

    def changed_elsewhere(self, path: Path) -> None:
        """Another program wrote the project."""
        self._window.faults.tell(
            Fault(
                path.name,
                self.tr("another program changed this project while it was open"),
                self.tr("Take its version, or keep yours. Until then yours is kept apart."),
                (
                    (self.tr("Take its version"), lambda: self._window.open_project(path)),
                    (self.tr("Keep mine"), self._window.autosave.keep_mine),
                ),
            )
        )

    def source_failed(self, what: str, error: SyncviewError) -> None:
        """The log or the recording cannot be used."""
        from syncview.desk.opening.finding import ask_where

        words = self.tr("Find the recording…") if what == "recording" else self.tr("Find the log…")
        actions: list[tuple[str, Callable[[], object]]] = [
            (words, lambda: ask_where(self._window, self._window.state, what))
        ]
        if what == "log":
            actions.append((self.tr("Columns of the log…"), lambda: self._window.step_of_setup("files")))
        self._tell_of_source(what, Fault(error.where, error.problem, error.remedy, tuple(actions)))

    def no_lesson(self, words: str) -> None:
        """No lesson can be planned."""
        clock = None if self._window.state.project is None else self._window.state.project.clock
        if clock is not None and clock.usable:  # else the missing clock is told already
            action = (self.tr("Choose the lap…"), lambda: self._window.step_of_setup("lap"))
            self._tell_of_source("lesson", Fault(self.tr("Lesson"), words.rstrip("."), "", (action,)))

    def _tell_of_source(self, what: str, fault: Fault) -> None:
        self.mended(what)
        self._told[what] = fault
        self._window.faults.tell(fault)

    def mended(self, what: str) -> None:
        """Withdraw what was told of log, recording, clock or lesson."""
        old = self._told.pop(what, None)
        if old is not None:
            self._window.faults.withdraw(lambda fault: fault is old)

    def ask_for_match(self, _new: object = None) -> None:
        """Once both are there and not on one clock, say where that is done."""
        state = self._window.state
        if state.session is not None:
            self.mended("log")
        if state.recording is not None:
            self.mended("recording")
        if state.session is None or state.recording is None or state.project is None:
            return
        clock = state.project.clock
        if clock is not None and clock.usable:
            self.mended("clock")
            return
        if self._window.is_setting_up:
            return
        doubts = "" if clock is None else "; ".join(clock.doubts)
        problem = self.tr("picture and data are not on one clock yet") if clock is None else (
            self.tr("it is not certain that picture and data are on one clock (%s)") % doubts
        )  # fmt: skip
        self._tell_of_source(
            "clock",
            Fault("", problem, self.tr("Match them; until then no lesson can be made."),
                  ((self.tr("Match picture and data…"), lambda: self._window.step_of_setup("match")),))
        )  # fmt: skip
