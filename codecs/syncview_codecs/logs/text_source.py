"""A text file as pieces of decoded text: encoding from its opening, NUL bytes dealt with, a byte count to start at."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from typing import IO

UNREADABLE = "\ufffd"
"""Takes the place of what is no text, so that a cell with it is reported and not cut short."""


@dataclass(frozen=True, slots=True)
class Encoding:
    """How the bytes are text."""

    codec: str
    mark_bytes: int
    """Length of the byte order mark before the text."""


def find_encoding(opening: bytes) -> Encoding | None:
    """UTF-16 by its mark or its zero bytes, UTF-8, else the Western code page; None for binary data."""
    if opening[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return Encoding("utf-16-le" if opening[0] == 0xFF else "utf-16-be", 2)
    head = opening[:4096].rstrip(b"\x00")
    if b"\x00" in head:
        return _without_mark(head)
    if opening.startswith(codecs.BOM_UTF8):
        return Encoding("utf-8", 3)
    try:
        codecs.getincrementaldecoder("utf-8")().decode(opening)  # a character may be cut at the end
    except UnicodeDecodeError:
        return Encoding("cp1252", 0)
    return Encoding("utf-8", 0)


def _without_mark(head: bytes) -> Encoding | None:
    """UTF-16 whose every other byte is zero, as in Western text; a few zero bytes in text; None otherwise."""
    zeros = [head[i::2].count(0) / max(1, len(head) // 2) for i in (0, 1)]
    if max(zeros) > 0.7 and min(zeros) < 0.05:
        return Encoding("utf-16-le" if zeros[1] > zeros[0] else "utf-16-be", 0)
    control = len(re.findall(rb"[\x00-\x08\x0e-\x1f]", head))
    return Encoding("utf-8", 0) if control < 0.02 * len(head) else None


def decoded(data: bytes, encoding: Encoding) -> str:
    """The opening as text; a character cut at the end is left off."""
    decoder = codecs.getincrementaldecoder(encoding.codec)(errors="replace")
    return decoder.decode(data[encoding.mark_bytes :]).replace("\x00", UNREADABLE)


def lines_of(text: str) -> list[str]:
    """Lines as a table reader counts them: by LF, CR or both, by no other sign."""
    return re.split(r"\r\n|\r|\n", text)


class TextSource:
    """The text from a byte on, for a table reader; knows afterwards whether there were NULs and how the text ended."""

    def __init__(self, stream: IO[bytes], encoding: Encoding) -> None:
        self._stream = stream
        self._decoder = codecs.getincrementaldecoder(encoding.codec)(errors="replace")
        self._waiting_nuls = 0
        self.inner_nuls = 0
        """NUL characters inside the text, each shown as an unreadable sign."""
        self.tail = ""
        """The last line's text so far, bounded."""

    def read(self, size: int = -1) -> str:
        """The next piece of text; empty at the end. NULs at the very end of the file are left off."""
        while True:
            data = self._stream.read(size)
            text = self._decoder.decode(data, final=not data)
            if "\x00" in text or self._waiting_nuls:
                text = self._without_nuls(text)
            if text or not data:
                break
        if text:
            cut = max(text.rfind("\n"), text.rfind("\r"))
            self.tail = text[cut + 1 :][-_LONGEST_TAIL:] if cut >= 0 else (self.tail + text)[-_LONGEST_TAIL:]
        return text

    def _without_nuls(self, text: str) -> str:
        kept = text.rstrip("\x00")
        waiting, self._waiting_nuls = self._waiting_nuls, len(text) - len(kept)
        if not kept:
            self._waiting_nuls += waiting
            return ""
        self.inner_nuls += waiting + kept.count("\x00")
        return UNREADABLE * min(waiting, 1) + kept.replace("\x00", UNREADABLE)

    @property
    def trailing_nuls(self) -> int:
        """NUL characters left off at the end."""
        return self._waiting_nuls

    def __iter__(self) -> TextSource:
        return self

    def __next__(self) -> str:
        piece = self.read(1 << 18)
        if not piece:
            raise StopIteration
        return piece


_LONGEST_TAIL = 1 << 16
