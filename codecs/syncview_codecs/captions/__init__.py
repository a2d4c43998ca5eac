"""Caption files: SubRip and WebVTT, read and written.

A new format is one module beside this one with ``sniff``, ``read`` and ``write``, one row in ``FORMATS``, one test.
"""

from __future__ import annotations

import codecs
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from syncview_codecs.captions import subrip, webvtt
from syncview_codecs.captions.cue import CaptionFile, Cue, Skipped
from syncview_codecs.errors import CodecError

__all__ = ["FORMATS", "CaptionFile", "CaptionFormat", "Cue", "Skipped", "format_for", "read_captions"]

_OPENING_BYTES = 64 * 1024
_MOST_BYTES = 64 * 1024 * 1024
"""A day of speech at 180 words a minute is about 260 000 words, a few megabytes.

A larger file is a log or a film, and is not read to find that out.
"""


class _Read(Protocol):
    def __call__(self, text: str, *, name: str = "") -> CaptionFile: ...


@dataclass(frozen=True, slots=True)
class CaptionFormat:
    """One row of the registry."""

    name: str
    suffixes: tuple[str, ...]
    sniff: Callable[[str], bool]
    """Tells from the opening of a text whether it is of this format."""
    read: _Read
    write: Callable[[Iterable[Cue]], str]


FORMATS: tuple[CaptionFormat, ...] = (
    CaptionFormat("WebVTT", suffixes=(".vtt",), sniff=webvtt.sniff, read=webvtt.read, write=webvtt.write),
    CaptionFormat("SubRip", suffixes=(".srt",), sniff=subrip.sniff, read=subrip.read, write=subrip.write),
)
"""Tried in order; the first whose sniff() accepts the opening reads the file. WebVTT, with a sure mark, is first."""


def format_for(path: Path) -> CaptionFormat:
    """The format that a file name's suffix asks for.

    Raises:
        CodecError: No format has that suffix.
    """
    for row in FORMATS:
        if path.suffix.lower() in row.suffixes:
            return row
    known = ", ".join(suffix for row in FORMATS for suffix in row.suffixes)
    raise CodecError("the name has no suffix of a caption format", f"End it with one of {known}.", name=path.name)


def read_captions(path: Path) -> CaptionFile:
    """Read a caption file of any known format, told by its content and not by its name.

    The encoding is UTF-8, or UTF-16 where the file opens with its mark; failing both, Windows-1252 with a warning.

    Raises:
        CodecError: The file cannot be opened, is empty, is not text, or holds no captions.
    """
    raw = _read_bytes(path)
    if not raw.strip(b"\xef\xbb\xbf \t\r\n"):
        raise CodecError("the file is empty", "Choose a file with captions in it.", name=path.name)
    text, warnings = _decode(raw, path.name)
    row = next((row for row in FORMATS if row.sniff(text[:_OPENING_BYTES])), None)
    if row is None:
        raise CodecError(
            "this is not a caption file: it does not open with WEBVTT and has no time line with -->",
            "Choose a SubRip (.srt) or WebVTT (.vtt) file.",
            name=path.name,
        )
    named = next((other for other in FORMATS if path.suffix.lower() in other.suffixes), row)
    if named is not row:
        warnings.append(f"The name says {named.name}, the content is {row.name}; it was read as {row.name}.")
    found = row.read(text, name=path.name)
    return replace(found, warnings=(*warnings, *found.warnings))


def _read_bytes(path: Path) -> bytes:
    """The whole file, unless its opening shows that it is no text (it may be a film of many gigabytes)."""
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            if size > _MOST_BYTES:
                raise CodecError(
                    f"the file has {size / 1e6:.0f} MB, far more than captions take",
                    "Choose a SubRip (.srt) or WebVTT (.vtt) file.",
                    name=path.name,
                )
            opening = file.read(_OPENING_BYTES)
            if b"\0" in opening and not opening.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
                raise CodecError(
                    "the file holds binary data, not text",
                    "Choose a SubRip (.srt) or WebVTT (.vtt) file, saved as UTF-8.",
                    name=path.name,
                )
            return opening + file.read()
    except OSError as error:
        reason = (error.strerror or "unknown fault").lower()
        raise CodecError(f"cannot be read: {reason}", "Check the path and its permissions.", name=str(path)) from error


def _decode(raw: bytes, name: str) -> tuple[str, list[str]]:
    """The text, and a warning where its encoding had to be assumed."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return raw.decode("utf-16"), []
        except UnicodeDecodeError as error:
            raise CodecError("the UTF-16 text is damaged", "Save the file as UTF-8.", name=name) from error
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
    try:
        text = raw.decode("cp1252")
    except UnicodeDecodeError as error:
        raise CodecError(
            "the text is neither UTF-8 nor Windows-1252", "Save the file as UTF-8.", name=name, line=line
        ) from error
    return text, [f"The file is not UTF-8 (line {line}); it was read as Windows-1252: check letters with accents."]
