"""The chapter list in a film's description, as several video hosts read it.

Rules: one ``time title`` a line, whole seconds, first 0:00, three entries or more, each 10 s or longer (common
practice of several hosts; no standard). This module writes and reads the text; it does not enforce the rules.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError

_ENTRY = re.compile(r"(?:(\d+):(?=\d\d:))?(\d{1,2}):([0-5]\d)(?:\s+(.*))?")
_MEANT_AS_ENTRY = re.compile(r"\d+:\d")


def format_clock(time_ms: int) -> str:
    """A film time as ``m:ss``, past the hour ``h:mm:ss``, rounded down so that a jump never lands after the event.

    Worked: 59 990 ms is ``0:59``; 75 900 ms is ``1:15``; 3 600 000 ms is ``1:00:00``.
    """
    minutes, seconds = divmod(time_ms // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def write(chapters: Iterable[Chapter]) -> str:
    """One line per chapter in the order given; line breaks and runs of blanks in a title become one space.

    Raises:
        CodecError: A chapter has no title.
    """
    lines = []
    for chapter in chapters:
        title = " ".join("".join(map(_clean, chapter.title)).split())
        if not title:
            raise CodecError(f"the chapter at {format_clock(chapter.start_ms)} has no title", "Give it a title.")
        lines.append(f"{format_clock(chapter.start_ms)} {title}\n")
    return "".join(lines)


def _clean(character: str) -> str:
    """Nothing for a control character that is no blank, U+FFFD for a lone surrogate, else the character itself."""
    if unicodedata.category(character) == "Cs":
        return "\ufffd"
    return "" if unicodedata.category(character) == "Cc" and not character.isspace() else character


def read(text: str) -> tuple[tuple[int, str], ...]:
    """Start in whole seconds and title of each entry; lines that do not open with a time are prose, passed over.

    Raises:
        CodecError: A line opens like a time that is none (``1:75``), or has no title.
    """
    entries = []
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        line = line.strip()
        if not _MEANT_AS_ENTRY.match(line):
            continue
        found = _ENTRY.fullmatch(line)
        if found is None or not found[4] or (found[1] is not None and int(found[2]) > 59):
            raise CodecError(f"no time and title in {line[:60]!r}", "Write it like 1:15 Corner 3.", line=number)
        entries.append(((int(found[1] or 0) * 60 + int(found[2])) * 60 + int(found[3]), found[4]))
    return tuple(entries)
