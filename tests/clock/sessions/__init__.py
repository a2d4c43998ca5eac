"""Whole sessions with known clocks, made from nothing: a recording with picture and sound, and the car's log."""

from tests.clock.sessions.making import MadeSession, Piece, Truth, make_session
from tests.clock.sessions.spec import SessionSpec

__all__ = ["MadeSession", "Piece", "SessionSpec", "Truth", "make_session"]
