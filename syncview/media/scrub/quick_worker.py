"""Answers requests from memory, small pictures on disk and key frames: at once, if not exactly."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import av

from syncview.errors import SyncviewError
from syncview.media.scrub.key_decoder import KeyDecoder
from syncview.media.scrub.media_fault import fault_of
from syncview.media.scrub.picture_ring import KeptPicture, PictureRing
from syncview.media.scrub.pictures import PictureMaker
from syncview.media.scrub.proxy_reader import ProxyReader

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

    from syncview.media.scrub.answers import Answers, Request
    from syncview.media.scrub.exact_worker import ExactWorker
    from syncview.media.scrub.proxy_builder import ProxyBuilder


class QuickWorker:
    """The thread that sees each request first; what it does not find exactly it hands on."""

    def __init__(self, answers: Answers, ring: PictureRing, builder: ProxyBuilder | None, exact: ExactWorker) -> None:
        self._answers = answers
        self._ring = ring
        self._builder = builder
        self._exact = exact
        self._handled: Request | None = None
        self._maker = PictureMaker(answers.recording)
        self._keys = KeyDecoder(answers.recording)
        self._thread = threading.Thread(target=self._run, name="scrub pictures")

    def start(self) -> None:
        """Begin to answer."""
        self._thread.start()

    def join(self) -> None:
        """Wait for the end, after `Answers.close`."""
        self._thread.join()

    def _run(self) -> None:
        reader = None if self._builder is None else ProxyReader(self._builder)
        try:
            while (request := self._next_request()) is not None:
                self._answer(request, reader)
        finally:
            self._keys.close()
            if reader is not None:
                reader.close()

    def _next_request(self) -> Request | None:
        answers = self._answers
        with answers.changed:
            answers.changed.wait_for(lambda: answers.is_closing or answers.newest is not self._handled)
            self._handled = answers.newest
            return None if answers.is_closing else answers.newest

    def _answer(self, request: Request, reader: ProxyReader | None) -> None:
        number = request.number
        kept = self._ring.get(number)
        if kept is None and reader is not None and (small := reader.picture(number)) is not None:
            kept = KeptPicture(small, is_proxy=True)
            self._ring.put(number, kept)
        if kept is not None:
            self._answers.deliver_small(self._maker, number, kept, request)
        self._exact.give(request, wants_small=kept is None)
        if kept is None and (near := self._near(number, reader)) is not None:
            self._ring.put(*near)
            self._answers.deliver_small(self._maker, *near, request)
        if self._builder is not None:
            self._builder.near(number)

    def _near(self, number: int, reader: ProxyReader | None) -> tuple[int, KeptPicture] | None:
        """A picture to stand in, from memory if one is at least as near as the key frame, else the key frame's."""
        key = self._answers.recording.frames.key_before(number)
        reach = number - (key or 0)
        near = self._ring.nearest(number, begin=number - reach, end=number + reach + 1)
        if near is not None and (kept := self._ring.get(near)) is not None:
            return near, kept
        if reader is not None and (stored := reader.key_picture(number)) is not None:
            return stored[0], KeptPicture(stored[1], is_proxy=True)
        if key is not None and (frame := self._key_frame(key)) is not None:
            return key, KeptPicture(self._maker.small(frame), is_proxy=False)
        return None

    def _key_frame(self, key: int) -> VideoFrame | None:
        try:
            return self._keys.frame(key)
        except (SyncviewError, av.FFmpegError, OSError) as error:
            self._keys.close()
            self._answers.tell_fault(fault_of(self._answers.recording, error))
            return None
