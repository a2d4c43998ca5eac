"""The newest request, and who may still answer it: stale and lesser answers are dropped here."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.media.scrub.pictures import PictureMaker, ScrubPicture

if TYPE_CHECKING:
    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.errors import SyncviewError
    from syncview.media.recording import Recording
    from syncview.media.scrub.picture_ring import KeptPicture

_NEAR_S = 2.0
"""A request this near to the one before tells the direction of a drag."""
_FAR_S, _SOON_S = 0.75, 0.05
"""Requests for places so far apart, so soon after each other, are those of a wide drag."""


@dataclass(frozen=True, slots=True)
class Request:
    """A picture that is wanted."""

    asked: int
    """Counts requests from 1; 0 for a picture that was not asked for by a request."""
    number: int
    """The frame on screen at that time."""
    asked_s: Fraction
    direction: int
    """-1, 0 or 1."""
    full: bool
    """True when the recording's own size is wanted too."""
    is_hasty: bool = False
    """True in a wide drag: it came soon after one for a far place, and will soon be replaced itself."""


class Answers:
    """Takes requests from the window and pictures from the workers; any thread may use it."""

    def __init__(
        self,
        recording: Recording,
        *,
        on_picture: Callable[[ScrubPicture], None],
        on_fault: Callable[[SyncviewError], None],
    ) -> None:
        self.recording = recording
        self.changed = threading.Condition()
        """Held while the newest request or a worker's job changes."""
        self.newest: Request | None = None
        self.is_closing = False
        self._on_picture = on_picture
        self._on_fault = on_fault
        self._delivering = threading.Lock()
        self._answered_exactly = 0
        self._last_fault: str | None = None
        self._asked_at_s = 0.0

    def take(self, number: int, asked_s: Fraction, *, direction: int, full: bool) -> Request:
        """Make a request for frame `number` the newest; `changed` is held by the caller."""
        last = self.newest
        asked = 1 if last is None else last.asked + 1
        self.newest = Request(
            asked,
            number,
            asked_s,
            direction or self._direction(last, number),
            full,
            is_hasty=self._is_hasty(last, number),
        )
        return self.newest

    def close(self) -> None:
        """Deliver nothing any more."""
        with self.changed:
            self.is_closing = True
            self.changed.notify_all()

    def deliver_small(self, maker: PictureMaker, number: int, kept: KeptPicture, request: Request) -> None:
        """Hand over a small picture."""
        if self._is_newest(request.asked):
            self._deliver(self.small(maker, number, kept, request))

    def deliver_full(self, maker: PictureMaker, number: int, frame: VideoFrame, request: Request) -> None:
        """Hand over a picture of the recording's own size."""
        if self._is_newest(request.asked):
            self._deliver(self._picture(number, maker.full_rgb(frame), request, is_proxy=False, is_full=True))

    def small(self, maker: PictureMaker, number: int, kept: KeptPicture, request: Request) -> ScrubPicture:
        """The picture to show of a kept one."""
        return self._picture(number, maker.small_rgb(kept.small), request, is_proxy=kept.is_proxy, is_full=False)

    def tell_fault(self, fault: SyncviewError) -> None:
        """Hand over a fault; the same one only once until an exact picture could be had again."""
        with self.changed:
            if self.is_closing or self._last_fault == str(fault):
                return
            self._last_fault = str(fault)
        self._on_fault(fault)

    def _deliver(self, picture: ScrubPicture) -> None:
        with self._delivering:
            with self.changed:
                if not self._is_newest(picture.asked):
                    return
                if not picture.is_exact and self._answered_exactly == picture.asked:
                    return
                if picture.is_exact:
                    self._answered_exactly = picture.asked
                    self._last_fault = None
            self._on_picture(picture)

    def _is_newest(self, asked: int) -> bool:
        return not self.is_closing and self.newest is not None and self.newest.asked == asked

    def _picture(
        self, number: int, rgb: NDArray[np.uint8], request: Request, *, is_proxy: bool, is_full: bool
    ) -> ScrubPicture:
        return ScrubPicture(
            number=number,
            media_s=self.recording.frames.media_s(number),
            rgb=rgb,
            is_exact=number == request.number,
            is_proxy=is_proxy,
            is_full=is_full,
            asked_s=request.asked_s,
            asked=request.asked,
        )

    def _is_hasty(self, last: Request | None, number: int) -> bool:
        before_s, self._asked_at_s = self._asked_at_s, time.monotonic()
        if last is None or self._asked_at_s - before_s > _SOON_S:
            return False
        times_s = self.recording.frames.times_s
        return bool(abs(times_s[number] - times_s[last.number]) > _FAR_S)

    def _direction(self, last: Request | None, number: int) -> int:
        if last is None or last.number == number:
            return 0 if last is None else last.direction
        times_s = self.recording.frames.times_s
        if abs(times_s[number] - times_s[last.number]) > _NEAR_S:
            return 0
        return 1 if number > last.number else -1
