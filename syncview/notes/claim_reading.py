"""A sentence while its claims are read: what was understood is taken out of the way of the readers that follow."""

from __future__ import annotations

import re
from typing import Any

from syncview.notes import claim_patterns as p
from syncview.notes.claims import About, Claim, Quantity
from syncview.notes.plain_words import strange_words
from syncview.notes.spoken import SaidNumber, Sentence

TAKEN = "§"


class Reading:
    """One sentence while it is read; `said` has `§` where words have been understood."""

    def __init__(self, sentence: Sentence, imperial: bool, landmarks: tuple[str, ...]) -> None:
        self.sentence, self.imperial = sentence, imperial
        self.said = sentence.said
        self.landmarks = tuple(words.lower() for words in landmarks)
        self.claims: list[Claim] = []
        self.strange = strange_words(sentence.said)
        self.aside = p.ASIDE.search(sentence.said)

    def matches(self, pattern: str) -> list[re.Match[str]]:
        """Where a pattern stands between blanks, among the words that are not taken yet."""
        found = re.finditer(rf"(?<= )(?:{pattern})(?= )", self.said)
        return list(found)

    def number(self, token: str) -> SaidNumber:
        """The number that a token stands for."""
        return self.sentence.numbers[int(token.strip("#"))]

    def claim(self, quantity: Quantity, match: re.Match[str], **facts: Any) -> None:
        """Note a claim and take its words out of the way."""
        begin, end = self.sentence.in_text(match.start(), match.end())
        about: About = facts.pop("about", _about(match))
        doubt = facts.pop("doubt", "")
        negated = facts.pop("negated", None)
        if negated is None:
            clause = self.said[: match.start()].rpartition(" ,")[2]
            negated = p.NEGATION.search(f" {clause.lstrip()}") is not None
        doubt = doubt or self._doubt(match)
        self.claims.append(Claim(quantity, begin, end, about=about, negated=negated, doubt=doubt,
                                 strange=self.strange, **facts))  # fmt: skip
        self.take(match.start(), match.end())

    def _doubt(self, match: re.Match[str]) -> str:
        """Why the sentence may not mean this value, here."""
        if self.sentence.question:
            return "it is a question"
        before, after = self.sentence.said[: match.start()], self.sentence.said[match.end() :]
        from_to = " from " in before[-6:] + match[0][:5]
        if p.ONE_OF_SEVERAL.search(before) or (p.ONE_MORE.match(after) and not from_to):
            return "it names more than one value"
        return f"“{self.aside[0].strip()}” may speak of something other than this lap" if self.aside else ""

    def take(self, begin: int, end: int) -> None:
        """Hide words from the readers that follow."""
        self.said = self.said[:begin] + TAKEN * (end - begin) + self.said[end:]


def _about(match: re.Match[str]) -> About:
    words = match.groupdict().get("about")
    if not words:
        return ""
    return p.ABOUT_MEANS.get(words, "about")


def subject_of(reading: Reading, match: re.Match[str]) -> str:
    """Who or what is at a place: the nearest named before it in the sentence, else the first after it."""
    before: list[tuple[int, int, str]] = []
    after: list[tuple[int, int, str]] = []
    for rank, (name, pattern) in enumerate(p.SUBJECTS):
        for found in re.finditer(rf"(?<= )(?:{pattern})(?= )", reading.sentence.said):
            if found.end() <= match.start():
                before.append((-found.end(), rank, name))
            elif found.start() >= match.end():
                after.append((found.start(), rank, name))
    chosen = min(before, default=None) or min(after, default=None)
    return "" if chosen is None else chosen[2]


def clause_of(reading: Reading, match: re.Match[str]) -> str:
    """The part between commas that a match stands in, without the match."""
    before = reading.said[: match.start()].rpartition(" ,")[2]
    after = reading.said[match.end() :].partition(", ")[0]
    return f" {before.strip()} {after.strip()} "
