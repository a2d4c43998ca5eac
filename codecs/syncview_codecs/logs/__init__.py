"""Telemetry readers. Adding a format: one module with `sniff` and `read`, one row in `READERS`, one test file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import delimited
from syncview_codecs.logs.table import Channel, LogTable, Skipped

__all__ = ["READERS", "Channel", "LogTable", "Reader", "Skipped", "read_log"]

SNIFFED_BYTES = 65536
"""How much of the file a `sniff` function sees."""


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
    Reader("delimited text", suffixes=(".csv", ".tsv", ".txt"), sniff=delimited.sniff, read=delimited.read),
)
"""Tried in order; the first whose `sniff` accepts the opening bytes reads the file."""


def read_log(path: Path) -> LogTable:
    """Read a log in any known format.

    Raises `CodecError` when the format is not known or the content cannot be understood, and `OSError` when the
    file cannot be opened.
    """
    with path.open("rb") as stream:
        opening = stream.read(SNIFFED_BYTES)
    if not opening.strip():
        raise CodecError("the file is empty", "Export the log again and check its size.", name=path.name)
    for reader in READERS:
        if reader.sniff(opening):
            return reader.read(path)
    known = ", ".join(f"{reader.name} ({' '.join(reader.suffixes)})" for reader in READERS)
    raise CodecError("this is not a log that can be read", f"Export it in one of these forms: {known}.", name=path.name)
