"""What the program and the process that makes small pictures say to each other, as pickles over pipes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from syncview.errors import SyncviewError
from syncview.media.recording import Recording


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """What the child is to do."""

    recording: Recording
    identity: bytes
    folder: Path
    budget_bytes: int
    near: int
    """Frame at the playhead."""


@dataclass(frozen=True, slots=True)
class Near:
    """To the child: the playhead is at this frame now."""

    number: int


@dataclass(frozen=True, slots=True)
class Again:
    """To the child: a file is of no use and was removed."""

    name: str


@dataclass(frozen=True, slots=True)
class Made:
    """From the child: these files are there now."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Told:
    """From the child: it gives up, and why."""

    fault: SyncviewError


Order = Near | Again
Report = Made | Told
