"""One chapter of a film, the fact that every chapter format writes."""

from __future__ import annotations

from dataclasses import dataclass

from syncview_codecs.errors import CodecError


@dataclass(frozen=True, slots=True)
class Chapter:
    """A named stretch of a film, from ``start_ms`` up to, not including, ``end_ms`` (integer ms).

    Raises:
        CodecError: The start is negative, or the end does not come after the start.
            RFC 9559 (Matroska) asks the same: ``ChapterTimeEnd`` is exclusive and greater than the start.
    """

    start_ms: int
    end_ms: int
    title: str

    def __post_init__(self) -> None:
        if self.start_ms < 0:
            raise CodecError(
                f"the chapter {self.title!r} starts at {self.start_ms} ms, before the film",
                "Give it a start of 0 or later.",
            )
        if self.end_ms <= self.start_ms:
            raise CodecError(
                f"the chapter {self.title!r} ends at {self.end_ms} ms, not after its start at {self.start_ms} ms",
                "Give it an end after its start.",
            )
