"""NMEA 0183 sentences as satellite receivers write them: RMC, GGA and VTG, read by pynmea2.

Sentences of one moment make one sample. RMC gives time, date, position, speed and course; GGA time, position and
altitude. VTG carries no time: it is read only where no RMC gives a speed, and belongs to the moment before it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, time
from pathlib import Path
from typing import Any

import numpy as np

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import library, shown, si_channel
from syncview_codecs.logs.table import LogTable, Skipped

_SENTENCE = re.compile(rb"\$[A-Z]{2}(RMC|GGA|VTG),[^*$\r\n]*(\*[0-9A-Fa-f]{2})?\s*$")
_ANY = re.compile(rb"[$!][A-Z]{2,}[A-Z0-9]*,")
LONGEST_LINE = 512
"""Bytes; a sentence has 82 at most (NMEA 0183), before which a logger may put its own stamp."""
MOST_LISTED = 20
"""Faulty lines listed one by one; the rest are counted."""
DAY_S = 86400.0
QUANTITIES = (
    ("latitude", "deg"),
    ("longitude", "deg"),
    ("speed", "kn"),
    ("course", "deg"),
    ("altitude", "m"),
    ("satellites", "1"),
    ("horizontal dilution", "1"),
)
"""Channels and their units as the sentences carry them."""


def sniff(opening: bytes) -> bool:
    """Whether most lines are sentences and some of them are RMC, GGA or VTG."""
    lines = [line for line in re.split(rb"[\r\n]+", opening)[:200] if line.strip()]
    sentences = sum(bool(_ANY.search(line[:LONGEST_LINE])) for line in lines)
    return 2 * sentences >= len(lines) and any(_SENTENCE.search(line[:LONGEST_LINE]) for line in lines)


@dataclass(slots=True)
class _Track:
    """What has been read so far."""

    times_s: list[float] = field(default_factory=list)
    rows: list[dict[str, float]] = field(default_factory=list)
    course_speeds: list[tuple[int, dict[str, float]]] = field(default_factory=list)
    """Row and values of each VTG."""
    skipped: list[Skipped] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    day: int = 0
    """Whole days since the first sentence's."""
    first_day: int | None = None
    """Ordinal of the first sentence's day, once a date has told it."""
    first: str = ""

    def pass_over(self, line: int, reason: str) -> None:
        """Note a faulty line, the first few by number."""
        self.counts["faulty"] += 1
        if self.counts["faulty"] <= MOST_LISTED:
            self.skipped.append(Skipped(line, reason))


def read(path: Path) -> LogTable:
    """Read a file of sentences.

    Raises `CodecError` when no sentence with a right checksum gives a time, or when time runs backwards.
    """
    pynmea2 = library("pynmea2", package="pynmea2", for_format="NMEA 0183", name=path.name)
    track = _Track()
    for number, line in _lines(path):
        match = _SENTENCE.search(line)
        if match is None:
            if line.strip():
                _count_other(track, number, line)
            continue
        track.counts["unchecked"] += match[2] is None
        try:
            sentence = pynmea2.parse(match[0].decode("ascii").strip(), check=False)
        except pynmea2.ChecksumError:
            track.pass_over(number, f"the checksum of {match[1].decode()} is wrong")
            continue
        except (ValueError, LookupError, ArithmeticError) as error:
            track.pass_over(number, f"the sentence cannot be understood ({shown(str(error))})")
            continue
        _take(track, number, match[1].decode(), sentence, path.name)
    return _table(track, path)


def _lines(path: Path) -> Iterator[tuple[int, bytes]]:
    """Lines with their 1-based numbers; of one that is too long, nothing."""
    with path.open("rb") as stream:
        number, in_long = 1, False
        while line := stream.readline(LONGEST_LINE):
            ends = line.endswith(b"\n")
            yield number, b"" if in_long or (not ends and len(line) == LONGEST_LINE) else line
            in_long = not ends
            number += ends


def _count_other(track: _Track, number: int, line: bytes) -> None:
    if _ANY.search(line) and not re.search(rb"\$[A-Z]{2}(RMC|GGA|VTG)", line):
        track.counts["other"] += 1
    else:
        track.pass_over(number, f"“{shown(line[:80].decode('latin-1'))}” is no sentence")


def _take(track: _Track, line: int, kind: str, sentence: Any, name: str) -> None:
    """Add a sentence's values to the sample of its moment."""
    if kind == "VTG":
        values = _values({"speed": _number(sentence, "spd_over_grnd_kts"), "course": _number(sentence, "true_track")})
        if track.rows:
            track.course_speeds.append((len(track.rows) - 1, values))
        return
    stamp = _field(sentence, "timestamp")
    if not isinstance(stamp, time):
        track.pass_over(line, f"{kind} has no time")
        return
    of_day_s = stamp.hour * 3600 + stamp.minute * 60 + stamp.second + stamp.microsecond / 1e6
    written = _field(sentence, "datestamp") if kind == "RMC" else None
    at_s = _moment(track, of_day_s, written if isinstance(written, date) else None)
    if track.times_s and at_s < track.times_s[-1]:
        raise CodecError(
            f"time goes back by {track.times_s[-1] - at_s:.3f} s to {stamp.replace(tzinfo=None).isoformat()}",
            "Split the file there, or remove the line if it is a fault.",
            name=name,
            line=line,
        )
    if not track.times_s or at_s > track.times_s[-1]:
        track.times_s.append(at_s)
        track.rows.append({})
    track.first = track.first or stamp.replace(tzinfo=None).isoformat()
    row = track.rows[-1]
    for quantity, value in (_of_rmc(track, sentence) if kind == "RMC" else _of_gga(track, sentence)).items():
        row.setdefault(quantity, value)


def _moment(track: _Track, of_day_s: float, written: date | None) -> float:
    """Seconds on a clock that runs on over midnight; a date moves it only forward.

    Before the first date, and in files without RMC, days are counted from the first sentence's.
    """
    latest_s = track.times_s[-1] if track.times_s else of_day_s
    at_s = track.day * DAY_S + of_day_s
    if written is not None:
        dated = written.toordinal()
        if track.first_day is None:
            track.first_day = dated - track.day - (at_s < latest_s - DAY_S / 2)
        elif dated - track.first_day > track.day:
            track.day = dated - track.first_day
            return track.day * DAY_S + of_day_s
    if at_s < latest_s - DAY_S / 2:
        track.day += 1
        at_s += DAY_S
    return at_s


def _of_rmc(track: _Track, sentence: Any) -> dict[str, float]:
    if _field(sentence, "status") != "A" or _field(sentence, "mode_indicator") == "N":
        track.counts["no fix"] += 1
        return {}
    speed, course = _number(sentence, "spd_over_grnd"), _number(sentence, "true_course")
    return _values({**_position(sentence), "speed": speed, "course": course})


def _of_gga(track: _Track, sentence: Any) -> dict[str, float]:
    quality = _number(sentence, "gps_qual")
    if not quality:
        track.counts["no fix"] += 1
        return {}
    metres = _field(sentence, "altitude_units") in ("M", "", None)
    altitude = _number(sentence, "altitude") if metres else None
    dilution, satellites = _number(sentence, "horizontal_dil"), _number(sentence, "num_sats")
    return _values({**_position(sentence), "altitude": altitude, "satellites": satellites,
                    "horizontal dilution": dilution})  # fmt: skip


def _position(sentence: Any) -> dict[str, float | None]:
    """Degrees, north and east positive; nothing when a half is missing or cannot be on the globe."""
    if not (_field(sentence, "lat") and _field(sentence, "lon")):
        return {}
    if _field(sentence, "lat_dir") not in ("N", "S") or _field(sentence, "lon_dir") not in ("E", "W"):
        return {}
    latitude, longitude = _number(sentence, "latitude"), _number(sentence, "longitude")
    if latitude is None or longitude is None or abs(latitude) > 90 or abs(longitude) > 180:
        return {}
    return {"latitude": latitude, "longitude": longitude}


def _field(sentence: Any, name: str) -> Any:
    """A field of the sentence; None where the sentence is too short or the field cannot be read."""
    try:
        return getattr(sentence, name)
    except (AttributeError, ValueError, LookupError, ArithmeticError, TypeError):
        return None


def _number(sentence: Any, name: str) -> float | None:
    value = _field(sentence, name)
    try:
        number = float(value)
    except (TypeError, ValueError, ArithmeticError):
        return None
    return number if math.isfinite(number) else None


def _values(found: dict[str, float | None]) -> dict[str, float]:
    return {name: value for name, value in found.items() if value is not None}


def _table(track: _Track, path: Path) -> LogTable:
    if len(track.times_s) < 2:
        first = next((f" (line {item.line}: {item.reason})" for item in track.skipped), "")
        raise CodecError(
            f"fewer than two moments can be read from its RMC and GGA sentences{first}",
            "Check what the receiver is set to write.",
            name=path.name,
        )
    warnings = _add_course_speeds(track)
    time_s = np.array(track.times_s, dtype=np.float64)
    day = "" if track.first_day is None else f"{date.fromordinal(track.first_day).isoformat()}T"
    began = day + track.first
    warnings.append(f"the log's clock counts from {began}Z, the first time written")
    if track.counts["unchecked"]:
        warnings.append(f"{track.counts['unchecked']} sentence(s) carry no checksum and were taken as they stand")
    channels = []
    for name, unit in QUANTITIES:
        values = np.array([row.get(name, np.nan) for row in track.rows], dtype=np.float64)
        if np.isfinite(values).any():
            channels.append(si_channel(name, values, unit))
    return LogTable(path.name, time_s - time_s[0], tuple(channels), _skipped(track), tuple(warnings))


def _add_course_speeds(track: _Track) -> list[str]:
    """Put VTG's values where no RMC gives a speed; what had to be assumed."""
    if not track.course_speeds:
        return []
    if any("speed" in row for row in track.rows):
        track.skipped.append(Skipped(None, "VTG sentences carry no time and repeat the speed of RMC: not used"))
        return []
    for row, values in track.course_speeds:
        for name, value in values.items():
            track.rows[row].setdefault(name, value)
    return ["VTG sentences carry no time; each is taken to belong to the sentence before it"]


def _skipped(track: _Track) -> tuple[Skipped, ...]:
    notes = list(track.skipped)
    if track.counts["faulty"] > MOST_LISTED:
        notes.append(Skipped(None, f"{track.counts['faulty'] - MOST_LISTED} more lines were passed over"))
    if track.counts["no fix"]:
        notes.append(Skipped(None, f"{track.counts['no fix']} sentence(s) without a valid fix: position left out"))
    if track.counts["other"]:
        notes.append(Skipped(None, f"{track.counts['other']} sentence(s) of other kinds are not used"))
    return tuple(notes)
