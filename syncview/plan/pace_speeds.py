"""The speeds at which the media between two places takes a given time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from syncview.plan.pace_pieces import Piece


@dataclass(frozen=True, slots=True)
class Played:
    """A piece, or part of one, at a speed; 0 for a pinned hold."""

    piece: Piece
    begin_media_s: Fraction
    end_media_s: Fraction
    speed: Fraction

    @property
    def lesson_s(self) -> Fraction:
        """How long it takes."""
        return self.piece.hold_s or (self.end_media_s - self.begin_media_s) / self.speed


def play_pieces(
    pieces: Sequence[Piece], takes_s: Fraction, *, speeds: tuple[Fraction, ...] | None
) -> tuple[Played, ...]:
    """Play pieces in exactly that time, which must be possible: at one speed, as far as each piece's limits allow.

    Where only some speeds are allowed, at the two next to that speed, the slower one first: right after the note.
    """
    slow, fast = _levels_around(pieces, takes_s, speeds)
    over_s = takes_s - _lasts_s(pieces, fast)
    if over_s and speeds is not None:
        return _at_two_speeds(pieces, slow, fast, over_s / (1 / slow - 1 / fast))
    if over_s:
        rest_s = sum((piece.lasts_s(fast) for piece in pieces if not _gives(piece, fast)), Fraction(0))
        fast = sum((piece.media_s for piece in pieces if _gives(piece, fast)), Fraction(0)) / (takes_s - rest_s)
    return tuple(_played(piece, piece.begin_media_s, fast) for piece in pieces)


def _levels_around(
    pieces: Sequence[Piece], takes_s: Fraction, speeds: tuple[Fraction, ...] | None
) -> tuple[Fraction, Fraction]:
    """Two speeds at which the pieces take at least and at most that time; none that matters lies between them."""
    levels = {Fraction(1), *(speeds or ())}
    if speeds is None:
        levels |= {
            speed for piece in pieces if piece.slowest < piece.fastest for speed in (piece.slowest, piece.fastest)
        }
    fast = Fraction(1)
    for slow in sorted(levels - {fast}, reverse=True):
        if _lasts_s(pieces, slow) >= takes_s:
            return slow, fast
        fast = slow
    return fast, fast


def _at_two_speeds(
    pieces: Sequence[Piece], slow: Fraction, fast: Fraction, slow_media_s: Fraction
) -> tuple[Played, ...]:
    """The first ``slow_media_s`` of the pieces that may be as slow at the slow speed, all else at the fast one."""
    played, left_s = [], slow_media_s
    for piece in pieces:
        slowly_s = min(left_s, piece.media_s) if _gives(piece, fast) else Fraction(0)
        left_s -= slowly_s
        turn_s = piece.begin_media_s + slowly_s
        if slowly_s:
            played.append(Played(piece, piece.begin_media_s, turn_s, slow))
        if turn_s < piece.end_media_s or piece.hold_s:
            played.append(_played(piece, turn_s, fast))
    return tuple(played)


def _lasts_s(pieces: Sequence[Piece], speed: Fraction) -> Fraction:
    return sum((piece.lasts_s(speed) for piece in pieces), Fraction(0))


def _gives(piece: Piece, speed: Fraction) -> bool:
    """Whether the piece may play slower than that speed, and as fast."""
    return piece.slowest < speed <= piece.fastest


def _played(piece: Piece, begin_media_s: Fraction, speed: Fraction) -> Played:
    if piece.hold_s:
        return Played(piece, piece.begin_media_s, piece.end_media_s, Fraction(0))
    return Played(piece, begin_media_s, piece.end_media_s, min(max(speed, piece.slowest), piece.fastest))
