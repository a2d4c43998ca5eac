"""Filler words of spoken English, taken out only where the coach asks for it."""

from __future__ import annotations

import re

SOUNDS = ("um", "umm", "uh", "uhh", "uhm", "er", "erm", "ehm", "hmm", "mm", "mhm")
"""Taken out wherever they stand."""
PHRASES = ("you know", "i mean", "sort of", "kind of", "basically", "literally", "like", "okay", "ok", "well", "so",
           "right", "actually", "anyway", "you see")  # fmt: skip
"""Taken out only where commas or a sentence's ends set them apart: “so, brake” but not “turn so late”, “like” between
commas but not “brake like this”, “right,” at a sentence's start but not “to the right, then”."""

_SOUND = re.compile(rf",?\s*\b(?:{'|'.join(SOUNDS)})\b(?:,|\.\.\.|…)?", re.IGNORECASE)
_OPENING = re.compile(rf"(^|[.!?]\s+)(?:(?:{'|'.join(PHRASES)}),\s*)+", re.IGNORECASE)
_BETWEEN = re.compile(
    rf",\s*(?:{'|'.join(p for p in PHRASES if p not in ('right', 'so', 'well'))})(?=,)", re.IGNORECASE
)
_REPEATED = re.compile(r"\b(the|a|and|to|you|in|is|it|at|of|on)(?:,?\s+\1\b)+", re.IGNORECASE)
"""A word said twice in a stutter: only these; “again again” may be meant."""


def without_fillers(text: str) -> str:
    """The text without fillers and stutters, sentences beginning with a capital again; may be empty."""
    said = _SOUND.sub(_mark_of_end, text)
    said = _OPENING.sub(r"\1", said.lstrip(" ,"))
    said = _BETWEEN.sub("", said)
    said = _REPEATED.sub(r"\1", said)
    said = " ".join(said.split())
    said = re.sub(r"\s+([,.;:!?])", r"\1", said)
    said = re.sub(r"^[,.;:!?\s]+", "", said)
    return re.sub(r"(^|[.!?]\s)(\w)", _with_capital, said)


def _with_capital(match: re.Match[str]) -> str:
    letter = match[2].upper()
    return match[1] + (letter if len(letter) == 1 else match[2])  # ß has no capital of its own


def _mark_of_end(match: re.Match[str]) -> str:
    """A comma on both sides of a sound leaves one comma behind: “brake, um, hard” becomes “brake, hard”."""
    return "," if match[0].startswith(",") and match[0].endswith(",") and not match.string[: match.start()].endswith(
        (".", "!", "?")) else ""  # fmt: skip
