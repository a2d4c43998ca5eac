"""GPX 1.1 (and 1.0) tracks, read by gpxpy: the points of every segment of the track, as channels.

GPX 1.1 has no speed; GPX 1.0 and many a writer's extensions have. An extension's leaf with a number becomes a channel
under its own name, without a unit, since the schema of an extension is its writer's.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import distinct, library, shown, si_channel, without_infinite
from syncview_codecs.logs.table import Channel, FloatArray, LogTable, Skipped

LARGEST_BYTES = 300_000_000
"""About a day and a half at 10 Hz; the whole text is held in memory as a tree."""
MOST_EXTENSIONS = 200
"""Different extension elements that become channels."""
_OWN = (("latitude", "deg"), ("longitude", "deg"), ("elevation", "m"), ("speed", "m/s"), ("course", "deg"),
        ("horizontal_dilution", "1"))  # fmt: skip
"""Fields of a point: gpxpy's name, unit (GPX 1.1 schema; speed and course by GPX 1.0)."""


def sniff(opening: bytes) -> bool:
    """Whether the text is XML whose first element is `gpx`."""
    text = opening[:4096].replace(b"\x00", b"")
    match = re.search(
        rb"<\s*([A-Za-z_][\w.-]*:)?([A-Za-z_][\w.-]*)", re.sub(rb"<!--.*?-->", b"", text, flags=re.DOTALL)
    )
    return match is not None and match[2] == b"gpx"


def read(path: Path) -> LogTable:
    """Read the one track of a GPX file.

    Raises `CodecError` when it is no well-formed GPX, holds no track or several with overlapping times, lacks times,
    or when time runs backwards.
    """
    gpxpy = library("gpxpy", package="gpxpy", for_format="GPX", name=path.name)
    points, pieces = _points(_parsed(gpxpy, path), path)
    stamps = [point.time for point in points]
    timed = [i for i, stamp in enumerate(stamps) if stamp is not None]
    if len({stamps[i] for i in timed}) < 2:
        raise CodecError(
            "fewer than two of its track points have a time of their own",
            "Export the track with the time of each point.",
            name=path.name,
        )
    first = stamps[timed[0]]
    all_s = np.array([(stamps[i] - first).total_seconds() for i in timed], dtype=np.float64)
    _refuse_backwards(all_s, [stamps[i] for i in timed], path.name)
    fresh = np.concatenate(([True], np.diff(all_s) > 0))
    kept = [points[i] for i, new in zip(timed, fresh, strict=True) if new]
    channels, notes = _channels(kept)
    for count, words in ((len(points) - len(timed), "have no time"), (int((~fresh).sum()), "repeat a time")):
        if count:
            notes.append(Skipped(None, f"{count} point(s) {words} and were left out"))
    warnings = [f"the log's clock counts from {first.isoformat()}, the first time written"]
    if pieces > 1:
        warnings.append(f"the track has {pieces} pieces with gaps between them")
    return LogTable(path.name, all_s[fresh], tuple(channels), tuple(notes), tuple(warnings))


def _parsed(gpxpy: Any, path: Path) -> Any:
    """The document. A document type is refused: GPX needs none, and entities can swell or fetch other files."""
    if path.stat().st_size > LARGEST_BYTES:
        raise CodecError(
            f"the file is larger than {LARGEST_BYTES // 10**6} MB", "Export a shorter part.", name=path.name
        )
    data = path.read_bytes()
    if re.search(rb"<!DOCTYPE|<!ENTITY", data.replace(b"\x00", b""), re.IGNORECASE):
        raise CodecError("the file states a document type of its own", "Remove its DOCTYPE lines.", name=path.name)
    try:
        return gpxpy.parse(_text(data))
    except (gpxpy.gpx.GPXException, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
            RecursionError) as error:  # fmt: skip
        raise CodecError(
            f"this is no well-formed GPX ({shown(str(error)) or type(error).__name__})",
            "Export the track again as GPX 1.1.",
            name=path.name,
        ) from error


def _text(data: bytes) -> str:
    """The text without its declared encoding, which the parser would otherwise apply a second time."""
    declared = re.match(rb"""(?:\xef\xbb\xbf)?\s*<\?xml[^>]*?encoding\s*=\s*["']([\w.:-]+)["']""", data)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    elif declared is None or data.startswith(b"\xef\xbb\xbf"):
        encoding = "utf-8-sig"
    else:
        encoding = declared[1].decode("ascii")
    text = data.decode(encoding)
    return re.sub(r"""^\s*<\?xml[^>]*\?>""", "", text, count=1)


def _points(document: Any, path: Path) -> tuple[list[Any], int]:
    """The points of every track in order, and how many pieces they make."""
    segments = [segment.points for track in document.tracks for segment in track.segments if segment.points]
    if not segments:
        raise CodecError(
            "there is no track in it"
            + (" (only routes or waypoints)" if document.routes or document.waypoints else ""),
            "Export the driven track, with times.",
            name=path.name,
        )
    return [point for segment in segments for point in segment], len(segments)


def _refuse_backwards(all_s: FloatArray, stamps: list[Any], name: str) -> None:
    back = np.flatnonzero(np.diff(all_s) < 0)
    if back.size:
        k = int(back[0])
        raise CodecError(
            f"time goes back from {stamps[k].isoformat()} to {stamps[k + 1].isoformat()} at point {k + 2} of the track",
            "Export one track at a time, or remove the point if it is a fault.",
            name=name,
        )


def _channels(points: list[Any]) -> tuple[list[Channel], list[Skipped]]:
    columns: dict[str, tuple[FloatArray, str]] = {}
    for name, unit in _OWN:
        columns[name.replace("_", " ")] = _column([getattr(point, name) for point in points]), unit
    for i, point in enumerate(points):
        for name, number in _leaves(point.extensions):
            key = f"extension {name}"
            if key not in columns and len(columns) < MOST_EXTENSIONS:
                columns[key] = np.full(len(points), np.nan), ""
            if key in columns and np.isnan(columns[key][0][i]):
                columns[key][0][i] = number
    found = {name: column for name, column in columns.items() if np.isfinite(column[0]).any()}
    taken = {name for name in found if not name.startswith("extension ")}
    plain = [name.removeprefix("extension ") for name in found]
    names, notes = distinct([name if name.startswith("extension ") and short in taken else short
                             for name, short in zip(found, plain, strict=True)])  # fmt: skip
    channels = []
    for name, (values, unit) in zip(names, found.values(), strict=True):
        finite, infinite = without_infinite(values, name)
        notes.extend(infinite)
        channels.append(si_channel(name, finite, unit))
    return channels, notes


def _column(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _leaves(elements: list[Any]) -> Iterator[tuple[str, float]]:
    """Name (without namespace) and number of every element that holds nothing but a number."""
    for top in elements:
        for element in top.iter():
            if len(element) == 0 and element.text and isinstance(element.tag, str):
                try:
                    number = float(element.text)
                except ValueError:
                    continue
                yield element.tag.rpartition("}")[2], number
