"""Telling an open project where its recording or log is now."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtWidgets import QFileDialog, QWidget

from syncview.errors import ProjectError

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.progress import Progress
    from syncview.project import Project


def relinked(project: Project, path: Path, what: str, file: Path) -> Project:
    """The project with its `recording` or `log` at `file`; raises `ProjectError` when that is another file."""
    from syncview.media_file import refer_to

    new, old = refer_to(file, path.parent), project.log if what == "log" else project.recording
    if new.fingerprint != old.fingerprint:
        raise ProjectError(
            f"this is another file than the project's {what}",
            f"Choose the same file, or make a new project from this one; the {what} was {Path(old.path).name}.",
            where=file.name,
        )
    return replace(project, log=new) if what == "log" else replace(project, recording=new)


def ask_where(parent: QWidget, state: DeskState, what: str) -> None:
    """Let the person choose the file, and take it when it is the same one."""
    title = parent.tr("Where is the log?") if what == "log" else parent.tr("Where is the recording?")
    name, _kind = QFileDialog.getOpenFileName(parent, title, "" if state.path is None else str(state.path.parent))
    if name:
        take_file(state, what, Path(name))


def take_file(state: DeskState, what: str, file: Path) -> None:
    """Look at the file in the background, then change the project."""
    project, path = state.project, state.path
    if project is None or path is None:
        return

    def look(_progress: Progress) -> Project:
        return relinked(project, path, what, file)

    def take(changed: Project) -> None:
        if state.project is None or state.path != path:
            return
        now = state.project
        changed = replace(now, log=changed.log) if what == "log" else replace(now, recording=changed.recording)
        state.edit(state.tr("find the %s again") % what, changed)

    state.work.run(look, done=take, failed=state.tell, what=state.tr("looking at %s") % file.name)
