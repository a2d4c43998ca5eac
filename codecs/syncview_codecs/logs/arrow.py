"""Apache Parquet and Feather (Arrow's file format), read by pyarrow.

Units stand in each field's metadata (`unit`), or in the column's name as in delimited text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import distinct, is_blank, library, refuse_large, si_channel, without_infinite
from syncview_codecs.logs.log_time import choose_time, time_candidates
from syncview_codecs.logs.table import Channel, FloatArray, LogTable, Skipped
from syncview_codecs.logs.units import split_heading


def sniff_parquet(opening: bytes) -> bool:
    """Whether the file begins as Parquet does (Apache Parquet format, “File format”)."""
    return opening.startswith(b"PAR1")


def sniff_feather(opening: bytes) -> bool:
    """Whether the file begins as Arrow's file format does (Feather of version 2; the first is no longer kept up)."""
    return opening.startswith(b"ARROW1")


def read_parquet(path: Path) -> LogTable:
    """Read a Parquet file; raises `CodecError` when it is damaged, has no time, or time runs backwards."""
    parquet = library("pyarrow.parquet", package="pyarrow", for_format="Parquet", name=path.name)

    def opened() -> Any:
        with parquet.ParquetFile(path, memory_map=False) as file:
            refuse_large(file.metadata.num_rows, file.metadata.num_columns, path.name)
            return file.read()

    return _read(path, opened)


def read_feather(path: Path) -> LogTable:
    """Read a Feather or Arrow file; raises `CodecError` as `read_parquet` does."""
    feather = library("pyarrow.feather", package="pyarrow", for_format="Feather", name=path.name)
    return _read(path, lambda: feather.read_table(path, memory_map=False))


@contextmanager
def _faults_told(name: str) -> Iterator[None]:
    import pyarrow as pa

    try:
        yield
    except CodecError:
        raise
    except (pa.ArrowException, OSError, ValueError, TypeError, KeyError, ArithmeticError, MemoryError) as error:
        raise CodecError(
            f"the file is damaged ({str(error).splitlines()[0][:120] if str(error) else type(error).__name__})",
            "Export or copy it again.",
            name=name,
        ) from error


def _read(path: Path, opened: Callable[[], Any]) -> LogTable:
    with _faults_told(path.name):
        table = opened()
        refuse_large(table.num_rows, table.num_columns, path.name)
        table.validate(full=True)
        headings = [_heading(field) for field in table.schema]
        candidates = time_candidates(headings, path.name)
        raw = {i: _time_series(table.column(i)) for i in candidates}
        time = choose_time(raw, headings, file_name=path.name)
        names, notes = distinct([name for name, _ in headings])
        channels: list[Channel] = []
        for i, name in enumerate(names):
            if i == time.index:
                continue
            values = _numbers(table.column(i))
            if values is not None and time.kept is not None:
                values = values[time.kept]
            if values is not None:
                values, infinite = without_infinite(values, name)
                notes.extend(infinite)
            if values is None or is_blank(values):
                notes.append(Skipped(None, f"column “{name}” holds no numbers"))
                continue
            channels.append(si_channel(name, values, headings[i][1]))
    return LogTable(path.name, time.time_s, tuple(channels), (*time.skipped, *notes), time.warnings)


def _heading(field: Any) -> tuple[str, str]:
    """Name and unit text of a field."""
    name, unit = split_heading(field.name)
    for key in (b"unit", b"units"):
        if field.metadata and key in field.metadata:
            return name if unit else field.name, field.metadata[key].decode("utf-8", errors="replace")
    return name, unit


def _time_series(column: Any) -> Any:
    """A column as pandas holds it; time of day as duration since midnight."""
    import pyarrow as pa

    column = _decoded(column)
    if pa.types.is_time(column.type):
        whole = pa.int32() if pa.types.is_time32(column.type) else pa.int64()
        column = column.cast(whole).cast(pa.int64()).cast(pa.duration(column.type.unit))
    if pa.types.is_decimal(column.type) or pa.types.is_float16(column.type):
        column = column.cast(pa.float64())
    return column.to_pandas()


def _numbers(column: Any) -> FloatArray | None:
    """A column as float64 with NaN for what is missing, or None when it is not made of numbers."""
    import pyarrow as pa

    column = _decoded(column)
    kind = column.type
    if pa.types.is_boolean(kind):
        column = column.cast(pa.uint8())
    elif not (pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)):
        return None
    # An integer beyond 2**53 (a counter of nanoseconds) is rounded, which `safe` would refuse.
    return np.array(column.cast(pa.float64(), safe=False).to_numpy(), dtype=np.float64)


def _decoded(column: Any) -> Any:
    import pyarrow as pa

    return column.cast(column.type.value_type) if pa.types.is_dictionary(column.type) else column
