"""The thread that saves: newest wins, the file is always whole, work of other programs is never overwritten."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from syncview.desk.kept import keep
from syncview.errors import ProjectError, SyncviewError

if TYPE_CHECKING:
    from syncview.project import Project


@dataclass(frozen=True, slots=True)
class Saved:
    """What came of one save."""

    kind: Literal["saved", "kept only", "lost"]
    """Kept only: the project could not be written, but its copy could."""
    project: Project
    path: Path
    fault: SyncviewError | None = None
    foreign: bool = False
    """Another program changed the file meanwhile; it was left alone."""


class Saver:
    """One thread that writes the newest project it was given. Knows no Qt."""

    def __init__(self, folder: Path, answer: Callable[[Saved], None]) -> None:
        self._folder, self._answer = folder, answer
        self._wanted: dict[Path, Project] = {}
        self._force: set[Path] = set()
        self._known: dict[Path, bytes] = {}
        self._changed = threading.Condition()
        self._closing = False
        self._idle = True
        self._thread = threading.Thread(target=self._run, name="saving the project")
        self._thread.start()

    def know(self, path: Path) -> None:
        """The file at `path` is what the project was read from just now."""
        with self._changed:
            self._known[path] = _content_mark(path)

    def save(self, project: Project, path: Path, *, over_foreign: bool = False) -> None:
        """Write it as soon as the thread is free; an older one that still waits is dropped."""
        with self._changed:
            self._wanted[path] = project
            if over_foreign:
                self._force.add(path)
            self._changed.notify_all()

    def wait(self, patience_s: float = 10.0) -> bool:
        """Wait until everything is written; False when it was not in time."""
        with self._changed:
            return self._changed.wait_for(lambda: self._idle and not self._wanted, patience_s)

    def close(self, patience_s: float = 10.0) -> bool:
        """Write what waits and end the thread."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join(patience_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._idle = True
                self._changed.notify_all()
                self._changed.wait_for(lambda: bool(self._wanted) or self._closing)
                if not self._wanted:
                    return
                path, project = next(iter(self._wanted.items()))
                del self._wanted[path]
                force = path in self._force
                self._force.discard(path)
                self._idle = False
            self._answer(self._write(project, path, force=force))

    def _write(self, project: Project, path: Path, *, force: bool) -> Saved:
        """Save to the project's file, then to its kept copy; the copy alone where the file may not be written."""
        from syncview.project import save

        fault: SyncviewError | None = None
        known = self._known.get(path)
        foreign = not force and known is not None and _content_mark(path) not in (known, b"")
        if foreign:
            fault = ProjectError(
                "another program changed this project", "Take its version, or keep yours.", where=path.name
            )
        else:
            try:
                save(project, path)
                self._known[path] = _content_mark(path)
            except SyncviewError as error:
                fault = error
        try:
            keep(project, path, self._folder)
        except SyncviewError as error:
            if fault is not None:
                return Saved("lost", project, path, fault, foreign=foreign)
            return Saved("saved", project, path, error)
        return Saved("saved" if fault is None else "kept only", project, path, fault, foreign=foreign)


def _content_mark(path: Path) -> bytes:
    """Equal for equal content; empty when there is no such file."""
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return b""
