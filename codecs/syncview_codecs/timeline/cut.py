"""A film's cut: which piece of a recording plays when, how fast, and what is marked."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from syncview_codecs.errors import CodecError


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the film: a piece of the recording, a still of it, or (without a media time) something else."""

    frames: int
    """Pictures of the film that it lasts, above 0."""
    name: str = ""
    begin_media_s: Fraction | None = None
    """Seconds from the recording's first picture; None for what is not in the recording, such as a card."""
    speed: Fraction = Fraction(1)
    """Media seconds per film second; 0 for a still."""
    comment: str = ""

    def __post_init__(self) -> None:
        if self.frames <= 0 or self.speed < 0:
            raise CodecError(f"a piece of {self.frames} pictures at speed {self.speed} cannot be cut", "Leave it out.")


@dataclass(frozen=True, slots=True)
class Mark:
    """Something to find in the film."""

    frame: int
    """The film's picture at which it begins, from 0."""
    name: str
    frames: int = 1
    comment: str = ""


@dataclass(frozen=True, slots=True)
class Cut:
    """A film's pieces without holes, in order, and its marks."""

    name: str
    rate: Fraction
    """Pictures of the film per second."""
    media_url: str
    """Where the recording lies: a path relative to the document, or a URL."""
    media_rate: Fraction
    media_frames: int
    pieces: tuple[Piece, ...]
    marks: tuple[Mark, ...] = ()

    @property
    def frames(self) -> int:
        """Pictures of the whole film."""
        return sum(piece.frames for piece in self.pieces)
