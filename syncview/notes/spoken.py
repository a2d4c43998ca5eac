"""Words as they are said, made regular for pattern matching: tokens parted by one blank, numbers as `#0#`, `#1#` …

Number words are read as drivers say them: “seventy-two”, “one eighty-three” (183), “a hundred and ten”, “two ten”
(210), “fifty-eight point five”. English only; no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

_TOKEN = re.compile(
    r"\d{1,2}:\d{2}(?:[.,]\d{1,3})?|\d{1,3}(?:,\d{3})+|\d+(?:[.,]\d+)?(?:st|nd|rd|th)?|"
    r"[^\W\d_]+(?:['/][^\W\d_]+)*|[%.,;:!?–—]"
)
_SMALL = {
    word: number
    for number, word in enumerate(
        ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
         "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
    )
}  # fmt: skip
_TENS = {
    word: 10 * number
    for number, word in enumerate(("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"), 2)
}
_PRONOUN_BEFORE = frozenset(
    ("this", "that", "next", "last", "first", "second", "third", "right", "left", "slow", "slower", "fast", "quick",
     "tight", "tighter", "other", "big", "long", "short", "which", "each", "every", "only")
)  # fmt: skip
"""“the tighter one seventy-two” is not 172."""


@dataclass(frozen=True, slots=True)
class SaidNumber:
    """A number in the text."""

    value: float
    decimals: int
    """Digits said behind the point: how finely the speaker spoke."""
    clock: bool = False
    """Minutes and seconds, given in seconds."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence made regular."""

    said: str
    """Lower-case tokens, each between single blanks; numbers as `#index#`."""
    numbers: tuple[SaidNumber, ...]
    """All numbers of the text, by index."""
    places: tuple[tuple[int, int, int, int], ...]
    """For each token: its begin and end in `said`, and its begin and end in the text."""
    question: bool = False

    def in_text(self, begin: int, end: int) -> tuple[int, int]:
        """Where a stretch of `said` lies in the text."""
        inside = [p for p in self.places if p[1] > begin and p[0] < end]
        return inside[0][2], inside[-1][3]


@dataclass(frozen=True, slots=True)
class _Token:
    word: str
    begin: int
    end: int


def sentences(text: str) -> tuple[Sentence, ...]:
    """The sentences of a text; `.`, `!`, `?` and `;` part them."""
    tokens = [
        _Token(m[0].lower().replace("’", "'"), m.start(), m.end()) for m in _TOKEN.finditer(text.replace("’", "'"))
    ]
    numbers: list[SaidNumber] = []
    merged = _with_numbers(tokens, numbers)
    result: list[tuple[list[_Token], bool]] = []
    current: list[_Token] = []
    for token in merged:
        if token.word in (".", "!", "?", ";"):
            result.append((current, token.word == "?"))
            current = []
        else:
            current.append(_Token("," if token.word in ("–", "—") else token.word, token.begin, token.end))
    result.append((current, False))
    return tuple(_sentence(part, tuple(numbers), question) for part, question in result if part)


def _sentence(tokens: Sequence[_Token], numbers: tuple[SaidNumber, ...], question: bool) -> Sentence:
    said, places = " ", []
    for token in tokens:
        places.append((len(said), len(said) + len(token.word), token.begin, token.end))
        said += token.word + " "
    return Sentence(said, numbers, tuple(places), question)


def _with_numbers(tokens: Sequence[_Token], numbers: list[SaidNumber]) -> list[_Token]:
    result: list[_Token] = []
    i = 0
    while i < len(tokens):
        before = tokens[i - 1].word if i else ""
        found = _number_at(tokens, i, before)
        if found is None:
            result.append(tokens[i])
            i += 1
            continue
        number, count = found
        result.append(_Token(f"#{len(numbers)}#", tokens[i].begin, tokens[i + count - 1].end))
        numbers.append(number)
        i += count
    return result


def _number_at(tokens: Sequence[_Token], i: int, before: str) -> tuple[SaidNumber, int] | None:
    """The number that begins at token `i`, and of how many tokens it is."""
    word = tokens[i].word
    if word[0].isdecimal():
        return _digits(word)
    words = [token.word for token in tokens[i : i + 8]]
    whole = _whole(words, pronoun=before in _PRONOUN_BEFORE)
    if whole is None:
        return None
    value, count = whole
    if words[count : count + 1] == ["point"]:
        digits = []
        for later in words[count + 1 :]:
            if later not in _SMALL or _SMALL[later] > 9:
                break
            digits.append(str(_SMALL[later]))
        if digits:
            return SaidNumber(float(f"{value}.{''.join(digits)}"), len(digits)), count + 1 + len(digits)
    if words[count : count + 3] == ["and", "a", "half"]:
        return SaidNumber(value + 0.5, 1), count + 3
    return SaidNumber(float(value), 0), count


def _digits(word: str) -> tuple[SaidNumber, int] | None:
    if word[-1].isalpha():
        return None  # 2nd: an ordinal
    if ":" in word:
        minutes, seconds = word.replace(",", ".").split(":")
        return SaidNumber(int(minutes) * 60 + float(seconds), len(seconds.partition(".")[2]), clock=True), 1
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", word):
        return SaidNumber(float(word.replace(",", "")), 0), 1
    plain = word.replace(",", ".")
    return SaidNumber(float(plain), len(plain.partition(".")[2])), 1


def _whole(words: Sequence[str], *, pronoun: bool) -> tuple[int, int] | None:
    """A whole number in words from the first on: its value and how many words it takes."""
    skip = 1 if words[0] == "a" and words[1:2] == ["hundred"] else 0
    if words[skip] == "hundred":
        rest = _below_hundred_after(words, skip + 1)
        return 100 + rest[0], skip + 1 + rest[1]
    first = _below_hundred(words)
    if first is None:
        return None
    value, count = first
    if words[count : count + 1] == ["hundred"] and value < 10:
        rest = _below_hundred_after(words, count + 1)
        return 100 * value + rest[0], count + 1 + rest[1]
    if 1 <= value <= 4 and count == 1 and not pronoun:  # “one eighty-three”, “two ten”, “one oh five”
        if words[1:2] in (["oh"], ["o"]) and words[2:3] and words[2] in _SMALL and _SMALL[words[2]] <= 9:
            return 100 * value + _SMALL[words[2]], 3
        tail = _below_hundred(words[1:])
        if tail is not None and tail[0] >= 10:
            return 100 * value + tail[0], 1 + tail[1]
    return value, count


def _below_hundred_after(words: Sequence[str], i: int) -> tuple[int, int]:
    """What follows “hundred”: “and ten”, “ten”, or nothing."""
    joint = 1 if words[i : i + 1] == ["and"] else 0
    rest = _below_hundred(words[i + joint :])
    return (0, 0) if rest is None or rest[0] == 0 else (rest[0], joint + rest[1])


def _below_hundred(words: Sequence[str]) -> tuple[int, int] | None:
    if not words:
        return None
    if words[0] in _TENS:
        if words[1:2] and 1 <= _SMALL.get(words[1], 0) <= 9:
            return _TENS[words[0]] + _SMALL[words[1]], 2
        return _TENS[words[0]], 1
    return (_SMALL[words[0]], 1) if words[0] in _SMALL else None
