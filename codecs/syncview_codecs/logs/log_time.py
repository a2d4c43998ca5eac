"""The log's own clock: which column it is, and its values as seconds that only run forward."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.clock_texts import EPOCH_UNITS, clock_texts, epoch_unit, unwrap_midnight
from syncview_codecs.logs.columns import shown
from syncview_codecs.logs.number_texts import numbers_of
from syncview_codecs.logs.table import FloatArray, Skipped
from syncview_codecs.logs.units import conversion

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

_TIME_NAMES = (
    r"time|t",
    r"zeit|temps?|tiempo|tempo|tijd|tid|czas|aika|время|時間|时间",
    r"(log|session|elapsed|relative|run|recording|test)[ _-]?time|elapsed|timestamps?|time[ _-]?stamp|seconds|secs?",
    r"(utc|gps|gnss|clock|absolute|local|date|system|epoch|unix)[ _-]?time|time[ _-]?of[ _-]?day|utc|date[ /&+]*time"
    r"|uhrzeit|heure|hora|ora|epoch",
)
"""Headings of the time column, best first. Common practice, no source."""
_UNIT_BEHIND = re.compile(r"^(?P<name>.*[a-z])[ _](?P<unit>s|sec|ms|us|µs|ns|min)$", re.IGNORECASE)
_THOUSANDTHS = re.compile(r"(ms|msec|millis|milli[ _-]?sec(ond)?s?)", re.IGNORECASE)
LineOf = Callable[[int], int]
"""The 1-based line in the file of a 0-based row of its samples."""
COARSE_SHARE = 0.5
"""A column whose times repeat on more lines than this is too coarse to be the clock when there is another."""


@dataclass(frozen=True, slots=True, eq=False)
class TimeColumn:
    """The chosen column and its values."""

    index: int
    time_s: FloatArray
    """Shape (kept,), strictly ascending, seconds."""
    kept: NDArray[np.intp] | None
    """Rows of the file's data that have a time of their own; None when all have."""
    skipped: tuple[Skipped, ...]
    warnings: tuple[str, ...]


def time_candidates(headings: Sequence[tuple[str, str]], file_name: str) -> tuple[int, ...]:
    """Columns that may be the clock by (name, unit text), best first; raises `CodecError` when there is none."""
    found: list[int] = []
    for pattern in _TIME_NAMES:
        for i, (name, unit) in enumerate(headings):
            name, unit = _unit_behind(name, unit)
            known = conversion(unit)
            fits = known is None or known.si_unit == "s"
            if fits and i not in found and re.fullmatch(pattern, name.strip(), re.IGNORECASE):
                found.append(i)
    if not found:
        names = ", ".join(shown(name) for name, _ in headings[:12])
        raise CodecError(
            f"no column is headed “time” (columns: {names})",
            "Export the log with its time, or head that column “time [s]”.",
            name=file_name,
        )
    return tuple(found)


def thousandths_column(headings: Sequence[tuple[str, str]]) -> int | None:
    """The column that holds the thousandths of a clock written to the second, or None."""
    return next((i for i, (name, _) in enumerate(headings) if _THOUSANDTHS.fullmatch(name.strip())), None)


def choose_time(
    columns: Mapping[int, pd.Series[float]],
    headings: Sequence[tuple[str, str]],
    *,
    file_name: str,
    line_of: LineOf | None = None,
    decimal: str = ".",
    thousandths: FloatArray | None = None,
) -> TimeColumn:
    """Read the best of the columns that `time_candidates` named; `columns` holds those, raw, best first.

    A clock too coarse for the lines (it repeats on most) gives way to the next. Raises `CodecError` when the column
    cannot be read, or when time runs backwards. `line_of` gives a row's line and is None for files that have no lines.
    """
    coarse: TimeColumn | None = None
    fault: CodecError | None = None
    for index, written in columns.items():
        column = _as_numbers(written, decimal)
        try:
            found = _read(index, column, headings[index], file_name, line_of, thousandths)
        except CodecError as error:
            fault = fault or error
            continue
        if found.time_s.size >= (1 - COARSE_SHARE) * len(column):
            return found
        coarse = coarse or found
    if coarse is not None and (fault is None or len(columns) == 1):
        return coarse
    assert fault is not None  # `columns` is not empty, and each gave a clock or a fault
    raise fault


def _read(index: int, column: pd.Series[float], heading: tuple[str, str], file_name: str,
          line_of: LineOf | None, thousandths: FloatArray | None) -> TimeColumn:  # fmt: skip
    raw, of_day, warnings = _seconds(column, heading, file_name)
    if of_day and thousandths is not None and not np.any(np.mod(raw, 1)[np.isfinite(raw)]):
        raw = raw + thousandths / 1000
        warnings = (*warnings, "the thousandths are taken from the column beside the time")
    rows = np.flatnonzero(np.isfinite(raw))
    if rows.size < 2 or np.ptp(raw[rows]) == 0:
        raise CodecError(
            f"column “{shown(heading[0])}” holds fewer than two times",
            "Check that the whole log was exported.",
            name=file_name,
        )
    time_s = unwrap_midnight(raw[rows]) if of_day else raw[rows]
    _refuse_backwards(time_s, rows, line_of, file_name)
    fresh = np.concatenate(([True], np.diff(time_s) > 0))
    skipped = [Skipped(_line(line_of, k), "no time") for k in _missing(raw)]
    repeated = int((~fresh).sum())
    if repeated:
        first = _line(line_of, rows[~fresh][0])
        skipped.append(Skipped(first, f"{repeated} line(s) repeat the time of the line before"))
    if repeated > COARSE_SHARE * rows.size:
        warnings = (*warnings, f"only {int(fresh.sum())} of {rows.size} lines have a time of their own; the time of "
                    f"column “{shown(heading[0])}” may be written too coarsely")  # fmt: skip
    kept = rows[fresh]
    return TimeColumn(index, time_s[fresh], None if kept.size == raw.size else kept, tuple(skipped), warnings)


def _as_numbers(column: pd.Series[float], decimal: str) -> pd.Series[float]:
    """A column of words as numbers, where none of them is a clock's and most are numbers."""
    import pandas as pd

    if column.dtype.kind in "fiumM":
        return column
    text = column.astype("string").str.strip()
    written = int((text.fillna("") != "").sum())
    if text.str.contains(":", regex=False).fillna(False).any():
        return column
    numbers = numbers_of(text, decimal)
    return pd.Series(numbers) if 2 * np.isfinite(numbers).sum() > written else column


def _line(line_of: LineOf | None, row: int | np.intp) -> int | None:
    return None if line_of is None else line_of(int(row))


def _unit_behind(name: str, unit: str) -> tuple[str, str]:
    """`time_ms` as time in ms, where no unit is stated otherwise."""
    match = None if unit else _UNIT_BEHIND.match(name.strip())
    return (name, unit) if match is None else (match["name"], match["unit"])


def _missing(raw: FloatArray) -> NDArray[np.intp]:
    """Rows without a time, trailing blank lines apart."""
    finite = np.flatnonzero(np.isfinite(raw))
    rows = np.flatnonzero(~np.isfinite(raw[: finite[-1]]))
    return rows[:50]


def _seconds(column: pd.Series[float], heading: tuple[str, str], name: str) -> tuple[FloatArray, bool, tuple[str, ...]]:
    """Seconds, whether they are a time of day, and what had to be assumed."""
    if column.dtype.kind in "mM":
        return _stamps(column)
    if column.dtype.kind not in "fiu":
        return clock_texts(column, shown(heading[0]), name)
    title, unit = _unit_behind(*heading)
    known = conversion(unit)
    if unit and (known is None or known.si_unit != "s"):
        raise CodecError(
            f"the unit “{shown(unit)}” of column “{shown(title)}” is not known",
            "Write it as s, ms or min.",
            name=name,
        )
    values = np.asarray(column, dtype=np.float64)
    if not np.isfinite(values).any():
        return values, False, ()
    epoch = epoch_unit(values, None if known is None else known.scale)
    if epoch is not None:
        return _since_first(column, epoch)
    if known is None:
        return values, False, (f"column “{shown(title)}” states no unit; its values are taken as seconds",)
    return known.to_si(values), False, ()


def _since_first(column: pd.Series[float], epoch: str) -> tuple[FloatArray, bool, tuple[str, ...]]:
    """Seconds since the first stamp; whole numbers are subtracted as such, for nanoseconds exceed a float64."""
    import pandas as pd

    scale_s, words = EPOCH_UNITS[epoch]
    first = column.dropna().iloc[0]
    since = np.asarray((column - first).astype("float64"), dtype=np.float64) * scale_s
    stamp = pd.Timestamp(float(first) * scale_s, unit="s", tz="UTC")
    return since, False, (f"the log's clock counts from {stamp:%Y-%m-%dT%H:%M:%S}Z, the first time written; its "
                          f"values are {words} since 1970",)  # fmt: skip


def _stamps(column: pd.Series[float]) -> tuple[FloatArray, bool, tuple[str, ...]]:
    """Stamps with a type of their own (Parquet): durations as they are, moments since the first."""
    import pandas as pd

    if column.dtype.kind == "m":
        return np.asarray(pd.to_timedelta(column).dt.total_seconds(), dtype=np.float64), False, ()
    stamps = pd.to_datetime(column, utc=True)
    if stamps.notna().sum() == 0:
        return np.full(len(stamps), np.nan), False, ()
    first = stamps.dropna().iloc[0]
    since = np.asarray((stamps - first).dt.total_seconds(), dtype=np.float64)
    return since, False, (f"the log's clock counts from {first.isoformat()}, the first time written",)


def _refuse_backwards(time_s: FloatArray, rows: NDArray[np.intp], line_of: LineOf | None, file_name: str) -> None:
    back = np.flatnonzero(np.diff(time_s) < 0)
    if back.size:
        k = int(back[0])
        row = int(rows[k + 1])
        at_row = "" if line_of is not None else f" at row {row + 1}"
        raise CodecError(
            f"time goes back from {time_s[k]:.3f} s to {time_s[k + 1]:.3f} s{at_row}",
            "Split the file there, or remove the line if it is a fault.",
            name=file_name,
            line=_line(line_of, row),
        )
