"""Chapters as JSON. Source: Podcast namespace, "JSON Chapters Format", version 1.2 (2021-04-15)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from syncview_codecs.captions.plain_text import text_lines
from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError

MIME = "application/json+chapters"
VERSION = "1.2.0"


def write(chapters: Iterable[Chapter], *, title: str = "", file_name: str = "") -> str:
    """The chapters in order of time, in seconds to the millisecond, and the film's title and file name where given."""
    document: dict[str, object] = {"version": VERSION}
    if title:
        document["title"] = " ".join(text_lines(title))
    if file_name:
        document["fileName"] = " ".join(text_lines(file_name))
    document["chapters"] = [
        {
            "startTime": chapter.start_ms / 1000,
            "endTime": chapter.end_ms / 1000,
            "title": " ".join(text_lines(chapter.title)),
        }
        for chapter in sorted(chapters, key=lambda chapter: chapter.start_ms)
    ]
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def read(text: str, *, length_ms: int, name: str = "") -> tuple[Chapter, ...]:
    """The listed chapters, to the nearest millisecond; one without an end runs to the next, the last to ``length_ms``.

    Raises:
        CodecError: The text is no such document, or a chapter's times cannot be.
    """
    try:
        document = json.loads(text)
        entries = [entry for entry in document["chapters"] if entry.get("toc", True)]
        starts = [_ms(entry["startTime"]) for entry in entries]
        ends = [_end_ms(entry, following) for entry, following in zip(entries, [*starts[1:], length_ms], strict=True)]
        titles = [str(entry.get("title", "")) for entry in entries]
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as error:
        raise CodecError("this is no JSON chapters document", "Choose another file.", name=name) from error
    return _made(starts, ends, titles)


def _made(starts: Sequence[int], ends: Sequence[int], titles: Sequence[str]) -> tuple[Chapter, ...]:
    return tuple(Chapter(start, end, title) for start, end, title in zip(starts, ends, titles, strict=True))


def _end_ms(entry: dict[str, object], following_ms: int) -> int:
    end = entry.get("endTime")
    return following_ms if end is None else _ms(end)


def _ms(seconds: object) -> int:
    if isinstance(seconds, bool) or not isinstance(seconds, int | float):
        raise TypeError("a time is a number")
    return round(seconds * 1000)
