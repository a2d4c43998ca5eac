"""The small pictures kept in memory, within a budget of bytes; the least recently used go first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from av.video.frame import VideoFrame


@dataclass(frozen=True, eq=False, slots=True)
class KeptPicture:
    """A small picture as `PictureMaker.small` gives it."""

    small: VideoFrame
    is_proxy: bool


class PictureRing:
    """Small pictures by frame number; any thread may use it."""

    def __init__(self, budget_bytes: int) -> None:
        self.budget_bytes = budget_bytes
        self._kept: OrderedDict[int, KeptPicture] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()

    @property
    def used_bytes(self) -> int:
        """Memory of all pictures kept."""
        return self._bytes

    def get(self, number: int) -> KeptPicture | None:
        """The picture of that frame, which counts as used now."""
        with self._lock:
            kept = self._kept.get(number)
            if kept is not None:
                self._kept.move_to_end(number)
            return kept

    def put(self, number: int, picture: KeptPicture) -> None:
        """Keep a picture, in place of an older one of the same frame; not when it alone is over the budget."""
        size = picture_bytes(picture.small)
        if size > self.budget_bytes:
            return
        with self._lock:
            self._forget(number)
            self._kept[number] = picture
            self._bytes += size
            while self._bytes > self.budget_bytes:
                self._forget(next(iter(self._kept)))

    def has(self, number: int) -> bool:
        """True when the frame is kept; does not count as use."""
        with self._lock:
            return number in self._kept

    def nearest(self, number: int, *, begin: int, end: int) -> int | None:
        """The kept frame nearest to `number` among begin <= n < end."""
        with self._lock:
            near: Iterable[int] = (n for n in self._kept if begin <= n < end)
            return min(near, key=lambda n: abs(n - number), default=None)

    def clear(self) -> None:
        """Forget all."""
        with self._lock:
            self._kept.clear()
            self._bytes = 0

    def _forget(self, number: int) -> None:
        old = self._kept.pop(number, None)
        if old is not None:
            self._bytes -= picture_bytes(old.small)


def picture_bytes(small: VideoFrame) -> int:
    """Memory of a picture's planes."""
    return sum(plane.buffer_size for plane in small.planes)
