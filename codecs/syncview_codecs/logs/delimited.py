"""Delimited text (RFC 4180 and its many cousins): separator, decimal mark, heading and units are found, then said.

The heading may be preceded by any number of information lines and followed by a row of units. Units stand in the
heading (`speed [km/h]`, `speed (mph)`), in that row, or in a CSV on the Web description beside the file.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.cells import Columns, parse_columns
from syncview_codecs.logs.columns import distinct, is_blank, si_channel, without_infinite
from syncview_codecs.logs.described import described_units
from syncview_codecs.logs.layout import Layout, find_layout
from syncview_codecs.logs.log_time import TimeColumn, choose_time, thousandths_column, time_candidates
from syncview_codecs.logs.table import Channel, LogTable, Skipped
from syncview_codecs.logs.text_source import Encoding, decoded, find_encoding, lines_of
from syncview_codecs.logs.units import split_heading

OPENING_BYTES = 1 << 18
"""In which the heading must stand."""


def sniff(opening: bytes) -> bool:
    """Whether the opening bytes are text with a heading and numbers below it."""
    return _found(opening)[1] is not None


@lru_cache(maxsize=1)  # `sniff` and `read` ask about the same opening
def _found(opening: bytes) -> tuple[Encoding | None, Layout | None]:
    encoding = find_encoding(opening)
    return encoding, None if encoding is None else find_layout(lines_of(decoded(opening, encoding)))


def read(path: Path) -> LogTable:
    """Read a delimited-text log.

    Raises `CodecError` for a file without heading, numbers or time, and for time that runs backwards.
    """
    with path.open("rb") as stream:
        opening = stream.read(OPENING_BYTES)
    encoding, layout = _found(opening)
    if encoding is None:
        raise CodecError("this is not text", "Export the log as delimited text (CSV).", name=path.name)
    if layout is None:
        raise CodecError(
            "no heading with numbers below it was found",
            "The file needs one line of column names and then one line per sample.",
            name=path.name,
        )
    headings = _headings(layout, path)
    candidates = time_candidates(headings, path.name)
    columns = parse_columns(path, encoding, layout, kept_raw=candidates)
    beside = thousandths_column(headings)
    time = choose_time(
        {i: columns.raw[i] for i in candidates},
        headings,
        file_name=path.name,
        line_of=columns.line_of,
        decimal=layout.decimal,
        thousandths=None if beside is None else columns.copy(beside),
    )
    channels, notes = _channels(columns, headings, time)
    return LogTable(
        name=path.name,
        time_s=time.time_s,
        channels=channels,
        skipped=(*columns.skipped, *time.skipped, *notes),
        warnings=(*time.warnings, *columns.warnings),
    )


def _headings(layout: Layout, path: Path) -> list[tuple[str, str]]:
    """Name and unit text of each column, from the heading, the units row and the description beside the file."""
    described = described_units(path)
    result = []
    for i, raw in enumerate(layout.names):
        name, unit = split_heading(raw)
        if not unit and layout.units is not None:
            unit = layout.units[i].strip().strip("[]()")
        result.append((name, unit or described.get(raw, described.get(name, ""))))
    return result


def _channels(
    columns: Columns, headings: list[tuple[str, str]], time: TimeColumn
) -> tuple[tuple[Channel, ...], list[Skipped]]:
    """Every column but time, each freed from `columns` as it is taken."""
    channels: list[Channel] = []
    names, notes = distinct([name for name, _ in headings])
    for i, (name, (title, unit)) in enumerate(zip(names, headings, strict=True)):
        if i == time.index:
            continue
        column = columns.take(i)
        if column.values is None:
            if title or column.has_words:
                notes.append(Skipped(None, f"column “{name}” holds no numbers"))
            continue
        notes.extend(Skipped(line, f"{words} in column “{name}” is not a number") for line, words in column.faults)
        values, infinite = without_infinite(column.values, name)
        notes.extend(infinite)
        values = values if time.kept is None else values[time.kept]
        if is_blank(values):
            notes.append(Skipped(None, f"column “{name}” holds no numbers at times of their own"))
            continue
        channels.append(si_channel(name, values, unit))
    return tuple(channels), notes
