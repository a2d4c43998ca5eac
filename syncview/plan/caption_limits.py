"""How much text fits a caption, and how long it takes to read: the limits, their sources, their arithmetic."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class CaptionLimits:
    """Limits that captions should keep. ``LIMIT_SOURCES`` names where each value comes from.

    Raises:
        ValueError: A limit is not positive (windows and the gap may be 0), or the least time exceeds the most.
    """

    chars_per_line: int = 37
    lines: int = 2
    chars_per_s: float = 17.0
    words_per_minute: float = 180.0
    least_ms: int = 1000
    most_ms: int = 7000
    gap_ms: int = 80
    """Least pause between two cues that do not touch: two frames, here of 25 frames/s. Set it for the film's rate."""
    close_below_ms: int = 1000
    """A shorter pause is closed by showing the earlier cue longer, as far as ``most_ms`` allows."""
    earliest_before_ms: int = 1500
    latest_after_ms: int = 1500

    def __post_init__(self) -> None:
        positive = (self.chars_per_line, self.lines, self.chars_per_s, self.words_per_minute, self.least_ms)
        if min(positive) <= 0 or min(self.gap_ms, self.earliest_before_ms, self.latest_after_ms) < 0:
            raise ValueError("caption limits must be positive")
        if self.most_ms < self.least_ms + self.gap_ms:
            raise ValueError("the most time of a caption must exceed its least time and the gap")


LIMIT_SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "chars_per_line": "BBC Subtitle Guidelines, 3.1: 37 fixed-width characters",
        "lines": "BBC Subtitle Guidelines, 3.3: 2 lines on 16:9 (3 on 9:16)",
        "chars_per_s": "common practice: 17 comfortable, 20 the upper limit for adults",
        "words_per_minute": "BBC Subtitle Guidelines, 4: 160 to 180 words a minute",
        "least_ms": "common practice: 1 s",
        "most_ms": "common practice: 7 s",
        "gap_ms": "common practice: 2 frames",
        "close_below_ms": "BBC Subtitle Guidelines, 4.5: no gap, or at least 1 s",
        "earliest_before_ms": "BBC Subtitle Guidelines, 5.2: 1.5 s before",
        "latest_after_ms": "BBC Subtitle Guidelines, 5.4: 1.5 s after, never more than 2 s",
    }
)
"""Where each default of ``CaptionLimits`` comes from."""


def width(text: str) -> int:
    """Characters that a reader sees: combining marks, joiners and direction marks do not count, blanks do."""
    return sum(unicodedata.category(character) not in ("Mn", "Me", "Cf") for character in text)


def words_width(words: Sequence[str]) -> int:
    """Characters of words on one line, with a blank between two."""
    return sum(map(width, words)) + max(len(words) - 1, 0)


def needed_ms(words: Sequence[str], *, limits: CaptionLimits) -> int:
    """Time to read one cue's words: the longest of the times by characters, by words, and the least time.

    Worked: "Brake ten metres later at the board" has 7 words and 35 characters; 180 words a minute give 2.334 s,
    17 characters a second 2.059 s.
    """
    return max(by_chars_ms(words, limits=limits), by_words_ms(words, limits=limits), limits.least_ms)


def by_chars_ms(words: Sequence[str], *, limits: CaptionLimits) -> int:
    """Least whole milliseconds in which the words' characters keep to ``chars_per_s``."""
    return math.ceil(words_width(words) * 1000 / limits.chars_per_s)


def by_words_ms(words: Sequence[str], *, limits: CaptionLimits) -> int:
    """Least whole milliseconds in which the words keep to ``words_per_minute``."""
    return math.ceil(len(words) * 60_000 / limits.words_per_minute)
