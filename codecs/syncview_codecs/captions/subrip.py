"""SubRip (``.srt``): a de-facto format without a standard body; rules here are common practice.

There is no escaping. A ``<b>`` in a note is written as it is (a player may take it for a tag), and ``-->``, which
line-based parsers take for a time line, is written as an arrow.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from syncview_codecs.captions.cue import CaptionFile, Cue, Skipped
from syncview_codecs.captions.plain_text import format_clock, in_lines, text_lines
from syncview_codecs.errors import CodecError

_CLOCK = r"(?:(\d+):)?(\d{1,3}):(\d{1,2})(?:[,.](\d{1,3}))?"
_TIME_LINE = re.compile(rf"\s*{_CLOCK}\s*-->\s*{_CLOCK}(?!\d)(.*)", re.DOTALL)
_MEANT_AS_TIME_LINE = re.compile(r"(?=.*\d:\d).*-->")
_POSITION = re.compile(r"(?:\s*[XY][12]:\d+)+\s*", re.IGNORECASE)
_STYLING = re.compile(r"</?(?:b|i|u|s)\s*>|<font(?:\s[^<>]*)?>|</font\s*>|\{\\an?\d+\}", re.IGNORECASE)
"""Only what players take for formatting; any other ``<...>`` is the author's text and stays."""


def sniff(opening: str) -> bool:
    """Tell whether the opening of a file has a SubRip time line."""
    return any(_TIME_LINE.fullmatch(line) for line in in_lines(opening))


def write(cues: Iterable[Cue]) -> str:
    """The cues as a SubRip text: sorted by start, counted from 1, LF line ends, no byte order mark.

    Every word is kept; blank lines and control characters inside a text are dropped. Identifiers are not written,
    as the counter takes their place.

    Raises:
        CodecError: A cue has no text.
    """
    entries = []
    for counter, cue in enumerate(sorted(cues, key=lambda cue: cue.start_ms), start=1):
        lines = text_lines(cue.text)
        if not lines:
            raise CodecError(f"the cue at {cue.start_ms} ms has no text", "Give it a text or leave it out.")
        start, end = (format_clock(time_ms, decimal_mark=",") for time_ms in (cue.start_ms, cue.end_ms))
        text = "\n".join(lines).replace("-->", "→")
        entries.append(f"{counter}\n{start} --> {end}\n{text}\n")
    return "\n".join(entries)


def read(text: str, *, name: str = "") -> CaptionFile:
    """The cues of a SubRip text, sorted by start; overlaps stay.

    Tolerated: byte order mark, any line end, missing counters, decimal points, times without hours, positions,
    blank lines inside a text. Styling tags are taken off and counted in ``warnings``; whatever is left out is named
    in ``skipped``. A cue's counter becomes its identifier.

    Raises:
        CodecError: The text is empty or has no time line.
    """
    if not text.removeprefix("\ufeff").strip():
        raise CodecError("the file is empty", "Choose a SubRip file with captions in it.", name=name)
    reading = _Reading(in_lines(text))
    if not any(_TIME_LINE.fullmatch(line) for line in reading.lines):
        raise CodecError(
            "no line gives a start and an end like 00:00:01,000 --> 00:00:02,500",
            "Choose a SubRip file (.srt).",
            name=name,
        )
    for time_line, after in zip(reading.time_lines, [*reading.time_lines[1:], len(reading.lines)], strict=True):
        reading.take_entry(time_line, after)
    return reading.result()


@dataclass(slots=True)
class _Reading:
    """One pass over a file's lines: what was understood so far and what was not. Line numbers here are 0-based."""

    lines: list[str]
    time_lines: list[int] = field(init=False)
    cues: list[Cue] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    positions: int = 0
    styled: int = 0
    counter: int = 0

    def __post_init__(self) -> None:
        self.time_lines = [index for index, line in enumerate(self.lines) if _MEANT_AS_TIME_LINE.match(line)]
        first = self._counter_index(self.time_lines[0]) if self.time_lines else 0
        for index in range(first):
            if self.lines[index].strip():
                self.skip(index, f"{_short(self.lines[index])} stands before the first time line")

    def skip(self, index: int, reason: str) -> None:
        self.skipped.append(Skipped(index + 1, reason))

    def _counter_index(self, time_line: int) -> int:
        """Index of the counter above a time line, or of the time line itself when there is none.

        A number that follows a text without a blank line is a counter only when it continues the count: it may
        as well be the text's last line.
        """
        above = self.lines[time_line - 1].strip() if time_line else ""
        if not (above.isascii() and above.isdigit()):
            return time_line
        after_blank = time_line < 2 or not self.lines[time_line - 2].strip()
        return time_line - 1 if after_blank or int(above) == self.counter + 1 else time_line

    def take_entry(self, time_line: int, after: int) -> None:
        """Read the entry whose time line is given; the next entry's time line is ``after``."""
        counter_index = self._counter_index(time_line)
        identifier = self.lines[counter_index].strip() if counter_index < time_line else ""
        self.counter = int(identifier) if identifier else self.counter + 1
        end = self._counter_index(after) if after < len(self.lines) else after
        times = self._times(time_line)
        if times is None:
            return
        text = "\n".join(line.strip() for line in self.lines[time_line + 1 : end] if line.strip())
        plain, tags = _STYLING.subn("", text)
        self.styled += bool(tags)
        plain = "\n".join(line.strip() for line in plain.split("\n") if line.strip())
        if plain:
            self.cues.append(Cue(*times, plain, identifier))
        else:
            self.skip(time_line, "the cue has no text")

    def _times(self, index: int) -> tuple[int, int] | None:
        found = _TIME_LINE.fullmatch(self.lines[index])
        if found is None:
            self.skip(index, f"the times cannot be read: {_short(self.lines[index])}; its text is left out")
            return None
        groups = found.groups()
        if any(len(fraction) < 3 for fraction in (groups[3], groups[7]) if fraction):
            self.skip(index, "decimals of fewer than three digits were read as tenths or hundredths of a second")
        start_ms, end_ms = _to_ms(*groups[:4]), _to_ms(*groups[4:8])
        if start_ms is None or end_ms is None:
            self.skip(index, f"minutes or seconds above 59: {_short(self.lines[index])}; its text is left out")
            return None
        if end_ms <= start_ms:
            self.skip(index, f"the end is not after the start: {_short(self.lines[index])}; its text is left out")
            return None
        self._note_rest(index, groups[8])
        return start_ms, end_ms

    def _note_rest(self, index: int, rest: str) -> None:
        if _POSITION.fullmatch(rest):
            self.positions += 1
        elif rest.strip():
            self.skip(index, f"{_short(rest)} after the end time was left out")

    def result(self) -> CaptionFile:
        cues = tuple(sorted(self.cues, key=lambda cue: cue.start_ms))
        warnings = []
        if cues != tuple(self.cues):
            warnings.append("The cues were not in order of time; they have been sorted.")
        if self.positions:
            warnings.append(f"Positions were left out (cues concerned: {self.positions}).")
        if self.styled:
            warnings.append(f"Text styling was left out (cues concerned: {self.styled}).")
        return CaptionFile(cues, tuple(sorted(self.skipped, key=lambda item: item.line)), tuple(warnings))


def _to_ms(hours: str | None, minutes: str, seconds: str, fraction: str | None) -> int | None:
    if int(seconds) > 59 or (hours is not None and int(minutes) > 59):
        return None
    whole_s = (int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)
    return whole_s * 1000 + int((fraction or "0").ljust(3, "0"))


def _short(text: str) -> str:
    """A piece of a faulty line to show in a message."""
    text = text.strip()
    return f"“{text[:60]}…”" if len(text) > 60 else f"“{text}”"
