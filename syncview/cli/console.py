"""How results, tables and progress look on a terminal."""

from __future__ import annotations

import argparse
import json
import sys
import time
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from syncview.progress import Progress

SUFFIX = ".syncview.json"

Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
"""What a command adds its parser to."""


def add_project(parser: argparse.ArgumentParser) -> None:
    """The PROJECT argument that nearly every command has."""
    parser.add_argument("project", metavar="PROJECT", type=project_path, help=f"the project ({SUFFIX} may be left out)")


def add_lap(parser: argparse.ArgumentParser) -> None:
    """The --lap option."""
    parser.add_argument(
        "--lap", type=int, metavar="N", help="this lap, by its number (otherwise the chosen or best one)"
    )


def add_json(parser: argparse.ArgumentParser) -> None:
    """The --json option."""
    parser.add_argument("--json", action="store_true", help="print one JSON value, for scripts")


def project_path(text: str) -> Path:
    """A project's path; `monday` means `monday.syncview.json`."""
    path = Path(text)
    return path if path.name.endswith(".json") else path.with_name(path.name + SUFFIX)


def print_json(value: Any) -> None:
    """One JSON value on standard output; numbers that are not finite become null."""
    from math import isfinite

    def plain(item: Any) -> Any:
        if isinstance(item, dict):
            return {str(key): plain(entry) for key, entry in item.items()}
        if isinstance(item, list | tuple):
            return [plain(entry) for entry in item]
        if isinstance(item, float):
            return item if isfinite(item) else None
        return str(item) if isinstance(item, Path) else item

    print(json.dumps(plain(value), ensure_ascii=False, indent=2))


def print_table(headings: Sequence[str], rows: Sequence[Sequence[str]], *, left: Sequence[int] = (0,)) -> None:
    """Columns under headings, numbers to the right; `left` names the columns of words."""
    cells = [list(headings), *([*row] for row in rows)]
    widths = [max(_width(row[i]) for row in cells) for i in range(len(headings))]
    for row in cells:
        line = "  ".join(_padded(cell, widths[i], to_left=i in left) for i, cell in enumerate(row))
        print(line.rstrip())


def _width(text: str) -> int:
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def _padded(text: str, width: int, *, to_left: bool) -> str:
    blanks = " " * (width - _width(text))
    return text + blanks if to_left else blanks + text


def warn(sentence: str) -> None:
    """A remark that is not an error, on standard error."""
    print(f"note: {sentence}", file=sys.stderr)


_BAR = 24


def add_progress(parser: argparse.ArgumentParser) -> None:
    """The --progress option of commands that other programs run."""
    parser.add_argument(
        "--progress",
        choices=("bar", "json"),
        default="bar",
        help="json: progress as JSON lines on standard error, for programs; a line 'stop' on standard input stops it",
    )


@contextmanager
def progress_shown(kind: str = "bar") -> Iterator[Progress]:
    """A reporter for slow work: a bar on a terminal, a line each quarter elsewhere; quiet for work under a second.

    Of `kind` `json` it talks to a program instead: see `syncview.cli.progress_lines`.
    """
    if kind == "json":
        from syncview.cli.progress_lines import ProgressLines

        yield ProgressLines().report
        return
    shown = _Shown()
    try:
        yield shown.report
    finally:
        shown.close()


class _Shown:
    def __init__(self) -> None:
        self._terminal = sys.stderr.isatty()
        self._begin = time.monotonic()
        self._drawn = 0.0
        self._quarter = -1
        self._what = ""

    def report(self, share: float, what: str) -> None:
        now = time.monotonic()
        if now - self._begin < 1.0:
            return
        if self._terminal:
            if now - self._drawn >= 0.1 or share >= 1.0:
                self._drawn = now
                filled = round(share * _BAR)
                left = _time_left(now - self._begin, share)
                print(
                    f"\r[{'#' * filled}{'.' * (_BAR - filled)}] {share:4.0%} {what}{left}\033[K",
                    end="",
                    file=sys.stderr,
                )
        elif (what, int(share * 4)) != (self._what, self._quarter):
            self._what, self._quarter = what, int(share * 4)
            print(f"{share:4.0%} {what}", file=sys.stderr)
        sys.stderr.flush()

    def close(self) -> None:
        if self._terminal and self._drawn:
            print("\r\033[K", end="", file=sys.stderr)


def _time_left(spent_s: float, share: float) -> str:
    if share < 0.02 or share >= 1.0:
        return ""
    left = round(spent_s * (1 - share) / share)
    return f", {left // 60}:{left % 60:02d} left"


def pairs(texts: Sequence[str], option: str) -> dict[str, str]:
    """`NAME=VALUE` options as a dict; raises `SyncviewError` for one without `=`."""
    from syncview.errors import SyncviewError

    result = {}
    for text in texts:
        name, equals, value = text.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise SyncviewError(f"{option} {text} is not of the form NAME=VALUE", f"Write it as {option} NAME=VALUE.")
        result[name.strip()] = value.strip()
    return result
