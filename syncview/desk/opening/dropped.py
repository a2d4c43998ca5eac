"""What kinds of file were dropped on the window. Knows no Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from syncview.errors import SyncviewError, describe_os_error

Kind = Literal["project", "recording", "log"]

_BINARY_LOGS = (b"PAR1", b"MDF     ", b"UnFinMF ")
"""Opening bytes of logs that are not text (Apache Parquet; ASAM MDF, finished or not)."""
_PEEK_BYTES = 4096


@dataclass(frozen=True, slots=True)
class Dropped:
    """What can be made of it."""

    project: Path | None = None
    recording: Path | None = None
    log: Path | None = None
    remarks: tuple[str, ...] = ()
    """What was left aside, each a sentence without its full stop."""


def kind_of(path: Path) -> Kind:
    """What a file is by its first bytes: text that holds a project, other text (a log), or neither (a recording).

    Raises `SyncviewError` when it cannot be read or is empty.
    """
    if path.is_dir():
        raise SyncviewError("this is a folder", "Give the file inside it.", where=path.name)
    try:
        with path.open("rb") as stream:
            head = stream.read(_PEEK_BYTES)
    except OSError as error:
        raise SyncviewError(describe_os_error(error), "Check that the file may be read.", where=path.name) from error
    if not head:
        raise SyncviewError("the file is empty", "Give another.", where=path.name)
    if head.startswith(_BINARY_LOGS):
        return "log"
    if not _is_text(head):
        return "recording"
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n")
    return "project" if start.startswith(b"{") and b'"syncview project"' in head else "log"


def _is_text(head: bytes) -> bool:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    control = sum(byte < 9 or 13 < byte < 32 for byte in head)
    return control == 0


def sorted_out(paths: list[Path]) -> Dropped:
    """The first project, recording and log of what was dropped; a project goes before the others."""
    found: dict[Kind, Path] = {}
    remarks = []
    for path in paths:
        try:
            kind = kind_of(path)
        except SyncviewError as error:
            remarks.append(f"{error.where}: {error.problem}")
            continue
        if kind in found:
            remarks.append(f"{path.name} was left aside: there is a {kind} already, {found[kind].name}")
        else:
            found[kind] = path
    if "project" in found:
        others = [path.name for kind, path in found.items() if kind != "project"]
        remarks += [f"{name} was left aside: a project knows its own recording and log" for name in others]
        return Dropped(project=found["project"], remarks=tuple(remarks))
    return Dropped(recording=found.get("recording"), log=found.get("log"), remarks=tuple(remarks))
