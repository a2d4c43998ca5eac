"""What is done before the workers start: the project is on disk, and files that would be replaced are named."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.lesson.lap_film import LapFilm
    from syncview.progress import Progress
    from syncview.project import Project

SAVING_PATIENCE_S = 10.0


def saving_of(state: DeskState) -> Callable[[Progress], None]:
    """A task that ends when the project as it is now is on disk; it raises `SyncviewError` when it does not get there.

    Call this on the main thread: where the window saves by itself, that is asked to begin at once.
    """
    from syncview.desk.autosave import Autosave

    project, path = state.project, state.path
    if project is None or path is None:
        raise SyncviewError("there is no project to export", "Open one first.")
    autosave = state.findChild(Autosave)
    if autosave is not None:
        autosave.save_now()

    def task(progress: Progress) -> None:
        from syncview.project import save

        if autosave is None:
            save(project, path)
        else:
            _wait_for(project, path, progress)

    return task


def _wait_for(project: Project, path: Path, progress: Progress) -> None:
    from syncview.errors import ProjectError
    from syncview.project import load

    end_s = time.monotonic() + SAVING_PATIENCE_S
    while time.monotonic() < end_s:
        progress(0.0, "")
        try:
            if load(path) == project:
                return
        except ProjectError:
            pass  # it may be about to be written for the first time
        time.sleep(0.05)
    raise SyncviewError(
        "the project as it is now is not on disk, so nothing was exported",
        "See why it could not be saved, then export again.",
        where=path.name,
    )


def existing_files(film: LapFilm, folder: Path, products: tuple[str, ...]) -> tuple[Path, ...]:
    """Files of these products that are there already."""
    from syncview.lesson.export import PRODUCTS, target_paths

    wanted = [product for product in PRODUCTS if product in products]
    return tuple(path for path in target_paths(film, folder, wanted) if path.exists())


def usual_folder(project: Path) -> Path:
    """Where the products go unless the person chooses: a folder beside the project, named after it."""
    name = project.name.removesuffix(".json").removesuffix(".syncview")
    return project.with_name(f"{name} lesson")
