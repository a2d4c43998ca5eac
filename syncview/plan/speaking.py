"""How long it takes to say a text, where no voice is recorded: an estimate from words per minute."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

WORDS_PER_MINUTE = 150.0
"""A calm speaker: common practice for narrated English is 150 to 160; no source, from memory."""
_CLOSE_WRITTEN = Fraction(1, 2)
"""Words that a sign of Chinese or Japanese counts as, which are written without blanks: about 300 signs a minute are
as quick as 150 words; no source, from memory."""

_TOKEN = re.compile(r"\d+(?:[.,]\d+)*|[^\W\d_]+(?:['’][^\W\d_]+)*|[%°/+=]", re.UNICODE)
"""A number, a word, or a sign that is said (`%` percent, `/` per, `°` degrees)."""


def speaking_s(text: str, *, words_per_minute: float = WORDS_PER_MINUTE) -> Fraction:
    """Seconds that a speaker needs for a text; 0 when there is nothing to say.

    Worked: "Brake at the 100 board" is said in six words, "brake at the one hundred board": 2.4 s at 150 a minute.

    Raises:
        ValueError: The speaker says nothing in a minute.
    """
    if words_per_minute <= 0:
        raise ValueError(f"{words_per_minute} words a minute are no speech")
    return spoken_words(text) * 60 / Fraction(words_per_minute)


def spoken_words(text: str) -> Fraction:
    """How many words are said, numbers as an English speaker says them (`72` two words, `1.85` four)."""
    return sum((_token_words(token) for token in _TOKEN.findall(text)), Fraction(0))


def _token_words(token: str) -> Fraction:
    if token[0].isdecimal():
        return Fraction(_number_words(token))
    close = sum(unicodedata.east_asian_width(sign) in ("W", "F") for sign in token)
    return close * _CLOSE_WRITTEN if close else Fraction(1)


def _number_words(digits: str) -> int:
    """Words of a number: `1,200` has separators of thousands, `1.85` and `1,85` have decimals said one by one."""
    whole, *rest = re.split(r"[.,]", digits)
    if rest and all(len(group) == 3 for group in rest) and "." not in digits:
        return _integer_words(int(whole + "".join(rest)))
    return _integer_words(int(whole)) + sum(1 + len(group) for group in rest)


def _integer_words(number: int) -> int:
    """`110` is three words, "one hundred ten"; 21 to 99 are two unless they end in 0."""
    if number < 100:
        return 1 if number <= 20 or number % 10 == 0 else 2
    for size in (10**12, 10**9, 10**6, 1000, 100):
        if number >= size:
            rest = number % size
            return _integer_words(number // size) + 1 + (_integer_words(rest) if rest else 0)
    raise AssertionError("a number of 100 and more has hundreds")
