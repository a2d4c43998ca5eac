"""The saved document: one readable JSON file that refers to recording and log and never holds or changes them."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from syncview.clock.clock_map import ClockMap
from syncview.clock.marks import Mark
from syncview.errors import OutputError, ProjectError, describe_os_error
from syncview.media_file import MediaFile
from syncview.notes.note import Notes
from syncview.output_file import whole_file
from syncview.plan.lesson_choices import LessonChoices
from syncview.shown_units import Units

SCHEMA = 2
FORMAT = "syncview project"

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class SavedClock:
    """The clock as it was last found."""

    clock: ClockMap
    sure: bool
    basis: str
    doubts: tuple[str, ...] = ()
    accepted: bool = False
    """The person looked at an unsure clock and took it on their own word."""

    @property
    def usable(self) -> bool:
        """Whether products may rest on it."""
        return self.sure or self.accepted


@dataclass(frozen=True, slots=True)
class Project:
    """One coach's work on one recording and one log."""

    recording: MediaFile
    log: MediaFile
    roles: Mapping[str, str] = field(default_factory=dict)
    """Role -> column, where the person said so."""
    column_units: Mapping[str, str] = field(default_factory=dict)
    """Column -> unit text, where the person said so."""
    circuit: MediaFile | None = None
    """The circuit file in use. It is meant to be edited, so another fingerprint is no fault."""
    units: Units = "metric"
    """What people are shown."""
    marks: tuple[Mark, ...] = ()
    clock: SavedClock | None = None
    lap: int | None = None
    """Number of the lap that is taught; None for the best one."""
    notes: Notes = ()
    draft_template: str = ""
    """How drafts are worded, where the coach said so."""
    conditions: Mapping[str, str] = field(default_factory=dict)
    """What the coach said about the day, by the name of the entry (`fuel` -> `12 L`)."""
    lesson: LessonChoices = field(default_factory=LessonChoices)
    notes_made: int = 0
    """How many notes were ever made, so that a key is never used twice."""


def load(path: Path) -> Project:
    """Read a project; raises `ProjectError` naming the place of any fault."""
    try:
        document = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        remedy = "Make one with: syncview new PROJECT --recording FILE --log FILE."
        raise ProjectError("there is no such project", remedy, where=path) from None
    except OSError as error:
        problem = f"the project cannot be read ({describe_os_error(error)})"
        raise ProjectError(problem, "Check the path and its permissions.", where=path) from error
    except ValueError as error:
        problem = f"this is not a project document ({error})"
        raise ProjectError(problem, "Restore it from a copy; nothing was changed.", where=path) from error
    try:
        return _from_json(_upgraded(document))
    except _Fault as fault:
        raise ProjectError(str(fault), "Restore it from a copy; nothing was changed.", where=path) from None


def save(project: Project, path: Path) -> None:
    """Write the project so that at every moment either the old or the new document is whole on disk."""
    document = {"format": FORMAT, "schema": SCHEMA, **asdict(project)}
    text = json.dumps(document, ensure_ascii=False, indent=2) + "\n"
    try:
        with whole_file(path, overwrite=True) as part:
            part.write_text(text, "utf-8")
            with part.open("rb") as stream:
                os.fsync(stream.fileno())
            part.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
    except OutputError as error:
        raise ProjectError(f"the project cannot be saved: {error.problem}", error.remedy, where=path) from error


class _Fault(Exception):
    """Something in the document is not as it must be."""


_UPGRADES: Mapping[int, Callable[[Json], Json]] = {
    1: lambda document: document,  # 2 added the lesson, and to notes their voices, drawings and holds
}
"""Schema number -> what turns a document of that schema into one of the next."""


def _upgraded(document: object) -> Json:
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise _Fault(f"this is not a project document: “format” is not “{FORMAT}”")
    schema = document.get("schema")
    if not isinstance(schema, int) or schema < 1:
        raise _Fault("“schema” is not a number")
    if schema > SCHEMA:
        raise _Fault(f"it was made by a newer syncview (schema {schema}, this one reads up to {SCHEMA})")
    for step in range(schema, SCHEMA):
        document = _UPGRADES[step](document)
    return document


def _from_json(document: Json) -> Project:
    import msgspec

    try:
        project = msgspec.convert(document, Project)
    except msgspec.ValidationError as error:
        raise _Fault(f"the document is not as it must be: {error}") from error
    keys = [note.key for note in project.notes]
    if len(set(keys)) < len(keys):
        raise _Fault("two notes have the same key")
    return replace(project, notes=tuple(sorted(project.notes, key=lambda note: note.lap_distance_m)))
