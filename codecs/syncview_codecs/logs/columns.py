"""Steps that every reader shares: safe names, SI channels, several clocks put on one, libraries that may be absent."""

from __future__ import annotations

import importlib
import unicodedata
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.table import Channel, FloatArray, Skipped
from syncview_codecs.logs.units import conversion

LARGEST_TABLE_BYTES = 8 * 10**9
"""A table that claims more than this is refused before it is read."""
LONGEST_WORDS = 60
"""Of a name or cell shown to a person, characters."""
CLOCK_STEP_S = 1e-6
"""Samples of several groups nearer than this share one row."""


def library(module: str, *, package: str, for_format: str, name: str) -> Any:
    """Import a library that only one format needs; raises `CodecError` saying how to install it."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise CodecError(
            f"{for_format} needs the library {package}, which is not installed",
            f"Install it with: pip install {package} (or the extra “formats”).",
            name=name,
        ) from error


def shown(text: str) -> str:
    """A text from a file as one short line without control characters, fit for a terminal."""
    plain = "".join(" " if unicodedata.category(sign) in ("Cc", "Cf", "Zl", "Zp", "Cs") else sign
                    for sign in text[: 4 * LONGEST_WORDS])  # fmt: skip
    plain = " ".join(plain.split())
    return plain if len(plain) <= LONGEST_WORDS else plain[: LONGEST_WORDS - 1] + "…"


def distinct(names: Sequence[str]) -> tuple[list[str], list[Skipped]]:
    """Names that tell columns apart: the second `speed` becomes `speed (2)`; said where that was needed."""
    taken: set[str] = set()
    result, notes = [], []
    for i, raw in enumerate(names):
        name = shown(raw) or f"column {i + 1}"
        number, fresh = 2, name
        while fresh in taken:
            fresh, number = f"{name} ({number})", number + 1
        if fresh != name:
            notes.append(Skipped(None, f"“{name}” heads more than one column; column {i + 1} is called “{fresh}”"))
        taken.add(fresh)
        result.append(fresh)
    return result, notes


def si_channel(name: str, values: FloatArray, unit_text: str) -> Channel:
    """A channel in SI. `values`, shape (n,), are taken over: they are converted where they stand if they may be."""
    known = conversion(unit_text)
    if known is None:
        return Channel(name, values, None, shown(unit_text))
    if (known.scale, known.shift) == (1.0, 0.0):
        return Channel(name, values, known.si_unit, shown(unit_text))
    if not values.flags.writeable:
        return Channel(name, known.to_si(values), known.si_unit, shown(unit_text))
    values *= known.scale
    if known.shift:
        values += known.shift
    return Channel(name, values, known.si_unit, shown(unit_text))


def is_blank(values: FloatArray) -> bool:
    """Whether every value is NaN; most columns are told by their first."""
    return values.size == 0 or bool(np.isnan(values[0]) and np.isnan(values).all())


def without_infinite(values: FloatArray, name: str) -> tuple[FloatArray, list[Skipped]]:
    """Infinite values as NaN, and how many there were."""
    infinite = np.isinf(values)
    if not infinite.any():
        return values, []
    note = Skipped(None, f"{int(infinite.sum())} value(s) of “{name}” are infinite and count as missing")
    return np.where(infinite, np.nan, values), [note]


def one_clock(clocks: Iterable[FloatArray]) -> FloatArray:
    """Every moment of several clocks, ascending; moments nearer than `CLOCK_STEP_S` are one, the first given."""
    moments = np.concatenate([np.asarray(clock, dtype=np.float64) for clock in clocks])
    _, first = np.unique(np.round(moments / CLOCK_STEP_S), return_index=True)
    return np.asarray(moments[first], dtype=np.float64)


def rows_on(clock_s: FloatArray, own_s: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Rows of the common clock (from `one_clock`) at which a group's own moments stand."""
    return np.searchsorted(np.round(clock_s / CLOCK_STEP_S), np.round(own_s / CLOCK_STEP_S))


def refuse_large(rows: int, columns: int, name: str) -> None:
    """Raise `CodecError` when a table of float64 would be larger than `LARGEST_TABLE_BYTES`."""
    size = rows * columns * 8
    if size > LARGEST_TABLE_BYTES:
        raise CodecError(
            f"the file claims {rows} samples of {columns} channels, {size / 1e9:.0f} GB",
            "Export a shorter part or fewer channels; if the file is small, it is damaged.",
            name=name,
        )
