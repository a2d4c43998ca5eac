"""The cells of a delimited text as columns: parsed in pieces by pandas, put together one column at a time.

Whole-table parsing would hold the text, the table and its converted copy at once; here the peak is the columns
themselves and one piece.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import is_blank, refuse_large, shown
from syncview_codecs.logs.layout import Layout
from syncview_codecs.logs.number_texts import numbers_of
from syncview_codecs.logs.table import FloatArray, Skipped
from syncview_codecs.logs.text_source import UNREADABLE, Encoding, TextSource

if TYPE_CHECKING:
    from collections.abc import Iterator

    import pandas as pd

CELLS_AT_ONCE = 3_000_000
"""Of one piece, 24 MB as float64: below it, time goes into asking for memory again and again."""
MOST_CELL_REPORTS = 20
"""Unreadable cells listed one by one for each column; the rest are counted."""
MOST_LINE_REPORTS = 200
_BLANK_SIGNS = ["-", "--", "---"]


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """One column's numbers."""

    values: FloatArray | None
    """Shape (n,), NaN for blanks; None when most cells are words or all are blank."""
    faults: list[tuple[int, str]]
    """Line and words of cells that are no numbers."""
    has_words: bool


@dataclass(slots=True)
class _Pieces:
    """A column while it is being read."""

    arrays: list[FloatArray] = field(default_factory=list)
    faults: list[tuple[int, str]] = field(default_factory=list)
    """Row and words."""
    bad: int = 0


@dataclass(slots=True)
class Columns:
    """Every column of the file, freed one by one as they are taken."""

    raw: dict[int, pd.Series[float]]
    """Columns kept as written, for the clock."""
    skipped: list[Skipped]
    warnings: list[str]
    _pieces: list[_Pieces]
    _first_data_line: int
    _bad_lines: list[int]

    def line_of(self, row: int) -> int:
        """The 1-based line in the file of a row; lines that were passed over have no row."""
        line = self._first_data_line + row
        for bad in self._bad_lines:
            if bad > line:
                break
            line += 1
        return line

    def take(self, index: int) -> Column:
        """The column; it can be taken once."""
        pieces, self._pieces[index] = self._pieces[index], _Pieces()
        has_words = pieces.bad > 0
        values = np.concatenate(pieces.arrays) if pieces.arrays else np.empty(0)
        if is_blank(values) or (pieces.bad and pieces.bad > np.count_nonzero(~np.isnan(values))):
            return Column(None, [], has_words)
        faults = [(self.line_of(row), words) for row, words in pieces.faults]
        if pieces.bad > MOST_CELL_REPORTS:
            line, _ = faults[MOST_CELL_REPORTS]
            faults = [*faults[:MOST_CELL_REPORTS], (line, f"and {pieces.bad - MOST_CELL_REPORTS} more such: one cell")]
        return Column(values, faults, has_words)

    def copy(self, index: int) -> FloatArray | None:
        """The column's numbers, left in place; None where there are none."""
        arrays = self._pieces[index].arrays
        return np.concatenate(arrays) if arrays else None


def parse_columns(path: Path, encoding: Encoding, layout: Layout, *, kept_raw: tuple[int, ...]) -> Columns:
    """Parse every sample of the file.

    Columns in `kept_raw` are given as written, too. Lines with too many fields, a last line that is cut short, and
    zero bytes are told in `skipped` and `warnings`. Raises `CodecError` when quotes do not close.
    """
    import pandas as pd

    width = len(layout.names)
    pieces = [_Pieces() for _ in range(width)]
    raw: dict[int, list[pd.Series[float]]] = {i: [] for i in kept_raw}
    rows = 0
    with path.open("rb") as stream, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        _skip_lines(stream, encoding, layout.first_data_line - 1)
        source = TextSource(stream, encoding)
        for frame in _frames(source, layout, path.name):
            refuse_large(rows + len(frame), width, path.name)
            for i in range(width):
                _add(pieces[i], frame[str(i)], layout, rows)
                if i in raw:
                    raw[i].append(frame[str(i)])
            rows += len(frame)
            del frame
    bad, skipped = _bad_lines([str(warning.message) for warning in caught], layout)
    whole = {
        i: pd.concat(parts, ignore_index=True) if parts else pd.Series(dtype="float64") for i, parts in raw.items()
    }
    columns = Columns(whole, skipped, _nul_notes(source), pieces, layout.first_data_line, bad)
    if rows and _is_cut_short(source.tail, layout):
        columns.skipped.append(Skipped(columns.line_of(rows - 1), "the last line is cut short"))
        _drop_last(columns)
    return columns


def _skip_lines(stream: IO[bytes], encoding: Encoding, count: int) -> None:
    """Leave the stream at the first byte of the line after `count` lines, however lines end."""
    unit = {"utf-16-le": (b"\r\0", b"\n\0"), "utf-16-be": (b"\0\r", b"\0\n")}.get(encoding.codec, (b"\r", b"\n"))
    wide = len(unit[0])
    stream.seek(encoding.mark_bytes)
    data, at, offset = stream.read(1 << 20), 0, encoding.mark_bytes
    while count and at < len(data):
        sign = data[at : at + wide]
        at += wide
        if sign == unit[0] and data[at : at + wide] == unit[1]:
            at += wide
        count -= sign in unit
    stream.seek(offset + at)


def _frames(source: TextSource, layout: Layout, name: str) -> Iterator[pd.DataFrame]:
    import pandas as pd

    width = len(layout.names)
    readable: Any = source  # pandas needs `read` and iteration alone, its stubs ask for more
    try:
        with pd.read_csv(
            readable,
            sep=layout.separator,
            decimal="." if layout.separator == layout.decimal else layout.decimal,
            header=None,
            names=[str(i) for i in range(width)],
            index_col=False,
            skip_blank_lines=False,
            skipinitialspace=layout.spaced,
            na_values=_BLANK_SIGNS,
            on_bad_lines="warn",
            chunksize=max(1000, CELLS_AT_ONCE // width),
        ) as reader:
            yield from reader
    except pd.errors.EmptyDataError:
        return
    except (pd.errors.ParserError, ValueError, OverflowError) as error:
        raise CodecError(
            f"the samples cannot be read ({shown(str(error))})",
            "Look for a quotation mark that is not closed, or export the log again.",
            name=name,
        ) from error


def _add(pieces: _Pieces, column: pd.Series[float], layout: Layout, first_row: int) -> None:
    """Add one piece of a column as float64."""
    if column.dtype.kind in "fiub":
        values: FloatArray = np.array(column, dtype=np.float64)
    else:
        values = _from_words(pieces, column, layout, first_row)
    pieces.arrays.append(values)


def _from_words(pieces: _Pieces, column: pd.Series[float], layout: Layout, first_row: int) -> FloatArray:
    text = column.astype("string").str.strip()
    values = numbers_of(text, layout.decimal)
    written = text.notna().to_numpy() & (text != "").to_numpy(dtype=bool, na_value=False)
    bad = np.flatnonzero(written & np.isnan(values))
    pieces.bad += int(bad.size)
    room = max(0, MOST_CELL_REPORTS + 1 - len(pieces.faults))
    pieces.faults.extend((first_row + int(k), f"“{shown(str(text.iloc[int(k)]))}”") for k in bad[:room])
    return values


def _bad_lines(messages: list[str], layout: Layout) -> tuple[list[int], list[Skipped]]:
    """Lines with too many fields, and what to say of them."""
    found = [
        (layout.first_data_line - 1 + int(line), seen)
        for message in messages
        for line, _, seen in re.findall(r"Skipping line (\d+): expected (\d+) fields, saw (\d+)", message)
    ]
    notes = [Skipped(line, f"{seen} fields where the heading has {len(layout.names)}")
             for line, seen in found[:MOST_LINE_REPORTS]]  # fmt: skip
    if len(found) > MOST_LINE_REPORTS:
        notes.append(Skipped(None, f"{len(found) - MOST_LINE_REPORTS} more lines have too many fields"))
    return sorted(line for line, _ in found), notes


def _nul_notes(source: TextSource) -> list[str]:
    notes = []
    if source.trailing_nuls:
        notes.append(f"the file ends in {source.trailing_nuls} zero bytes, as when power fails while it is written")
    if source.inner_nuls:
        notes.append(f"there are {source.inner_nuls} zero bytes in the samples (shown as {UNREADABLE})")
    return notes


def _is_cut_short(tail: str, layout: Layout) -> bool:
    return bool(tail.strip()) and tail.count(layout.separator) < len(layout.names) - 1 and '"' not in tail


def _drop_last(columns: Columns) -> None:
    for pieces in columns._pieces:
        pieces.arrays[-1] = pieces.arrays[-1][:-1]
    columns.raw = {i: column.iloc[:-1] for i, column in columns.raw.items()}
