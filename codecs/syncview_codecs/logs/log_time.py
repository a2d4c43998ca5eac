"""The log's own clock: which column it is, and its values as seconds that only run forward."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.table import FloatArray, Skipped
from syncview_codecs.logs.units import conversion

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

_TIME_NAMES = (
    r"time|t",
    r"(log|session|elapsed|relative|run|recording)[ _-]?time|elapsed|timestamps?|time[ _-]?stamp|seconds",
    r"(utc|gps|clock|absolute|local|date)[ _-]?time|time[ _-]?of[ _-]?day|utc|date ?time",
)
"""Headings of the time column, best first."""

DAY_S = 86400.0


@dataclass(frozen=True, slots=True, eq=False)
class TimeColumn:
    """The chosen column and its values."""

    index: int
    time_s: FloatArray
    """Shape (kept,), strictly ascending, seconds."""
    kept: NDArray[np.intp]
    """Rows of the file's data that have a time of their own."""
    skipped: tuple[Skipped, ...]
    warnings: tuple[str, ...]


def choose_time(
    frame: pd.DataFrame, headings: Sequence[tuple[str, str]], first_data_line: int, file_name: str
) -> TimeColumn:
    """Find the time column among (name, unit text) headings and read it.

    Raises `CodecError` when there is none, when it cannot be read, or when time runs backwards.
    """
    index = _find(headings)
    if index is None:
        names = ", ".join(name for name, _ in headings[:12])
        raise CodecError(
            f"no column is headed “time” (columns: {names})",
            "Export the log with its time, or head that column “time [s]”.",
            name=file_name,
        )
    raw, notes = _seconds(frame[str(index)], headings[index], file_name)
    rows = np.flatnonzero(np.isfinite(raw))
    if rows.size < 2:
        raise CodecError(
            f"column “{headings[index][0]}” holds fewer than two times",
            "Check that the whole log was exported.",
            name=file_name,
        )
    time_s = _unwrap_midnight(raw[rows]) if notes.of_day else raw[rows]
    _refuse_backwards(time_s, rows, first_data_line, file_name)
    fresh = np.concatenate(([True], np.diff(time_s) > 0))
    skipped = [Skipped(first_data_line + int(k), "no time") for k in _missing(raw)]
    repeated = int((~fresh).sum())
    if repeated:
        first = first_data_line + int(rows[~fresh][0])
        skipped.append(Skipped(first, f"{repeated} line(s) repeat the time of the line before"))
    return TimeColumn(index, time_s[fresh], rows[fresh], tuple(skipped), notes.warnings)


@dataclass(frozen=True, slots=True)
class _Notes:
    of_day: bool = False
    warnings: tuple[str, ...] = ()


def _find(headings: Sequence[tuple[str, str]]) -> int | None:
    for pattern in _TIME_NAMES:
        for i, (name, unit) in enumerate(headings):
            known = conversion(unit)
            if re.fullmatch(pattern, name.strip(), re.IGNORECASE) and (known is None or known.si_unit == "s"):
                return i
    return None


def _missing(raw: FloatArray) -> NDArray[np.intp]:
    """Rows without a time, trailing blank lines apart."""
    finite = np.flatnonzero(np.isfinite(raw))
    rows = np.flatnonzero(~np.isfinite(raw[: finite[-1]]))
    return rows[:50]


def _seconds(column: pd.Series[float], heading: tuple[str, str], name: str) -> tuple[FloatArray, _Notes]:
    title, unit = heading
    if column.dtype.kind in "fiu":
        values = np.asarray(column, dtype=np.float64)
        known = conversion(unit)
        if known is not None and known.si_unit == "s":
            return known.to_si(values), _Notes()
        if unit:
            raise CodecError(
                f"the unit “{unit}” of column “{title}” is not known", "Write it as s, ms or min.", name=name
            )
        return values, _Notes(warnings=(f"column “{title}” states no unit; its values are taken as seconds",))
    return _clock_texts(column, title, name)


def _clock_texts(column: pd.Series[float], title: str, name: str) -> tuple[FloatArray, _Notes]:
    """Times written as `12:35:19.25`, `5:19.25` or with a date (ISO 8601)."""
    import pandas as pd

    text = column.astype("string").str.strip().str.replace(",", ".", regex=False)
    first = next((value for value in text if isinstance(value, str) and value), "")
    if re.match(r"\d{4}-\d\d-\d\d", first):
        stamps = pd.to_datetime(text, utc=True, errors="coerce", format="ISO8601")
        since = (stamps - stamps.dropna().iloc[0]).dt.total_seconds() if stamps.notna().any() else None
        if since is not None:
            return np.asarray(since, dtype=np.float64), _Notes(
                warnings=(f"the log's clock counts from {first}, the first time written",)
            )
    parts = text.str.extract(r"^(?:(\d+):)?(\d+):(\d+(?:\.\d+)?)$").astype("Float64")
    seconds = parts[0].fillna(0) * 3600 + parts[1] * 60 + parts[2]
    values = np.asarray(seconds.to_numpy(dtype=float, na_value=np.nan), dtype=np.float64)
    if np.isfinite(values).sum() < 2:
        raise CodecError(
            f"“{first}” in column “{title}” is not a time that can be read",
            "Write seconds (12.34), hours:minutes:seconds (0:01:02.5) or ISO 8601 (2030-01-01T10:00:00Z).",
            name=name,
        )
    return values, _Notes(of_day=True)


def _unwrap_midnight(time_s: FloatArray) -> FloatArray:
    """Add a day where a time of day falls from late evening to early morning."""
    steps = np.diff(time_s)
    return time_s + np.concatenate(([0.0], np.cumsum(np.where(steps < -DAY_S / 2, DAY_S, 0.0))))


def _refuse_backwards(time_s: FloatArray, rows: NDArray[np.intp], first_data_line: int, file_name: str) -> None:
    back = np.flatnonzero(np.diff(time_s) < 0)
    if back.size:
        k = int(back[0])
        raise CodecError(
            f"time goes back from {time_s[k]:.3f} s to {time_s[k + 1]:.3f} s",
            "Split the file there, or remove the line if it is a fault.",
            name=file_name,
            line=first_data_line + int(rows[k + 1]),
        )
