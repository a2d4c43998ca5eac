"""A section's media cut where something changes: the corners, pins and full-speed stretches, and their speeds."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed

SLIVER_S = Fraction(1, 4)
"""Media too short for a speed of its own: 15 pictures at 60 frames/s. Own choice; no source."""

Kind = Literal["free", "corner", "rhythm", "pinned", "pinned hold"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Media between two corners that runs at full speed, so that the student feels the rhythm."""

    begin_media_s: Fraction
    end_media_s: Fraction
    between: str
    """`corner 3 and corner 4`."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Media within which nothing changes; a pinned hold is a piece without length."""

    begin_media_s: Fraction
    end_media_s: Fraction
    slowest: Fraction
    fastest: Fraction
    kind: Kind
    name: str = ""
    """The corner that it plays no faster than, or what the stretch is between."""
    hold_s: Fraction = Fraction(0)

    @property
    def media_s(self) -> Fraction:
        """How much media it is."""
        return self.end_media_s - self.begin_media_s

    def lasts_s(self, speed: Fraction) -> Fraction:
        """Lesson time when it plays at a speed as far as its own limits allow."""
        return self.hold_s or self.media_s / min(max(speed, self.slowest), self.fastest)


@dataclass(frozen=True, slots=True)
class Layout:
    """All that says how fast media may play."""

    corners: Sequence[PacedCorner]
    stretches: Sequence[Stretch]
    speeds: Sequence[PinnedSpeed]
    holds: Sequence[PinnedHold]
    rules: PaceRules

    def pieces(self, begin_media_s: Fraction, end_media_s: Fraction) -> tuple[Piece, ...]:
        """The media between two places cut to pieces; a pinned hold at either place is not one of them."""
        near = self._near(begin_media_s, end_media_s)
        parts: list[PacedCorner | Stretch | PinnedSpeed] = [*near.corners, *near.stretches, *near.speeds]
        inner = {mark for part in parts for mark in (part.begin_media_s, part.end_media_s)}
        inner |= {hold.media_s for hold in near.holds}
        marks = sorted({begin_media_s, end_media_s, *(m for m in inner if begin_media_s < m < end_media_s)})
        held_s = {hold.media_s: hold.lesson_s for hold in near.holds if hold.lesson_s}
        pieces = []
        for begin_s, end_s in pairwise(marks):
            if begin_s in held_s:
                one = Fraction(1)
                pieces.append(Piece(begin_s, begin_s, one, one, "pinned hold", hold_s=held_s[begin_s]))
            pieces.append(near._piece(begin_s, end_s))
        return tuple(pieces)

    def _near(self, begin_s: Fraction, end_s: Fraction) -> Layout:
        """What of it concerns the media between two places."""
        return replace(
            self,
            corners=[c for c in self.corners if c.begin_media_s < end_s and c.end_media_s > begin_s],
            stretches=[s for s in self.stretches if s.begin_media_s < end_s and s.end_media_s > begin_s],
            speeds=[pin for pin in self.speeds if pin.begin_media_s < end_s and pin.end_media_s > begin_s],
            holds=[pin for pin in self.holds if begin_s < pin.media_s < end_s],
        )

    def _piece(self, begin_s: Fraction, end_s: Fraction) -> Piece:
        for pin in self.speeds:
            if pin.begin_media_s <= begin_s and end_s <= pin.end_media_s:
                return Piece(begin_s, end_s, pin.speed, pin.speed, "pinned")
        for stretch in self.stretches:
            if stretch.begin_media_s <= begin_s and end_s <= stretch.end_media_s:
                return Piece(begin_s, end_s, Fraction(1), Fraction(1), "rhythm", stretch.between)
        around = [c for c in self.corners if c.begin_media_s <= begin_s and end_s <= c.end_media_s]
        slow = min(around, key=lambda corner: corner.highest_speed, default=None)
        if slow is None or slow.highest_speed == 1:
            return Piece(begin_s, end_s, self.rules.floor, Fraction(1), "free")
        return Piece(begin_s, end_s, self.rules.floor, self.rules.at_most(slow.highest_speed), "corner", slow.name)


def full_speed_stretches(
    corners: Sequence[PacedCorner],
    places: Sequence[Fraction],
    speeds: Sequence[PinnedSpeed],
    *,
    least_s: Fraction,
) -> tuple[Stretch, ...]:
    """Where the media between two corners runs at full speed.

    From the end of one corner to the begin of the next, the places (of notes and pinned holds) and the pinned speeds
    part the media. The longest part without a pin, the last of several as long, is taken when it lasts at least
    ``least_s``, and of it the last ``least_s`` (all of it when less than `SLIVER_S` would be left): what is said before
    then has the most time, and the place after it is met at full speed.
    """
    if least_s <= 0:
        return ()
    cuts = sorted({*places, *(mark for pin in speeds for mark in (pin.begin_media_s, pin.end_media_s))})
    stretches = []
    for before, after in _gaps(corners):
        first, last = before.end_media_s, after.begin_media_s
        inner = cuts[bisect_right(cuts, first) : bisect_left(cuts, last)]
        parts = [
            part
            for part in pairwise((first, *inner, last))
            if not any(pin.begin_media_s <= part[0] and part[1] <= pin.end_media_s for pin in speeds)
        ]
        begin_s, end_s = max(parts, key=lambda part: (part[1] - part[0], part[0]), default=(least_s, least_s))
        if end_s - begin_s >= least_s:
            from_s = begin_s if end_s - begin_s - least_s < SLIVER_S else end_s - least_s
            stretches.append(Stretch(from_s, end_s, f"{before.name} and {after.name}"))
    return tuple(stretches)


def _gaps(corners: Sequence[PacedCorner]) -> list[tuple[PacedCorner, PacedCorner]]:
    """Corners next to each other with media between them; those that overlap have none."""
    ordered = sorted(corners, key=lambda corner: (corner.begin_media_s, corner.end_media_s))
    gaps, last = [], ordered[0] if ordered else None
    for corner in ordered[1:]:
        assert last is not None
        if corner.begin_media_s > last.end_media_s:
            gaps.append((last, corner))
        last = max(last, corner, key=lambda corner: corner.end_media_s)
    return gaps


def corners_inside(
    corners: Sequence[PacedCorner], begin_media_s: Fraction, end_media_s: Fraction, places: Sequence[Fraction]
) -> tuple[PacedCorner, ...]:
    """The corners as far as they lie in the section, each stretched to what it nearly reaches (`SLIVER_S`)."""
    inside = [
        replace(
            corner,
            begin_media_s=max(corner.begin_media_s, begin_media_s),
            end_media_s=min(corner.end_media_s, end_media_s),
        )
        for corner in corners
        if corner.begin_media_s < end_media_s and corner.end_media_s > begin_media_s
    ]
    ends = sorted({begin_media_s, *places, *(corner.end_media_s for corner in inside)})
    begins = sorted({end_media_s, *places, *(corner.begin_media_s for corner in inside)})
    stretched = []
    for corner in inside:
        before_s = ends[bisect_right(ends, corner.begin_media_s) - 1]
        after_s = begins[bisect_left(begins, corner.end_media_s)]
        first_s = before_s if corner.begin_media_s - before_s < SLIVER_S else corner.begin_media_s
        last_s = after_s if after_s - corner.end_media_s < SLIVER_S else corner.end_media_s
        stretched.append(replace(corner, begin_media_s=first_s, end_media_s=last_s))
    return tuple(stretched)
