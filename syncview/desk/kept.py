"""Kept copies: the last good state of every project, in the program's own folder. Knows no Qt.

A copy serves when the project itself could not be written (a full disk, a drive that is gone) or was damaged later.
"""

from __future__ import annotations

import contextlib
import hashlib
import time
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import ProjectError, SyncviewError
from syncview.output_file import os_faults_named

if TYPE_CHECKING:
    from syncview.project import Project

MOST_COPIES = 200
"""The oldest go; a copy is some 10 kB."""
STALE_PART_S = 60.0
"""A part file older than this belongs to a program that was killed while it saved: saving takes milliseconds."""


def kept_copy_of(path: Path, folder: Path) -> Path:
    """Where the copy of a project is kept."""
    mark = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:16]
    return folder / f"{path.name.partition('.')[0][:60]}-{mark}.json"


def keep(project: Project, path: Path, folder: Path) -> Path:
    """Write the copy of a project that lies at `path`; raises `ProjectError`."""
    from syncview.project import save

    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
    copy = kept_copy_of(path, folder)
    save(project, copy)
    return copy


def newer_copy(project: Project, path: Path, folder: Path) -> Project | None:
    """The kept copy, when it was written after the project and says something else: the project was not saved."""
    from syncview.project import load

    copy = kept_copy_of(path, folder)
    try:
        if copy.stat().st_mtime_ns <= path.stat().st_mtime_ns:
            return None
        kept = load(copy)
    except (OSError, SyncviewError):
        return None
    return kept if kept != project else None


def good_copy(path: Path, folder: Path) -> Project | None:
    """The kept copy of a project that cannot be read; None when there is none that can."""
    from syncview.project import load

    try:
        return load(kept_copy_of(path, folder))
    except SyncviewError:
        return None


def put_back(path: Path, folder: Path) -> Path | None:
    """Give a damaged project its kept copy; what was there is set aside under the returned name, never deleted."""
    from syncview.project import save

    project = good_copy(path, folder)
    if project is None:
        raise ProjectError("there is no kept copy of this project", "Restore it from a copy of your own.", where=path)
    aside = _set_aside(path) if path.exists() else None
    save(project, path)
    return aside


def _set_aside(path: Path) -> Path:
    number = 1
    while path.with_name(f"{path.name}.damaged-{number}").exists():
        number += 1
    aside = path.with_name(f"{path.name}.damaged-{number}")
    with os_faults_named(aside):
        path.rename(aside)
    return aside


def tidy(path: Path, folder: Path) -> None:
    """Remove what a killed program left beside the project, and the oldest of too many copies."""
    now_s = time.time()
    for part in path.parent.glob(f".{_literal(path.stem[:80])}.*.part{path.suffix}"):
        with contextlib.suppress(OSError):
            if now_s - part.stat().st_mtime > STALE_PART_S:
                part.unlink()
    with contextlib.suppress(OSError):
        copies = sorted(folder.glob("*.json"), key=lambda copy: copy.stat().st_mtime)
        for copy in copies[:-MOST_COPIES]:
            copy.unlink()


def _literal(name: str) -> str:
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)
