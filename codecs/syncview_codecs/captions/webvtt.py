"""WebVTT (``.vtt``). Source: W3C, "WebVTT: The Web Video Text Tracks Format", sections "Syntax" and "Parsing"."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from syncview_codecs.captions.cue import CaptionFile, Cue, Skipped
from syncview_codecs.captions.plain_text import format_clock, in_lines, text_lines
from syncview_codecs.errors import CodecError

_HEADER = re.compile(r"WEBVTT(?:[ \t].*)?")
_CLOCK = r"(?:(\d+):)?([0-5]\d):([0-5]\d)([.,])(\d{3})"
_TIME_LINE = re.compile(rf"\s*{_CLOCK}\s*-->\s*{_CLOCK}(?!\d)(.*)", re.DOTALL)
_VOICE = re.compile(r"<v(?:\.[^\s>]*)?\s+([^>]*)>")
_TAG = re.compile(r"</?(?:c|i|b|u|ruby|rt|v|lang)(?:[.\s][^>]*)?>|<(?:\d+:)?\d\d:\d\d\.\d{3}>")
_PERCENT = r"(?:100(?:\.0+)?|\d{1,2}(?:\.\d+)?)%"
_SETTINGS = {
    "line": re.compile(rf"(?:-?\d+|{_PERCENT})(?:,(?:start|center|end))?"),
    "position": re.compile(rf"{_PERCENT}(?:,(?:line-left|center|line-right))?"),
    "size": re.compile(_PERCENT),
    "align": re.compile(r"start|center|end|left|right"),
}
"""What each cue setting may say (section "WebVTT cue settings")."""


def sniff(opening: str) -> bool:
    """Tell whether a file opens as WebVTT does."""
    return _HEADER.fullmatch(in_lines(opening)[0]) is not None


def write(
    cues: Iterable[Cue],
    *,
    line: str | None = None,
    position: str | None = None,
    size: str | None = None,
    align: str | None = None,
) -> str:
    """The cues as a WebVTT text, sorted by start, with the same cue settings for each (``None`` leaves one out).

    Every word is kept: ``&``, ``<`` and ``>`` are escaped; blank lines and control characters inside a text are
    dropped. A repeated identifier gets a number, as the format asks for unique ones.

    Raises:
        CodecError: A cue has no text, or a setting is not one that the format knows.
    """
    settings = _settings({"line": line, "position": position, "size": size, "align": align})
    used: set[str] = set()
    blocks = ["WEBVTT\n"]
    for cue in sorted(cues, key=lambda cue: cue.start_ms):
        lines = text_lines(cue.text)
        if not lines:
            raise CodecError(f"the cue at {cue.start_ms} ms has no text", "Give it a text or leave it out.")
        start, end = (format_clock(time_ms, decimal_mark=".") for time_ms in (cue.start_ms, cue.end_ms))
        text = html.escape("\n".join(lines), quote=False)
        blocks.append(f"{_identifier_line(cue.identifier, used)}{start} --> {end}{settings}\n{text}\n")
    return "\n".join(blocks)


def _settings(wanted: dict[str, str | None]) -> str:
    for setting, value in wanted.items():
        if value is not None and not _SETTINGS[setting].fullmatch(value):
            raise CodecError(f"WebVTT has no cue setting {setting}:{value}", "Use a value that the format knows.")
    return "".join(f" {setting}:{value}" for setting, value in wanted.items() if value is not None)


def _identifier_line(identifier: str, used: set[str]) -> str:
    base = " ".join(text_lines(identifier)).replace("-->", "→")
    if not base:
        return ""
    if base.startswith(("NOTE", "STYLE", "REGION", "WEBVTT")):
        base = f"cue {base}"  # simple parsers take a block that opens with one of these words for no cue
    unique, count = base, 1
    while unique in used:
        count += 1
        unique = f"{base} ({count})"
    used.add(unique)
    return f"{unique}\n"


def read(text: str, *, name: str = "") -> CaptionFile:
    """The cues of a WebVTT text as plain text, sorted by start; overlaps stay.

    Tags are taken off (``<v Ann>Hello`` reads ``Ann: Hello``) and character references decoded. Cue settings,
    styles and regions are left out and counted in ``warnings``; what cannot be read is named in ``skipped``.

    Raises:
        CodecError: The text is empty or does not open with ``WEBVTT``.
    """
    if not text.removeprefix("\ufeff").strip():
        raise CodecError("the file is empty", "Choose a WebVTT file with captions in it.", name=name)
    lines = in_lines(text.replace("\0", "\ufffd"))  # as the parsing section asks
    if not _HEADER.fullmatch(lines[0]):
        raise CodecError(
            "the first line is not WEBVTT", "Choose a WebVTT file (.vtt), or add that line.", name=name, line=1
        )
    reading = _Reading()
    for start, block in _blocks(lines):
        reading.take_block(start, block)
    return reading.result()


def _blocks(lines: list[str]) -> list[tuple[int, list[str]]]:
    """The runs of lines between blank ones, each with the 1-based number of its first line."""
    blocks: list[tuple[int, list[str]]] = []
    fresh = True
    for number, line in enumerate(lines, start=1):
        if not line:
            fresh = True
        elif fresh:
            blocks.append((number, [line]))
            fresh = False
        else:
            blocks[-1][1].append(line)
    return blocks


@dataclass(slots=True)
class _Reading:
    """One pass over a file's blocks: what was understood so far and what was not. Line numbers are 1-based."""

    cues: list[Cue] = field(default_factory=list)
    skipped: list[Skipped] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    with_settings: int = 0
    styled: int = 0

    def take_block(self, number: int, block: list[str]) -> None:
        """Read one block; the time line is its first or second line, else it holds no cue."""
        if number == 1:
            block = self._take_header(block)
            number += 1
        if not block:
            return
        at = next((index for index, line in enumerate(block[:2]) if "-->" in line), None)
        if at is not None:
            self._take_cues(number, block, at)
            return
        word = block[0].split(maxsplit=1)[0] if block[0].strip() else ""
        if word in ("STYLE", "REGION"):
            self.warnings.append(f"Line {number}: a {word} block was left out.")
        elif word != "NOTE" and "".join(block).strip():
            self.skipped.append(Skipped(number, f"“{block[0][:60]}” has no time line; the block is left out"))

    def _take_header(self, block: list[str]) -> list[str]:
        """Read the lines under ``WEBVTT`` and give back those that belong to a cue, if a blank line is missing."""
        for line in block[1:]:
            if line.startswith("X-TIMESTAMP-MAP"):
                self.warnings.append(f"{line} was ignored: times count from the start of this file.")
        first = next((index for index, line in enumerate(block) if "-->" in line), None)
        if first is None:
            return []
        self.skipped.append(Skipped(first + 1, "no blank line stands before the first cue; it was read all the same"))
        return [""] * (first - 1) + block[first:]

    def _take_cues(self, number: int, block: list[str], at: int) -> None:
        """Read a block that holds a cue, or several whose separating blank line is missing."""
        identifier = block[0].strip() if at == 1 else ""
        time_lines = [at] + [index for index in range(at + 1, len(block)) if _TIME_LINE.fullmatch(block[index])]
        for index, after in zip(time_lines, [*time_lines[1:], len(block)], strict=True):
            self._take_cue(number + index, block[index], block[index + 1 : after], identifier)
            identifier = ""

    def _take_cue(self, number: int, time_line: str, payload: list[str], identifier: str) -> None:
        found = _TIME_LINE.fullmatch(time_line)
        if found is None:
            reason = f"the times cannot be read: “{time_line.strip()[:60]}”; its text is left out"
            self.skipped.append(Skipped(number, reason))
            return
        groups = found.groups()
        if "," in (groups[3], groups[8]):
            self.skipped.append(Skipped(number, "a decimal comma was read as a point"))
        start_ms, end_ms = _to_ms(groups[:5]), _to_ms(groups[5:10])
        if end_ms <= start_ms:
            self.skipped.append(Skipped(number, "the end is not after the start; its text is left out"))
            return
        self.with_settings += bool(groups[10].strip())
        text = self._plain(number, payload)
        if text:
            self.cues.append(Cue(start_ms, end_ms, text, identifier))
        else:
            self.skipped.append(Skipped(number, "the cue has no text"))

    def _plain(self, number: int, payload: list[str]) -> str:
        """The words of a cue's text without its tags."""
        for offset, line in enumerate(payload, start=1):
            if "-->" in line:
                self.skipped.append(Skipped(number + offset, "--> inside a text was kept as text"))
        marked = "\n".join(payload)
        plain = _TAG.sub("", _VOICE.sub(lambda voice: f"{voice[1].strip()}: ", marked))
        self.styled += plain != marked
        unknown = re.search(r"<[^<>\n]*>", plain)
        if unknown:
            self.skipped.append(Skipped(number, f"{unknown[0][:60]} is no WebVTT tag; it was kept as text"))
        return "\n".join(line.strip() for line in html.unescape(plain).split("\n") if line.strip())

    def result(self) -> CaptionFile:
        cues = tuple(sorted(self.cues, key=lambda cue: cue.start_ms))
        warnings = list(self.warnings)
        if cues != tuple(self.cues):
            warnings.append("The cues were not in order of time; they have been sorted.")
        if self.with_settings:
            warnings.append(f"Cue settings were left out (cues concerned: {self.with_settings}).")
        if self.styled:
            warnings.append(f"Tags were left out (cues concerned: {self.styled}).")
        return CaptionFile(cues, tuple(sorted(self.skipped, key=lambda item: item.line)), tuple(warnings))


def _to_ms(parts: tuple[str | None, ...]) -> int:
    hours, minutes, seconds, _, milliseconds = (part or "0" for part in parts)
    return ((int(hours) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + int(milliseconds)
