"""A note's words in cues and lines, broken where a reader pauses. No word is dropped or changed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

from syncview.plan.caption_limits import CaptionLimits, needed_ms, width, words_width

_BLANK = re.compile(r"[^\S\u00a0\u202f\u2007\n\r]+")
"""What separates words; no-break spaces keep "100 m" together."""
_LINE_END = re.compile(r"\s*[\n\r]\s*")
_SENTENCE_END = tuple(".!?…")
_PHRASE_END = tuple(",;:–—)")
_CLOSING = "\"'”’»)]"

_OPENER = re.compile(
    r"and|but|or|so|because|while|when|if|then|until|before|after|as|than|that|which|who|where|"
    r"at|in|on|to|into|onto|from|for|with|without|by|over|under|through|past|towards|out|off|of",
    re.IGNORECASE,
)
"""English conjunctions and prepositions: a line may well end before one. Other languages break by punctuation."""
_CLINGING = re.compile(
    r"a|an|the|your|my|this|that|these|its|no|very|and|or|but|at|in|on|to|into|from|for|with|by|of", re.IGNORECASE
)
"""English words that belong to the next one: a line should not end after one."""
_UNIT = re.compile(r"(?:k?m|m?s|(?:metre|meter|second)s?|per|%|bar|km/h|mph|rpm|g|nm|°[cf])[.,;:!?]*", re.IGNORECASE)

_SENTENCE_COST, _PHRASE_COST, _OPENER_COST, _PLAIN_COST, _CLINGING_COST, _UNIT_COST = 0.0, 1.0, 3.0, 6.0, 9.0, 12.0
_CUE_COST = 2.0
"""What one more cue costs."""
_BETWEEN_CUES = 3.0
"""How much worse a bad break is between two cues than between two lines."""
_STUB_COST = 6.0
"""What a cue of one or two words costs, when it is part of a longer note."""
_BALANCE_COST = 6.0
"""What half-empty cues or unequal lines cost at most. All these costs are our own choice; no source."""


@dataclass(frozen=True, slots=True)
class _Words:
    words: tuple[str, ...]
    break_costs: tuple[float, ...]
    """How badly a break after each word reads; 0 is best."""


def split_words(text: str) -> list[str]:
    """The words of a text; a no-break space does not separate."""
    return [word for line in _LINE_END.split(text) for word in _BLANK.split(line) if word]


def break_note(text: str, *, limits: CaptionLimits) -> tuple[str, ...]:
    """The texts of consecutive cues, each of lines within the limits, with every word in order.

    Breaks are sought after punctuation, then before a conjunction or preposition, in balanced lines. A word that is
    longer than a line stays whole on a line of its own. A text without words gives no cue.
    """
    note = _measure(text)
    return tuple(
        "\n".join(_in_lines(note, start, end, limits=limits)) for start, end in pairwise(_cue_bounds(note, limits))
    )


def reading_ms(text: str, *, limits: CaptionLimits) -> int:
    """Time that a note needs on screen, all its cues together, when it is read at the limits' speed."""
    return sum(needed_ms(split_words(cue), limits=limits) for cue in break_note(text, limits=limits))


def _measure(text: str) -> _Words:
    lines = [[word for word in _BLANK.split(line) if word] for line in _LINE_END.split(text)]
    words = [word for line in lines for word in line]
    costs = [_break_cost(before, after) for before, after in pairwise(words)] + [_SENTENCE_COST]
    end = 0
    for line in lines:
        end += len(line)
        if end:
            costs[end - 1] = _SENTENCE_COST  # the author broke the line here
    return _Words(tuple(words), tuple(costs))


def _break_cost(before: str, after: str) -> float:
    """How badly a break between two words reads."""
    ending = before.rstrip(_CLOSING)
    if ending.endswith(_SENTENCE_END):
        return _SENTENCE_COST
    if before.endswith(_PHRASE_END) or ending.endswith(_PHRASE_END):
        return _PHRASE_COST
    if before[-1:].isdigit() and _UNIT.fullmatch(after):
        return _UNIT_COST
    if _CLINGING.fullmatch(before):
        return _CLINGING_COST
    return _OPENER_COST if _OPENER.fullmatch(after) else _PLAIN_COST


def _cue_bounds(note: _Words, limits: CaptionLimits) -> list[int]:
    """Word indexes at which cues start, with the count of words as the last: the cheapest split of the note."""
    count = len(note.words)
    if not count:
        return []
    best = [0.0] + [float("inf")] * count
    start_of = [0] * (count + 1)
    for start in range(count):
        for end in range(start + 1, count + 1):
            if not _fits_cue(note.words[start:end], limits):
                break
            cost = best[start] + _cue_cost(note, start, end, limits)
            if cost < best[end]:
                best[end], start_of[end] = cost, start
    bounds = [count]
    while bounds[-1]:
        bounds.append(start_of[bounds[-1]])
    return bounds[::-1]


def _fits_cue(words: Sequence[str], limits: CaptionLimits) -> bool:
    """Whether words fit one cue: its lines, and its longest time with room for a gap. A single word always may."""
    if len(words) == 1:
        return True
    in_time = needed_ms(words, limits=limits) <= limits.most_ms - limits.gap_ms
    return in_time and max(map(_width, words)) <= limits.chars_per_line and _line_count(words, limits) <= limits.lines


def _line_count(words: Sequence[str], limits: CaptionLimits) -> int:
    """Fewest lines that hold the words in order; filling each line as far as it goes gives the fewest."""
    lines, used = 1, -1
    for word in words:
        needed = _width(word) + 1
        if used >= 0 and used + needed > limits.chars_per_line:
            lines, used = lines + 1, -1
        used += needed
    return lines


@lru_cache(maxsize=4096)
def _width(word: str) -> int:
    return width(word)


def _cue_cost(note: _Words, start: int, end: int, limits: CaptionLimits) -> float:
    room = limits.chars_per_line * limits.lines
    emptiness = max(0.0, 1 - words_width(note.words[start:end]) / room)
    stub = _STUB_COST if end - start < 3 and len(note.words) > 3 else 0.0
    return _CUE_COST + _BETWEEN_CUES * note.break_costs[end - 1] + stub + _BALANCE_COST * emptiness**2


def _in_lines(note: _Words, start: int, end: int, *, limits: CaptionLimits) -> list[str]:
    """The words of one cue in as few lines as hold them, broken where it reads best."""
    count = _line_count(note.words[start:end], limits)
    options = []
    for inner in combinations(range(start + 1, end), count - 1):
        lines = [note.words[first:last] for first, last in pairwise((start, *inner, end))]
        widths = [words_width(line) for line in lines]
        if max(widths) <= limits.chars_per_line or count == 1:
            uneven = (max(widths) - min(widths)) / limits.chars_per_line
            cost = sum(note.break_costs[index - 1] for index in inner) + _BALANCE_COST * uneven**2
            options.append((cost, inner, [" ".join(line) for line in lines]))
    return min(options)[2]
