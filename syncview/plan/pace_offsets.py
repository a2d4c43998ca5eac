"""What it costs to be at an offset between words and picture: convex, piecewise linear, exact.

The offset ``x`` is when the words begin minus when the picture gets there, in lesson seconds: above 0 the words are
behind the picture. Each step of `pace_times` turns one such function into the next, and back-tracking finds the steps
that gave the cheapest end. Every function here is convex, so a sum of two choices (an infimal convolution) is a merge
of their pieces by slope.
"""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass, replace
from fractions import Fraction

Pieces = tuple[tuple[int, Fraction], ...]
"""Slope and length of each piece, slopes ascending."""


@dataclass(frozen=True, slots=True)
class OffsetCost:
    """A convex function from ``low`` on: ``at_low`` there, then along its pieces, then flat for ever or undefined."""

    low: Fraction
    at_low: Fraction
    pieces: Pieces = ()
    endless: bool = False
    """Whether it goes on flat after its pieces; their slopes are then all below 0."""

    @property
    def high(self) -> Fraction | None:
        """The last offset; None when there is none."""
        return None if self.endless else self.low + sum((length for _, length in self.pieces), Fraction(0))

    def at(self, offset_s: Fraction) -> Fraction:
        """The cost there, which must be inside."""
        cost, left = self.at_low, offset_s - self.low
        for slope, length in self.pieces:
            cost += slope * min(length, left)
            left -= min(length, left)
        return cost

    def cheapest(self, low: Fraction, high: Fraction | None, *, extra: int = 0) -> Fraction:
        """The least offset, from low to high, at which the cost and ``extra`` times the offset are cheapest."""
        best = max(self.low, low)
        end = self.low
        for slope, length in self.pieces:
            if slope + extra >= 0:
                break
            end += length
            best = max(best, end)
        return best if high is None else min(best, high)

    def from_low(self, low: Fraction) -> OffsetCost:
        """The same for offsets from ``low`` on."""
        left, cost, pieces = low - self.low, self.at_low, list(self.pieces)
        if left <= 0:
            return self
        while pieces and left > 0:
            slope, length = pieces.pop(0)
            cost += slope * min(length, left)
            if length > left:
                pieces.insert(0, (slope, length - left))
            left -= min(length, left)
        return OffsetCost(low, cost, tuple(pieces), self.endless)

    def up_to(self, high: Fraction) -> OffsetCost | None:
        """The same for offsets up to ``high``; None when it has none of them."""
        left, pieces = high - self.low, list[tuple[int, Fraction]]()
        if left < 0:
            return None
        for slope, length in (*self.pieces, *([(0, left)] if self.endless else [])):
            if left > 0:
                pieces.append((slope, min(length, left)))
            left -= min(length, left)
        return OffsetCost(self.low, self.at_low, tuple(pieces))

    def moved(self, by_s: Fraction) -> OffsetCost:
        """The same, each offset larger by so much."""
        return replace(self, low=self.low + by_s)

    def or_later(self) -> OffsetCost:
        """The cheapest with that offset or any smaller one: words may be delayed for nothing."""
        return OffsetCost(self.low, self.at_low, tuple(piece for piece in self.pieces if piece[0] < 0), endless=True)

    def waited(self, least_s: Fraction, most_s: Fraction, *, cost: int) -> OffsetCost:
        """After the picture has taken from least to most seconds at that cost a second: the offset falls by them."""
        pieces = [piece for piece in self.pieces if piece[0] != -cost]
        length = most_s - least_s + sum(length for slope, length in self.pieces if slope == -cost)
        if length:
            insort(pieces, (-cost, length))
        return OffsetCost(self.low - most_s, self.at_low + cost * most_s, tuple(pieces), self.endless)

    def with_off_place(self, at_s: Fraction, *, below: bool) -> OffsetCost:
        """With a cost of 1 a second for being ``below`` an offset, or else above it."""
        change = -1 if below else 1
        if self.endless:
            assert below, "an endless function that rises would have no flat end"
        pieces, place = list[tuple[int, Fraction]](), self.low
        for slope, length in self.pieces:
            under = min(max(at_s - place, Fraction(0)), length)
            for part, dearer in ((under, below), (length - under, not below)):
                if part > 0:
                    pieces.append((slope + change * dearer, part))
            place += length
        if self.endless and at_s > place:
            pieces.append((-1, at_s - place))
        off_s = max(at_s - self.low if below else self.low - at_s, Fraction(0))
        return OffsetCost(self.low, self.at_low + off_s, tuple(pieces), self.endless)
