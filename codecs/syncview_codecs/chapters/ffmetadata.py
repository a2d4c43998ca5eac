"""FFmpeg's metadata text. Source: FFmpeg Formats documentation, section "Metadata".

FFmpeg 5.1 shifts the chapters of an MP4 so that the first starts at 0 (measured): write chapters that start at 0 and
leave no holes. Matroska keeps any times.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError

_FIRST_LINE = ";FFMETADATA1"
_SPECIAL = re.compile(r"[=;#\\\n]")
_NANOSECOND = Fraction(1, 1_000_000_000)
"""The unit of a chapter without TIMEBASE, by the documentation."""


def write(chapters: Iterable[Chapter], *, tags: Mapping[str, str]) -> str:
    """The film's tags and chapters as an ffmetadata text; times in milliseconds with their TIMEBASE stated.

    Raises:
        CodecError: A tag has no name, or a name that opens like a section (``[``).
    """
    lines = [_FIRST_LINE]
    for key, value in tags.items():
        if not key.strip() or key.startswith("["):
            raise CodecError(f"{key!r} cannot be the name of a tag", "Use a word such as title.")
        lines.append(f"{_escape(key)}={_escape(value)}")
    for chapter in chapters:
        lines += ["[CHAPTER]", "TIMEBASE=1/1000", f"START={chapter.start_ms}", f"END={chapter.end_ms}"]
        lines.append(f"title={_escape(chapter.title)}")
    return "\n".join(lines) + "\n"


def _escape(text: str) -> str:
    """Escape what the documentation names. FFmpeg ends a line at CR and at NUL too, so neither may stay."""
    whole = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    whole = whole.encode("utf-8", "replace").decode("utf-8")  # a lone surrogate has no UTF-8 form
    return _SPECIAL.sub(lambda special: f"\\{special[0]}", whole)


def read(text: str, *, name: str = "") -> tuple[dict[str, str], tuple[Chapter, ...]]:
    """The film's tags, and its chapters with times to the nearest millisecond, in the order of the text.

    Tags of single streams and chapter tags other than the title are no part of either and are passed over.

    Raises:
        CodecError: The first line is not ``;FFMETADATA1``, a line is no ``key=value``, or a chapter lacks a time.
    """
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    if not text.startswith(_FIRST_LINE):
        raise CodecError(f"the first line is not {_FIRST_LINE}", "Choose an ffmetadata text.", name=name, line=1)
    tags: dict[str, str] = {}
    chapters: list[Chapter] = []
    for section, number, values in _sections(text, name):
        if section == "":
            tags = values
        elif section == "[CHAPTER]":
            chapters.append(_chapter(values, name, number))
    return tags, tuple(chapters)


def _sections(text: str, name: str) -> Iterator[tuple[str, int, dict[str, str]]]:
    """Each section with its heading (empty for the film's own tags), the heading's line number, and its values."""
    heading, at, values = "", 1, dict[str, str]()
    for number, line in _logical_lines(text):
        if not line or line.startswith((";", "#")):
            continue
        if line.startswith("["):
            yield heading, at, values
            heading, at, values = line.strip(), number, {}
            continue
        key, equals, value = _split(line)
        if not equals:
            raise CodecError(f"no = in {line[:60]!r}", "Write key=value.", name=name, line=number)
        values[key] = value
    yield heading, at, values


def _logical_lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines with their 1-based number; a backslash before a line end joins two lines into one."""
    whole, start = "", 1
    for number, line in enumerate(text.split("\n"), start=1):
        if not whole:
            start = number
        whole += line
        if (len(line) - len(line.rstrip("\\"))) % 2:
            whole += "\n"
        else:
            yield start, whole
            whole = ""
    if whole:
        yield start, whole


def _split(line: str) -> tuple[str, bool, str]:
    """Key, whether there was an unescaped ``=``, and value, both without their escapes."""
    parts = ["", ""]
    found = False
    characters = iter(line)
    for character in characters:
        if character == "\\":
            parts[found] += next(characters, "")
        elif character == "=" and not found:
            found = True
        else:
            parts[found] += character
    return parts[0], found, parts[1]


def _chapter(values: dict[str, str], name: str, number: int) -> Chapter:
    try:
        unit = Fraction(values["TIMEBASE"]) if "TIMEBASE" in values else _NANOSECOND
        start_ms, end_ms = (round(int(values[key]) * unit * 1000) for key in ("START", "END"))
    except KeyError as missing:
        problem = f"the chapter has no {missing.args[0]}"
        raise CodecError(problem, "Give START and END.", name=name, line=number) from missing
    except (ValueError, ZeroDivisionError) as error:
        raise CodecError(
            "the chapter's times are no whole numbers of a time base", "Write them as integers.", name=name, line=number
        ) from error
    try:
        return Chapter(start_ms, end_ms, values.get("title", ""))
    except CodecError as error:
        raise CodecError(error.problem, error.remedy, name=name, line=number) from error
