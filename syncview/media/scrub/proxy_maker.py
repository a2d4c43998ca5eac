"""Makes the files of small pictures of one recording, the nearest to the playhead first."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from syncview.media.scrub.key_decoder import KeyDecoder
from syncview.media.scrub.media_fault import changed_fault
from syncview.media.scrub.pictures import PictureMaker
from syncview.media.scrub.proxy_file import SmallEncoder, packed
from syncview.media.scrub.proxy_orders import Made, Near, Order, Report, WorkOrder
from syncview.media.scrub.proxy_plan import Chunk, by_urgency, plan_of
from syncview.media.scrub.proxy_shelf import ProxyShelf
from syncview.media.scrub.source_decoder import SourceDecoder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_ROOM_SHARE = 0.9
"""Share of the budget that one recording's nearest files may fill."""


class _Stopped(Exception):
    """The work at hand is not wanted any more."""


class ProxyMaker:
    """Makes the files of one recording, the nearest to the playhead first."""

    def __init__(self, order: WorkOrder, *, before: Callable[[Chunk], None]) -> None:
        self._order = order
        self._before = before
        """Called with each file before it is made."""
        self._plan = plan_of(order.recording.frames)
        self._shelf = ProxyShelf(order.folder, order.budget_bytes, order.identity)
        self._pictures = PictureMaker(order.recording)
        self._source = SourceDecoder(order.recording)
        self._keys = KeyDecoder(order.recording)
        self._changed = threading.Condition()
        self._near = order.near
        self._news = 0
        self._is_ending = False

    def take(self, order: Order) -> None:
        """Hear from the parent; from any thread."""
        with self._changed:
            if isinstance(order, Near):
                self._near = order.number
            self._news += 1
            self._changed.notify_all()

    def end(self) -> None:
        """Stop as soon as possible; from any thread."""
        with self._changed:
            self._is_ending = True
            self._changed.notify_all()

    def reports(self) -> Iterator[Report]:
        """Work until all is made, the room is full with the nearest files, or it ends; waits for news in between."""
        yield Made(tuple(sorted(self._shelf.names())))
        while not self._is_ending:
            near, news = self._near, self._news
            wanted = self._wanted(near)
            chunk = next((c for c in wanted if not self._shelf.path(c.name).exists()), None)
            if chunk is None or not self._make(chunk, wanted, near):
                self._wait_for_news(news)
            else:
                yield Made(tuple(sorted(self._shelf.names())))

    def close(self) -> None:
        """Close the recording."""
        self._source.close()
        self._keys.close()

    def _wait_for_news(self, heard: int) -> None:
        with self._changed:
            self._changed.wait_for(lambda: self._is_ending or self._news != heard)

    def _wanted(self, near: int) -> list[Chunk]:
        """The files that fit into the budget, most urgent first."""
        sizes = [self._size(chunk) for chunk in self._plan.all()]
        known = [(size, chunk.count) for size, chunk in zip(sizes, self._plan.all(), strict=True) if size]
        a_picture = sum(size for size, _ in known) / max(sum(count for _, count in known), 1)
        room = self._order.budget_bytes * _ROOM_SHARE
        wanted: list[Chunk] = []
        for chunk in by_urgency(self._plan, self._order.recording.frames, near):
            room -= self._size(chunk) or a_picture * chunk.count
            if room < 0 and wanted:
                break
            wanted.append(chunk)
        return wanted

    def _size(self, chunk: Chunk) -> int:
        try:
            return self._shelf.path(chunk.name).stat().st_size
        except OSError:
            return 0

    def _make(self, chunk: Chunk, wanted: list[Chunk], near: int) -> bool:
        """Make one file; False when it does not fit. A playhead that went far away stops it unmade."""
        self._before(chunk)
        try:
            pictures = self._coded_keys(chunk) if chunk.kind == "keys" else self._coded_frames(chunk, near)
        except _Stopped:
            return True
        if not all(pictures.values()) and (lost := changed_fault(self._order.recording)) is not None:
            raise lost  # else frames of a file that is going away would be kept as damaged
        content = packed(self._order.identity, pictures)
        return self._shelf.put(chunk.name, content, protected={c.name for c in wanted})

    def _coded_keys(self, chunk: Chunk) -> dict[int, bytes]:
        encoder = self._encoder()
        there = []
        for number in chunk.numbers():
            if self._is_ending:
                raise _Stopped
            frame = self._keys.frame(number)
            if frame is not None:
                encoder.add(self._pictures.small(frame))
                there.append(number)
        return dict.fromkeys(chunk.numbers(), b"") | dict(zip(there, encoder.finish(), strict=True))

    def _coded_frames(self, chunk: Chunk, near: int) -> dict[int, bytes]:
        encoder = self._encoder()
        there: list[int] = []
        middle = (chunk.begin + chunk.end) // 2

        def stop() -> bool:
            is_late = bool(there) and there[-1] > middle
            return self._is_ending or (not is_late and self._is_elsewhere(chunk, near))

        for number, frame in self._source.frames_from(chunk.begin, stop=stop):
            if number >= chunk.end:
                break
            encoder.add(self._pictures.small(frame))
            there.append(number)
            if number == chunk.end - 1:
                break
        else:
            if stop():
                raise _Stopped
        return dict.fromkeys(chunk.numbers(), b"") | dict(zip(there, encoder.finish(), strict=True))

    def _is_elsewhere(self, chunk: Chunk, near: int) -> bool:
        """True when the playhead came into another file that is not made, while this one is not around it."""
        here = self._near
        if here == near or chunk.begin <= here < chunk.end:
            return False
        return not self._shelf.path(self._plan.chunk_of(here).name).exists()

    def _encoder(self) -> SmallEncoder:
        return SmallEncoder(self._pictures.small_width, self._pictures.small_height)
