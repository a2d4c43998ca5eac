"""Where the heading of a delimited text stands, and with which separator and decimal mark it is written."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

SEPARATORS = (",", ";", "\t", "|")
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")
_CLOCK = re.compile(r"^(\d{4}-\d\d-\d\d[T ])?\d{1,2}:\d\d(:\d\d)?([.,]\d+)?(Z|[+-]\d\d:?\d\d)?$")
_BLANKS = {"", "nan", "NaN", "NA", "n/a", "null", "-"}


@dataclass(frozen=True, slots=True)
class Layout:
    """How a delimited text is written."""

    separator: str
    decimal: str
    names: tuple[str, ...]
    """Headings as written, one per column."""
    units: tuple[str, ...] | None
    """A row of units below the heading, where there is one."""
    first_data_line: int
    """1-based line of the first sample."""


def find_layout(lines: Sequence[str]) -> Layout | None:
    """Find heading and separator in the opening lines; None when no heading stands over numbers.

    Every separator is tried; the one that gives the widest table wins, since a wrong one gives a single column.
    """
    found = [layout for separator in SEPARATORS if (layout := _with_separator(lines, separator)) is not None]
    return max(found, key=lambda layout: len(layout.names), default=None)


def looks_numeric(field: str) -> bool:
    """Whether a field is a number or a time of day."""
    text = field.strip()
    return bool(_NUMBER.match(text) or _CLOCK.match(text))


def _with_separator(lines: Sequence[str], separator: str) -> Layout | None:
    rows = [_split(line, separator) for line in lines]
    for i in range(1, len(rows)):
        if _is_data(rows[i]) and not _is_data(rows[i - 1]):
            head = _heading_above(rows, i)
            if head is not None:
                names, units = head
                return Layout(separator, _decimal_mark(rows[i : i + 50], separator), tuple(names), units, i + 1)
    return None


def _split(line: str, separator: str) -> list[str]:
    if line.lstrip().startswith("#"):
        line = line.lstrip().lstrip("#")
    return [field.strip() for field in next(csv.reader([line], delimiter=separator), [])]


def _is_data(row: Sequence[str]) -> bool:
    """Two fields or more, most of those that are filled being numbers."""
    filled = [field for field in row if field not in _BLANKS]
    return len(row) >= 2 and bool(filled) and sum(map(looks_numeric, filled)) >= 0.6 * len(filled)


def _heading_above(rows: Sequence[Sequence[str]], data: int) -> tuple[list[str], tuple[str, ...] | None] | None:
    """The heading over row `data`, and the units row between them if there is one."""
    width = len(rows[data])
    above = [row for row in rows[max(0, data - 4) : data] if any(row)]
    if not above or len(above[-1]) != width or not _are_names(above[-1]):
        return None
    upper = above[-2] if len(above) >= 2 else ()
    if len(upper) == width and all(upper) and _are_names(upper) and len(set(upper)) == width:
        return list(upper), tuple(above[-1])
    return list(above[-1]), None


def _are_names(row: Sequence[str]) -> bool:
    return any(field for field in row) and not any(_NUMBER.match(field) for field in row if field != "1")


def _decimal_mark(rows: Sequence[Sequence[str]], separator: str) -> str:
    """A comma when numbers are written with one and the separator is another sign."""
    if separator == ",":
        return "."
    fields = [field for row in rows for field in row if _NUMBER.match(field)]
    return "," if any("," in field for field in fields) and not any("." in field for field in fields) else "."
