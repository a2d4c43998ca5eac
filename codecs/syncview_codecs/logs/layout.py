"""Where the heading of a delimited text stands, and with which separator and decimal mark it is written."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from syncview_codecs.logs.units import is_unit_text

SEPARATORS = (",", ";", "\t", "|")
MOST_LINES = 400
"""Opening lines in which the heading is looked for."""
LONG_RUN = 100
"""Samples below each other after which no other table is looked for."""
MOST_COLUMNS = 5000
LONGEST_LINE = 200_000
"""Characters; a longer opening line is taken for no heading and no sample."""
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")
_DATE = r"(\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})"
_CLOCK = re.compile(
    rf"^({_DATE}|({_DATE}[T ]\s*)?\d+:\d\d(:\d\d)?([.,]\d+)?\s*([AaPp]\.?[Mm]\.?)?(Z|[+-]\d\d:?\d\d)?)$"
)
_BLANKS = {"", "nan", "NaN", "NA", "n/a", "null", "-", "--", "---"}


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
    spaced: bool
    """Whether blanks follow separators (leaving them to the parser everywhere would cost a fifth of its time)."""


@dataclass(frozen=True, slots=True)
class _Found:
    layout: Layout
    cells: int
    """Cells of the samples under the heading, as far as the opening goes."""


def find_layout(lines: Sequence[str]) -> Layout | None:
    """Find heading and separator in the opening lines; None when no heading stands over numbers.

    Every separator is tried. The widest table wins, since a wrong separator gives a single column; of several tables
    below each other (a summary before the samples) the one that goes on longest.
    """
    lines = [line if len(line) <= LONGEST_LINE else "" for line in lines[:MOST_LINES]]
    found = [best for separator in SEPARATORS if (best := _with_separator(lines, separator)) is not None]
    best = max(found, key=lambda one: (len(one.layout.names), one.cells), default=None)
    return None if best is None else best.layout


def looks_numeric(field: str) -> bool:
    """Whether a field is a number, a date or a time of day."""
    text = field.strip()
    return bool(_NUMBER.match(text) or _CLOCK.match(text))


def _with_separator(lines: Sequence[str], separator: str) -> _Found | None:
    if not any(separator in line for line in lines):
        return None
    return max(_tables(lines, separator), key=lambda one: one.cells, default=None)


def _tables(lines: Sequence[str], separator: str) -> Iterator[_Found]:
    rows, are_data = _opening_rows(lines, separator)
    for i in range(1, len(rows)):
        if are_data[i] and not are_data[i - 1]:
            head = _heading_above(rows, i)
            if head is None:
                continue
            names, units = head
            end = next((k for k in range(i, len(rows)) if not are_data[k]), len(rows))
            decimal = _decimal_mark(rows[i : i + 50], separator)
            spaced = any(f"{separator} " in line for line in lines[i:end])
            yield _Found(Layout(separator, decimal, tuple(names), units, i + 1, spaced), (end - i) * len(names))


def _opening_rows(lines: Sequence[str], separator: str) -> tuple[list[list[str]], list[bool]]:
    """Fields of the lines and whether they are samples, until `LONG_RUN` samples stand one below the other."""
    rows: list[list[str]] = []
    are_data: list[bool] = []
    run = 0
    for line in lines:
        rows.append(_split(line, separator))
        are_data.append(_is_data(rows[-1]))
        run = run + 1 if are_data[-1] else 0
        if run == LONG_RUN:
            break
    return rows, are_data


def _split(line: str, separator: str) -> list[str]:
    if line.lstrip(" ").startswith("#"):
        line = line.lstrip(" ").lstrip("#")
    try:
        return [field.strip() for field in next(csv.reader([line], delimiter=separator), [])]
    except csv.Error:  # a field beyond the module's limit
        return []


def _is_data(row: Sequence[str]) -> bool:
    """Two fields or more, most of those that are filled being numbers."""
    filled = [field for field in row if field not in _BLANKS]
    return len(row) >= 2 and bool(filled) and sum(map(looks_numeric, filled)) >= 0.6 * len(filled)


def _heading_above(rows: Sequence[Sequence[str]], data: int) -> tuple[list[str], tuple[str, ...] | None] | None:
    """The heading over row `data`, and the units row between them if there is one."""
    above = [row for row in rows[max(0, data - 4) : data] if any(row)]
    if not above:
        return None
    last = _fitted(above[-1], rows[data])
    if last is None or not _are_names(last):
        return None
    upper = _fitted(above[-2], rows[data]) if len(above) >= 2 else None
    if upper is not None and any(upper) and _are_names(upper) and _are_units(last):
        return upper, tuple(last)
    return last, None


def _fitted(heading: Sequence[str], sample: Sequence[str]) -> list[str] | None:
    """The heading at the width of the samples: separators at the ends of lines make columns that are blank."""
    surplus = len(sample) - len(heading)
    if surplus > 0 and not any(sample[len(heading) :]):
        return [*heading, *[""] * surplus]
    if surplus < 0 and not any(heading[len(sample) :]):
        return list(heading[: len(sample)])
    return list(heading) if surplus == 0 and len(sample) <= MOST_COLUMNS else None


def _are_names(row: Sequence[str]) -> bool:
    return any(field for field in row) and not any(_NUMBER.match(field) for field in row if field != "1")


def _are_units(row: Sequence[str]) -> bool:
    """Whether most of the filled fields are units."""
    filled = [field.strip("[]()") for field in row if field]
    return 2 * sum(map(is_unit_text, filled)) > len(filled)


def _decimal_mark(rows: Sequence[Sequence[str]], separator: str) -> str:
    """A comma when numbers are written with one and never with a point.

    Where the comma also separates, numbers with it stand in quotes; groups of three digits could be thousands, so
    another count of digits has to show that it is the decimal mark.
    """
    fields = [field for row in rows for field in row if _NUMBER.match(field)]
    with_comma = [field for field in fields if "," in field]
    if not with_comma or any("." in field for field in fields):
        return "."
    if separator == "," and all(re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", field) for field in with_comma):
        return "."
    return ","
