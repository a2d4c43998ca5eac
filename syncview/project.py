"""The saved document: one readable JSON file that refers to recording and log and never holds or changes them."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Literal, cast

from syncview.clock.clock_map import ClockMap
from syncview.clock.marks import Mark
from syncview.errors import ProjectError, describe_os_error
from syncview.media_file import MediaFile
from syncview.notes.note import Note, Notes, Origin

SCHEMA = 1
FORMAT = "syncview project"
SUFFIX = ".syncview.json"

Units = Literal["metric", "imperial"]
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
    units: Units = "metric"
    """What people are shown."""
    marks: tuple[Mark, ...] = ()
    clock: SavedClock | None = None
    lap: int | None = None
    """Number of the lap that is taught; None for the best one."""
    notes: Notes = ()
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
    text = json.dumps(_to_json(project), ensure_ascii=False, indent=2) + "\n"
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    except OSError as error:
        raise _not_saved(path, error) from error
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
        Path(temporary).replace(path)
    except OSError as error:
        raise _not_saved(path, error) from error
    finally:
        Path(temporary).unlink(missing_ok=True)


def _not_saved(path: Path, error: OSError) -> ProjectError:
    return ProjectError(
        f"the project cannot be saved ({describe_os_error(error)})",
        "Choose a folder that exists and that you may write to, with room on the disk; the old document is unchanged.",
        where=path,
    )


class _Fault(Exception):
    """Something in the document is not as it must be."""


_UPGRADES: Mapping[int, Callable[[Json], Json]] = {}
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


def _to_json(project: Project) -> Json:
    return {
        "format": FORMAT,
        "schema": SCHEMA,
        "recording": asdict(project.recording),
        "log": asdict(project.log),
        "roles": dict(project.roles),
        "column_units": dict(project.column_units),
        "units": project.units,
        "marks": [asdict(mark) for mark in project.marks],
        "clock": None if project.clock is None else asdict(project.clock),
        "lap": project.lap,
        "notes": [asdict(note) for note in project.notes],
        "notes_made": project.notes_made,
    }


def _from_json(document: Json) -> Project:
    notes = tuple(_note(item, f"notes[{i}]") for i, item in enumerate(_list(document, "notes", "")))
    keys = [note.key for note in notes]
    if len(set(keys)) < len(keys):
        raise _Fault("two notes have the same key")
    units = _text(document, "units", "")
    if units not in ("metric", "imperial"):
        raise _Fault(f"“units” is “{units}”, not metric or imperial")
    lap = _get(document, "lap", "")
    if lap is not None and not isinstance(lap, int):
        raise _Fault("“lap” is not a number")
    return Project(
        recording=_media(_dict(document, "recording", "")),
        log=_media(_dict(document, "log", "")),
        roles=_texts(document, "roles"),
        column_units=_texts(document, "column_units"),
        units=cast("Units", units),
        marks=tuple(_mark(item, f"marks[{i}]") for i, item in enumerate(_list(document, "marks", ""))),
        clock=None if _get(document, "clock", "") is None else _clock(_dict(document, "clock", "")),
        lap=lap,
        notes=tuple(sorted(notes, key=lambda note: note.lap_distance_m)),
        notes_made=int(_number(document, "notes_made", "")),
    )


def _media(item: Json) -> MediaFile:
    place = "recording or log"
    size = int(_number(item, "size_bytes", place))
    return MediaFile(_text(item, "path", place), size, _text(item, "fingerprint", place))


def _mark(item: object, place: str) -> Mark:
    mark = _as_dict(item, place)
    lap = mark.get("lap")
    return Mark(_number(mark, "media_s", place), None if lap is None else int(_number(mark, "lap", place)))


def _clock(item: Json) -> SavedClock:
    numbers = _dict(item, "clock", "clock")
    names = ("offset_s", "rate", "pivot_log_s", "sigma_pivot_s", "sigma_rate")
    try:
        clock = ClockMap(**{name: _number(numbers, name, "clock") for name in names})
    except ValueError as error:
        raise _Fault(str(error)) from None
    doubts = tuple(str(doubt) for doubt in _list(item, "doubts", "clock"))
    return SavedClock(clock, _get(item, "sure", "clock") is True, _text(item, "basis", "clock"), doubts,
                      item.get("accepted") is True)  # fmt: skip


def _note(item: object, place: str) -> Note:
    note = _as_dict(item, place)
    origin = note.get("origin")
    if origin not in ("coach", "draft", "import"):
        raise _Fault(f"{place}.origin is “{origin}”")
    return Note(
        _text(note, "key", place),
        _number(note, "lap_distance_m", place),
        _text(note, "text", place),
        cast("Origin", origin),
        str(note.get("original", "")),
    )


def _as_dict(item: object, place: str) -> Json:
    if not isinstance(item, dict):
        raise _Fault(f"{place} is not an object")
    return item


def _get(item: Json, key: str, place: str) -> object:
    if key not in item:
        raise _Fault(f"“{f'{place}.{key}'.lstrip('.')}” is missing")
    return item[key]


def _dict(item: Json, key: str, place: str) -> Json:
    return _as_dict(_get(item, key, place), f"{place}.{key}".lstrip("."))


def _list(item: Json, key: str, place: str) -> list[object]:
    value = _get(item, key, place)
    if not isinstance(value, list):
        raise _Fault(f"“{f'{place}.{key}'.lstrip('.')}” is not a list")
    return value


def _text(item: Json, key: str, place: str) -> str:
    value = _get(item, key, place)
    if not isinstance(value, str):
        raise _Fault(f"“{f'{place}.{key}'.lstrip('.')}” is not a text")
    return value


def _number(item: Json, key: str, place: str) -> float:
    value = _get(item, key, place)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _Fault(f"“{f'{place}.{key}'.lstrip('.')}” is not a number")
    return float(value)


def _texts(document: Json, key: str) -> dict[str, str]:
    return {str(name): str(value) for name, value in _dict(document, key, "").items()}
