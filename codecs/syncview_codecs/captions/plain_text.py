"""What caption formats share: whole lines of clean text, and clock times to the millisecond."""

from __future__ import annotations

import unicodedata


def text_lines(text: str) -> list[str]:
    """The lines of a text with every word kept, and without blank lines or characters that files cannot carry.

    A blank line ends a cue in SubRip and WebVTT, so none may stay inside one. Control characters that count as
    blank space become a space, others vanish, and a lone surrogate (no UTF-8 form) becomes U+FFFD.
    """
    whole = text.replace("\r\n", "\n").replace("\r", "\n").replace("\u2028", "\n").replace("\u2029", "\n")
    cleaned = "".join(_clean(character) for character in whole)
    return [line.strip() for line in cleaned.split("\n") if line.strip()]


def _clean(character: str) -> str:
    if character == "\n":
        return character
    category = unicodedata.category(character)
    if category == "Cc":
        return " " if character.isspace() else ""
    return "\ufffd" if category == "Cs" else character


def format_clock(time_ms: int, *, decimal_mark: str) -> str:
    """``hh:mm:ss`` and three decimals: hours have two digits or more, as SubRip and WebVTT both read them.

    Worked (W3C WebVTT syntax): 3 723 456 ms is ``01:02:03.456``, 360 000 000 ms is ``100:00:00.000``.
    """
    seconds, milliseconds = divmod(time_ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}{decimal_mark}{milliseconds:03d}"


def in_lines(text: str) -> list[str]:
    """Split the text of a file at CRLF, LF or CR, without its byte order mark."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
