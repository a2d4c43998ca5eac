"""Reads small pictures from the files on disk."""

from __future__ import annotations

from collections import OrderedDict
from typing import TYPE_CHECKING

from syncview.media.scrub.proxy_file import ProxyFile, SmallDecoder, TornProxyError

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

    from syncview.media.scrub.proxy_builder import ProxyBuilder
    from syncview.media.scrub.proxy_plan import Chunk

_MOST_OPEN = 12


class ProxyReader:
    """Small pictures by frame number, from what is made so far; one thread at a time."""

    def __init__(self, builder: ProxyBuilder) -> None:
        self._builder = builder
        self._open: OrderedDict[str, ProxyFile] = OrderedDict()
        self._decoder = SmallDecoder()

    def close(self) -> None:
        """Close all files."""
        while self._open:
            self._open.popitem()[1].close()

    def picture(self, number: int) -> VideoFrame | None:
        """The small picture of a frame; None while it is not made, or when the frame is damaged."""
        return self._from(self._builder.plan.chunk_of(number), number)

    def key_picture(self, number: int) -> tuple[int, VideoFrame] | None:
        """The small picture of the last kept key frame at or before `number`, with its number."""
        chunk = self._builder.plan.key_chunk_of(number)
        if chunk is None:
            return None
        key = max(n for n in chunk.numbers() if n <= number)
        small = self._from(chunk, key)
        return None if small is None else (key, small)

    def _from(self, chunk: Chunk, number: int) -> VideoFrame | None:
        if not self._builder.is_made(chunk.name):
            return None
        try:
            coded = self._file(chunk.name).coded(number)
            return self._decoder.frame(coded) if coded else None
        except (OSError, TornProxyError):  # taken by another window's budget, or torn: it is made again
            self._forget(chunk.name)
            self._builder.make_again(chunk.name)
            return None

    def _file(self, name: str) -> ProxyFile:
        file = self._open.get(name)
        if file is None:
            file = self._open[name] = ProxyFile.open(self._builder.path(name), self._builder.identity)
            self._builder.touch(name)
            if len(self._open) > _MOST_OPEN:
                self._open.popitem(last=False)[1].close()
        self._open.move_to_end(name)
        return file

    def _forget(self, name: str) -> None:
        file = self._open.pop(name, None)
        if file is not None:
            file.close()
