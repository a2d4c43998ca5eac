"""ASAM MDF 4 measurements, read by asammdf: every channel of every group, on one clock with blanks between.

Groups have rates of their own. The table's clock holds every moment of every group; a channel has values at its own
group's moments and NaN at the others.
"""

from __future__ import annotations

import io
import logging
import re
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import (
    distinct,
    library,
    one_clock,
    refuse_large,
    rows_on,
    shown,
    si_channel,
    without_infinite,
)
from syncview_codecs.logs.mdf_blocks import fault_in_chains
from syncview_codecs.logs.table import Channel, FloatArray, LogTable, Skipped
from syncview_codecs.logs.units import split_heading

LARGEST_SWELLING = 2000
"""Unpacked records to file size: deflate reaches 1032 (zlib's own documentation)."""

_VIRTUAL = (3, 6)
"""Channel types whose values are counted and not recorded: virtual master and virtual data (ASAM MDF 4, cn_type)."""


def sniff(opening: bytes) -> bool:
    """Whether the file begins as MDF does, whatever its version (which `read` looks at)."""
    return opening.startswith((b"MDF     ", b"UnFinMF "))


@dataclass(slots=True)
class _Group:
    """One group's channels on its own clock."""

    time_s: FloatArray
    channels: list[tuple[str, str, FloatArray]]
    """Name, unit text, values on the group's own clock."""


def read(path: Path) -> LogTable:
    """Read an MDF 4 file.

    Raises `CodecError` for other versions, unfinished or damaged files, files without numbers, and groups whose time
    runs backwards.
    """
    library("asammdf", package="asammdf", for_format="ASAM MDF", name=path.name)
    _refuse_unfit(path)
    notes: list[Skipped] = []
    with _faults_told(path.name), _opened(path) as mdf:
        _refuse_claims(mdf, path)
        groups = [group for i in range(len(mdf.groups)) if (group := _group(mdf, i, notes, path.name)) is not None]
    if not any(group.channels for group in groups):
        raise CodecError("no group in it holds numbers over time", "Export the measured channels.", name=path.name)
    return _table(groups, notes, path.name)


def _refuse_unfit(path: Path) -> None:
    with path.open("rb") as stream:
        identification = stream.read(64)
        # Bytes 60 to 63 tell what a logger left undone (ASAM MDF 4, id_unfin_flags).
        if identification.startswith(b"UnFinMF ") or any(identification[60:64]):
            raise CodecError("the logger did not finish this file", "Finalise it with the logger's own software.",
                             name=path.name)  # fmt: skip
        if not re.fullmatch(rb"4\.\d{1,2}[ \x00]*", identification[8:16]):
            version = shown(identification[8:16].replace(b"\x00", b" ").decode("latin-1"))
            raise CodecError(f"this is MDF {version}, not MDF 4", "Export it as MDF 4.1.", name=path.name)
        fault = fault_in_chains(stream)
    if fault is not None:
        raise CodecError(f"the file is damaged: {fault}", "Export or copy it again.", name=path.name)


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """The file, with what the library logs and prints silenced: what matters is raised or noted here."""
    from asammdf import MDF

    logger = logging.getLogger("asammdf")
    level = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        # Given a path, the library leaves an object behind that cannot be cleared away when opening fails.
        with redirect_stdout(io.StringIO()), path.open("rb") as stream, MDF(stream) as mdf:
            yield mdf
    finally:
        logger.setLevel(level)


@contextmanager
def _faults_told(name: str) -> Iterator[None]:
    from asammdf.blocks.utils import MdfException

    try:
        yield
    except CodecError:
        raise
    except (MdfException, ValueError, TypeError, AttributeError, LookupError, ArithmeticError, OSError, MemoryError,
            AssertionError, RuntimeError, EOFError, struct.error, zlib.error) as error:  # fmt: skip
        raise CodecError(
            f"the file is damaged ({shown(str(error)) or type(error).__name__})", "Export or copy it again.", name=name
        ) from error


def _refuse_claims(mdf: Any, path: Path) -> None:
    """Refuse counts of samples that no packing could have put into a file of this size."""
    size = path.stat().st_size
    for group in mdf.groups:
        head = group.channel_group
        rows, columns = int(head.cycles_nr), len(group.channels)
        refuse_large(rows, columns, path.name)
        record = int(head.samples_byte_nr) + int(head.invalidation_bytes_nr)
        if max(rows, 1) * max(record, 1) > size * LARGEST_SWELLING:
            raise CodecError(f"the file claims {rows} samples, more than it can hold", "Export or copy it again.",
                             name=path.name)  # fmt: skip


def _refuse_outside(group: Any, name: str) -> None:
    """Refuse channels that reach beyond their record, which the library would read from foreign memory."""
    head = group.channel_group
    for channel in group.channels:
        if channel.channel_type in _VIRTUAL:
            continue
        end = channel.byte_offset + -(-(channel.bit_offset + channel.bit_count) // 8)
        invalid_at = channel.pos_invalidation_bit
        if end > head.samples_byte_nr or (invalid_at and invalid_at >= 8 * max(1, head.invalidation_bytes_nr)):
            raise CodecError(f"channel “{shown(channel.name)}” reaches beyond its record", "Export or copy it again.",
                             name=name)  # fmt: skip


def _group(mdf: Any, index: int, notes: list[Skipped], name: str) -> _Group | None:
    """A group's clock and numeric channels; None for one without samples or without a clock in seconds."""
    group = mdf.groups[index]
    if int(group.channel_group.cycles_nr) < 1:
        return None
    _refuse_outside(group, name)
    master = mdf.masters_db.get(index)
    words = shown(group.channel_group.acq_name or "") or f"group {index + 1}"
    if master is None or group.channels[master].sync_type not in (0, 1):  # 1: time (ASAM MDF 4, cn_sync_type)
        notes.append(Skipped(None, f"“{words}” has no time channel and was left out"))
        return None
    time_s = np.asarray(mdf.get_master(index), dtype=np.float64)
    kept = _ascending(time_s, words, notes, name)
    channels: list[tuple[str, str, FloatArray]] = []
    for i, channel in enumerate(group.channels):
        if i == master:
            continue
        if group.channel_dependencies[i] is not None:  # an array or structure; a structure's parts are channels, too
            notes.append(Skipped(None, f"channel “{shown(channel.name)}” of “{words}” is an array or structure"))
            continue
        signal = mdf.get(group=index, index=i, ignore_invalidation_bits=True)
        values = _numbers(mdf, signal, index, i, notes)
        if values is None or values.shape != time_s.shape or not np.isfinite(values[kept]).any():
            notes.append(Skipped(None, f"channel “{shown(channel.name)}” of “{words}” holds no numbers"))
            continue
        channels.append((channel.name, signal.unit or "", values[kept]))
    return _Group(time_s[kept], channels)


def _ascending(time_s: FloatArray, words: str, notes: list[Skipped], name: str) -> FloatArray:
    """Rows whose time is their own, as a mask; raises when time runs backwards."""
    finite = np.isfinite(time_s)
    rows = np.flatnonzero(finite)
    back = np.flatnonzero(np.diff(time_s[rows]) < 0)
    if back.size:
        k = rows[back[0] + 1]
        raise CodecError(f"time goes back to {time_s[k]:.3f} s at sample {k + 1} of “{words}”",
                         "Export the measurement again, in order of time.", name=name)  # fmt: skip
    kept = finite.copy()
    kept[rows[1:]] = np.diff(np.round(time_s[rows] * 1e6)) > 0
    if not kept.all():
        notes.append(Skipped(None, f"{int((~kept).sum())} sample(s) of “{words}” have no time of their own"))
    return kept


def _numbers(mdf: Any, signal: Any, group: int, index: int, notes: list[Skipped]) -> FloatArray | None:
    """Physical values as float64, NaN where marked invalid; where words stand for numbers, the numbers."""
    if signal.samples.dtype.kind in "SU" and signal.samples.ndim == 1:
        raw = mdf.get(group=group, index=index, raw=True, ignore_invalidation_bits=True)
        if raw.samples.dtype.kind in "iuf" and raw.samples.ndim == 1:
            notes.append(Skipped(None, f"the words of “{shown(signal.name)}” were left as their numbers"))
            signal = raw
    if signal.samples.dtype.kind not in "iufb" or signal.samples.ndim != 1:
        return None
    values = np.array(signal.samples, dtype=np.float64)
    if signal.invalidation_bits is not None:
        values[np.asarray(signal.invalidation_bits, dtype=bool)] = np.nan
    return values


def _table(groups: list[_Group], notes: list[Skipped], name: str) -> LogTable:
    groups = [group for group in groups if group.channels]
    clock_s = one_clock(group.time_s for group in groups)
    if clock_s.size < 2:
        raise CodecError("it holds fewer than two times", "Export the whole measurement.", name=name)
    flat = [(group, title, unit, values) for group in groups for title, unit, values in group.channels]
    refuse_large(clock_s.size, len(flat), name)
    headings = [(title, unit) if unit else split_heading(title) for _, title, unit, _ in flat]
    names, doubles = distinct([title for title, _ in headings])
    channels: list[Channel] = []
    for (group, _, _, own), (_, unit), title in zip(flat, headings, names, strict=True):
        values, infinite = without_infinite(own, title)
        notes.extend(infinite)
        if len(groups) > 1:
            spread = np.full(clock_s.size, np.nan)
            spread[rows_on(clock_s, group.time_s)] = values
            values = spread
        channels.append(si_channel(title, values, unit))
    rates = f"{len(groups)} groups with clocks of their own were put on one; channels have blanks between"
    return LogTable(name, clock_s, tuple(channels), (*doubles, *notes), (rates,) if len(groups) > 1 else ())
