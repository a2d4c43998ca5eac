"""One caption, and what a reader found in a caption file."""

from __future__ import annotations

from dataclasses import dataclass

from syncview_codecs.errors import CodecError


@dataclass(frozen=True, slots=True)
class Cue:
    """A text that is shown from ``start_ms`` up to but not including ``end_ms`` (integer ms).

    ``text`` is plain text, never markup, and may have line breaks (newlines). ``identifier`` is the cue's own
    name in the file, empty for none.

    Raises:
        CodecError: The start is negative, or the end does not come after the start (W3C WebVTT, section
            "Syntax", asks for an end strictly after the start).
    """

    start_ms: int
    end_ms: int
    text: str
    identifier: str = ""

    def __post_init__(self) -> None:
        if self.start_ms < 0:
            raise CodecError(f"a cue starts at {self.start_ms} ms, before 0", "Give it a start of 0 or later.")
        if self.end_ms <= self.start_ms:
            raise CodecError(
                f"a cue ends at {self.end_ms} ms, not after its start at {self.start_ms} ms",
                "Give it an end after its start.",
            )


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something a reader left out or had to read differently, so that nothing is lost in silence."""

    line: int
    """1-based line in the file."""
    reason: str
    """What happened and why, a plain phrase without a full stop."""


@dataclass(frozen=True, slots=True)
class CaptionFile:
    """The cues of a caption file, ascending by start, and everything that was left out of them."""

    cues: tuple[Cue, ...]
    skipped: tuple[Skipped, ...] = ()
    warnings: tuple[str, ...] = ()
    """What holds for the whole file, for example an encoding that had to be assumed; plain sentences."""
