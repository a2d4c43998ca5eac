"""Telemetry readers. Adding a format: one module with `sniff` and `read`, one row in `READERS`, one test file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import arrow, delimited, gpx, mdf, nmea, packed
from syncview_codecs.logs.table import Channel, LogTable, Skipped

__all__ = ["LOG_SUFFIXES", "READERS", "Channel", "LogTable", "Reader", "Skipped", "read_log"]

SNIFFED_BYTES = delimited.OPENING_BYTES
"""How much of the file a `sniff` function sees."""
PACKED_SUFFIXES = (".gz", ".zip")


@dataclass(frozen=True, slots=True)
class Reader:
    """One format."""

    name: str
    suffixes: tuple[str, ...]
    """Lower-case, with the dot; for file choosers, the content decides."""
    sniff: Callable[[bytes], bool]
    """Whether the opening bytes are of this format."""
    read: Callable[[Path], LogTable]
    """Reads the file; raises `CodecError` naming file, line and remedy."""


READERS: tuple[Reader, ...] = (
    Reader("Parquet", suffixes=(".parquet",), sniff=arrow.sniff_parquet, read=arrow.read_parquet),
    Reader("Feather", suffixes=(".feather", ".arrow"), sniff=arrow.sniff_feather, read=arrow.read_feather),
    Reader("ASAM MDF 4", suffixes=(".mf4", ".mdf"), sniff=mdf.sniff, read=mdf.read),
    Reader("GPX", suffixes=(".gpx",), sniff=gpx.sniff, read=gpx.read),
    Reader("NMEA 0183", suffixes=(".nmea", ".log"), sniff=nmea.sniff, read=nmea.read),
    Reader("delimited text", suffixes=(".csv", ".tsv", ".txt"), sniff=delimited.sniff, read=delimited.read),
)
"""Tried in order; the first whose `sniff` accepts the opening bytes reads the file. Each may be in a gzip or zip."""

LOG_SUFFIXES = (*(suffix for reader in READERS for suffix in reader.suffixes), *PACKED_SUFFIXES)
"""Of every form, for file choosers."""


def read_log(path: Path) -> LogTable:
    """Read a log in any known format, also the one log in a gzip or zip.

    Raises `CodecError` when the format is not known or the content cannot be understood, and `OSError` when the
    file cannot be opened.
    """
    opening = _opening(path)
    if not packed.sniff(opening):
        return _reader(opening, path.name).read(path)

    def refuse_no_log(inner_opening: bytes, name: str) -> None:
        _reader(inner_opening, name)

    with packed.unpacked(path, opening_bytes=SNIFFED_BYTES, refuse=refuse_no_log) as inner:
        try:
            table = _reader(_opening(inner), inner.name).read(inner)
        except CodecError as error:
            place = f"{error.name} in {path.name}"
            raise CodecError(error.problem, error.remedy, name=place, line=error.line) from error
    return replace(table, name=path.name)


def _opening(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(SNIFFED_BYTES)


def _reader(opening: bytes, name: str) -> Reader:
    """The reader for a file that begins so; raises `CodecError` when there is none."""
    if not opening.strip():
        raise CodecError("the file is empty", "Export the log again and check its size.", name=name)
    for reader in READERS:
        if reader.sniff(opening):
            return reader
    known = ", ".join(f"{reader.name} ({' '.join(reader.suffixes)})" for reader in READERS)
    raise CodecError("this is not a log that can be read", f"Export it in one of these forms: {known}.", name=name)
