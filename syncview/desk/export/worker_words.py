"""What a worker process says: its progress while it runs, and what came of it."""

from __future__ import annotations

import json
from collections import deque
from dataclasses import dataclass
from pathlib import Path

_FAULT = "syncview: "
STOPPED = 130
"""Exit code of work that was stopped by the person."""
_LAST_LINES = 8


@dataclass(frozen=True, slots=True)
class Reported:
    """How far the worker is."""

    share: float
    what: str


@dataclass(frozen=True, slots=True)
class Written:
    """What it wrote."""

    files: tuple[tuple[str, Path], ...]
    """Product and file."""
    remarks: tuple[str, ...]


class WorkerWords:
    """Takes a worker's standard error as it comes, in pieces of any length."""

    def __init__(self) -> None:
        self._rest = b""
        self.faults: list[str] = []
        """Sentences with which it gave up."""
        self.last_lines: deque[str] = deque(maxlen=_LAST_LINES)
        """What it said besides, the last lines of it."""

    def feed(self, part: bytes) -> Reported | None:
        """The latest progress in a piece; None when there is none."""
        *lines, self._rest = (self._rest + part).split(b"\n")
        latest = None
        for line in lines:
            latest = self._take(line.decode("utf-8", errors="replace").strip()) or latest
        return latest

    def end(self) -> None:
        """The stream ended: what came last need not have ended its line."""
        self.feed(b"\n")

    def _take(self, line: str) -> Reported | None:
        if line.startswith("{"):
            reported = _reported(line)
            if reported is not None:
                return reported
        if line.startswith(_FAULT):
            self.faults.append(line.removeprefix(_FAULT))
        elif line:
            self.last_lines.append(line)
        return None


def _reported(line: str) -> Reported | None:
    try:
        said = json.loads(line)
        share, what = float(said["share"]), str(said["what"])
    except (ValueError, KeyError, TypeError):
        return None
    return Reported(min(max(share, 0.0), 1.0), what) if share == share else None


def written_of(output: bytes) -> Written | None:
    """What a worker's standard output says was written; None when it does not say so."""
    try:
        said = json.loads(output.decode("utf-8"))
        files = tuple((str(one["product"]), Path(one["path"])) for one in said["files"])
        return Written(files, tuple(str(remark) for remark in said["remarks"]))
    except (ValueError, KeyError, TypeError):
        return None
