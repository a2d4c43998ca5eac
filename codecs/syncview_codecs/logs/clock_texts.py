"""Times written as words: hours:minutes:seconds, with or without a date, ISO 8601; and numbers that count from 1970."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import shown
from syncview_codecs.logs.table import FloatArray

if TYPE_CHECKING:
    import pandas as pd

DAY_S = 86400.0
EPOCH_UNITS = {"s": (1.0, "seconds"), "ms": (1e-3, "milliseconds"), "us": (1e-6, "microseconds"),
               "ns": (1e-9, "nanoseconds")}  # fmt: skip
_EPOCH_YEARS_S = (946_684_800.0, 4_102_444_800.0)
"""2000-01-01 and 2100-01-01 in seconds since 1970 (POSIX): no run lasts as long as the least of these."""
_OF_DAY = (
    r"^(?:(?P<date>\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})[ T,]+)?"
    r"(?:(?:(?P<hour>\d+):)?(?P<minute>\d+):)?(?P<second>\d+(?:\.\d*)?)\s*(?P<half>[AaPp]\.?[Mm]\.?)?$"
)


def epoch_unit(values: FloatArray, scale_s: float | None) -> str | None:
    """Which unit since 1970 the numbers are in, or None when they are not such stamps.

    Seconds, milliseconds, microseconds and nanoseconds of this century are a factor of 1000 apart, while their ranges
    are narrower than 5: no number fits two. A stated unit (`scale_s`) must agree.
    """
    first = float(values[np.isfinite(values)][0])
    for name, (scale, _) in EPOCH_UNITS.items():
        agrees = scale_s is None or np.isclose(scale, scale_s)
        if agrees and _EPOCH_YEARS_S[0] <= first * scale < _EPOCH_YEARS_S[1]:
            return name
    return None


def clock_texts(column: pd.Series[float], title: str, name: str) -> tuple[FloatArray, bool, tuple[str, ...]]:
    """Seconds of `12:35:19.25`, `5:19.25`, `1:02:03 PM` or of a date with time; whether of day; what was assumed.

    The day before a time of day is not read where it is not ISO 8601 (day and month could be either way round): the
    time of day is what counts, and midnight is seen from its falling back.
    """
    import pandas as pd

    text = column.astype("string").str.strip().str.replace(",", ".", regex=False)
    first = next((value for value in text if isinstance(value, str) and value), "")
    if re.match(r"\d{4}-\d\d-\d\d", first):
        stamps = pd.to_datetime(text, utc=True, errors="coerce", format="ISO8601")
        if stamps.notna().any():
            since = (stamps - stamps.dropna().iloc[0]).dt.total_seconds()
            assumed = f"the log's clock counts from {shown(first)}, the first time written"
            return np.asarray(since, dtype=np.float64), False, (assumed,)
    values = _seconds_of_day(text)
    if np.isfinite(values).sum() < 2:
        raise CodecError(
            f"“{shown(first)}” in column “{title}” is not a time that can be read",
            "Write seconds (12.34), hours:minutes:seconds (0:01:02.5) or ISO 8601 (2030-01-01T10:00:00Z).",
            name=name,
        )
    return values, True, ()


def _seconds_of_day(text: pd.Series[str]) -> FloatArray:
    """Seconds of each text, NaN where it is none; twelve-hour clocks by their AM and PM.

    Seconds alone count, too: some write minutes only where there are any.
    """
    parts = text.str.extract(_OF_DAY)
    hour, minute, second = (
        np.asarray(parts[key].astype("Float64").to_numpy(dtype=float, na_value=np.nan), dtype=np.float64)
        for key in ("hour", "minute", "second")
    )
    half = parts["half"].str.replace(".", "", regex=False).str.upper()
    afternoon = (half == "PM").to_numpy(dtype=bool, na_value=False)
    twelve = half.notna().to_numpy(dtype=bool)
    hour = np.where(twelve, np.mod(hour, 12) + 12 * afternoon, np.nan_to_num(hour, nan=0.0))
    return np.asarray(hour * 3600 + np.nan_to_num(minute) * 60 + second, dtype=np.float64)


def unwrap_midnight(time_s: FloatArray) -> FloatArray:
    """Add a day where a time of day falls from late evening to early morning."""
    steps = np.diff(time_s)
    return time_s + np.concatenate(([0.0], np.cumsum(np.where(steps < -DAY_S / 2, DAY_S, 0.0))))
