"""Delimited text (RFC 4180 and its many cousins): separator, decimal mark, heading and units are found, then said.

The heading may be preceded by any number of information lines and followed by a row of units. Units stand in the
heading (`speed [km/h]`, `speed (mph)`), in that row, or in a CSV on the Web description beside the file
(W3C *Metadata Vocabulary for Tabular Data*; the common property `unitText`, with or without a prefix).
"""

from __future__ import annotations

import io
import json
import re
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.layout import Layout, find_layout
from syncview_codecs.logs.log_time import TimeColumn, choose_time
from syncview_codecs.logs.table import Channel, FloatArray, LogTable, Skipped
from syncview_codecs.logs.units import conversion, split_heading

if TYPE_CHECKING:
    import pandas as pd

MOST_CELL_REPORTS = 20
"""Unreadable cells listed one by one for each column; the rest are counted."""


def sniff(opening: bytes) -> bool:
    """Whether the opening bytes are text with a heading and numbers below it."""
    text = _decode(opening)
    return text is not None and find_layout(text.splitlines()[:400]) is not None


def read(path: Path) -> LogTable:
    """Read a delimited-text log.

    Raises `CodecError` for a file without heading, numbers or time, and for time that runs backwards.
    """
    text = _decode(path.read_bytes())
    if text is None:
        raise CodecError("this is not text", "Export the log as delimited text (CSV).", name=path.name)
    layout = find_layout(text.splitlines()[:400])
    if layout is None:
        raise CodecError(
            "no heading with numbers below it was found",
            "The file needs one line of column names and then one line per sample.",
            name=path.name,
        )
    frame, skipped = _parse(text, layout)
    headings = _headings(layout, path)
    time = choose_time(frame, headings, layout.first_data_line, path.name)
    channels, column_notes = _channels(frame, headings, time, layout)
    return LogTable(
        name=path.name,
        time_s=time.time_s,
        channels=channels,
        skipped=(*skipped, *time.skipped, *column_notes),
        warnings=time.warnings,
    )


def _decode(data: bytes) -> str | None:
    """Text of the file: UTF-16 by its mark, UTF-8, else the Western code page; None for binary data."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    if b"\x00" in data[:4096]:
        return None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if error.start >= len(data) - 4:  # the sniffed opening may end inside a character
            return data[: error.start].decode("utf-8-sig")
    return data.decode("cp1252", errors="replace")


def _parse(text: str, layout: Layout) -> tuple[pd.DataFrame, list[Skipped]]:
    """The data rows as a frame of raw columns, with the lines that have too many or too few fields told apart."""
    import pandas as pd

    lines = text.splitlines()
    skipped: list[Skipped] = []
    last = lines[-1]
    if last.strip() and last.count(layout.separator) < len(layout.names) - 1 and '"' not in last:
        skipped.append(Skipped(len(lines), "the last line is cut short"))
        text = "\n".join(lines[:-1])
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        frame = pd.read_csv(
            io.StringIO(text),
            sep=layout.separator,
            decimal=layout.decimal,
            header=None,
            names=[str(i) for i in range(len(layout.names))],
            index_col=False,
            skiprows=layout.first_data_line - 1,
            skip_blank_lines=False,
            skipinitialspace=True,
            on_bad_lines="warn",
            low_memory=False,
        )
    for warning in caught:
        for line, wanted, seen in re.findall(
            r"Skipping line (\d+): expected (\d+) fields, saw (\d+)", str(warning.message)
        ):
            skipped.append(Skipped(int(line), f"{seen} fields where the heading has {wanted}"))
    return frame, skipped


def _headings(layout: Layout, path: Path) -> list[tuple[str, str]]:
    """Name and unit text of each column, from the heading, the units row and the description beside the file."""
    described = _described_units(path)
    result = []
    for i, raw in enumerate(layout.names):
        name, unit = split_heading(raw)
        if not unit and layout.units is not None:
            unit = layout.units[i].strip().strip("[]()")
        result.append((name, unit or described.get(raw, described.get(name, ""))))
    return result


def _described_units(path: Path) -> dict[str, str]:
    """Units by column title or name from `FILE.csv-metadata.json`; empty where there is no such file."""
    beside = path.with_name(path.name + "-metadata.json")
    if not beside.exists():
        return {}
    try:
        columns = json.loads(beside.read_text("utf-8"))["tableSchema"]["columns"]
        units: dict[str, str] = {}
        for column in columns:
            unit = next((str(v) for k, v in column.items() if k.split(":")[-1] == "unitText"), "")
            titles = column.get("titles", [])
            for title in [column.get("name"), *([titles] if isinstance(titles, str) else titles)]:
                if isinstance(title, str):
                    units[title] = unit
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise CodecError(
            f"the description beside the log cannot be understood ({error})",
            "Mend it as CSV on the Web metadata, or move it away.",
            name=beside.name,
        ) from error
    return units


def _channels(
    frame: pd.DataFrame, headings: list[tuple[str, str]], time: TimeColumn, layout: Layout
) -> tuple[tuple[Channel, ...], list[Skipped]]:
    channels: list[Channel] = []
    notes: list[Skipped] = []
    for i, (name, unit) in enumerate(headings):
        if i == time.index:
            continue
        values, faults = _numbers(frame[str(i)], layout)
        if values is None:
            notes.append(Skipped(None, f"column “{name}” holds no numbers"))
            continue
        notes.extend(Skipped(line, f"“{text}” in column “{name}” is not a number") for line, text in faults)
        known = conversion(unit)
        kept = values[time.kept]
        channels.append(
            Channel(
                name or f"column {i + 1}",
                known.to_si(kept) if known else kept,
                known.si_unit if known else None,
                unit,
            )
        )
    return tuple(channels), notes


def _numbers(column: pd.Series[float], layout: Layout) -> tuple[FloatArray | None, list[tuple[int, str]]]:
    """A column as float64 with NaN for blanks, and its unreadable cells; None when most cells are words."""
    import pandas as pd

    if column.dtype.kind in "fiub":
        values = np.asarray(column, dtype=np.float64)
        return (None if np.isnan(values).all() else values), []
    text = column.astype("string").str.strip()
    if layout.decimal == ",":
        text = text.str.replace(",", ".", regex=False)
    numbers = pd.to_numeric(text, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    values = np.asarray(numbers, dtype=np.float64)
    written = text.notna().to_numpy() & (text != "").to_numpy(dtype=bool, na_value=False)
    bad = np.flatnonzero(written & np.isnan(values))
    if bad.size > 0.5 * written.sum() or not written.any():
        return None, []
    faults = [(layout.first_data_line + int(k), str(text.iloc[int(k)])) for k in bad[:MOST_CELL_REPORTS]]
    if bad.size > MOST_CELL_REPORTS:
        faults.append((layout.first_data_line + int(bad[MOST_CELL_REPORTS]), f"and {bad.size} more such"))
    return values, faults
