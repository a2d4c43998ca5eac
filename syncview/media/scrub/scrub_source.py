"""Gives the picture of any moment at once, and the exact one as soon as it can be had."""

from __future__ import annotations

import threading
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

import av

from syncview.errors import MediaError, SyncviewError
from syncview.media.scrub.answers import Answers, Request
from syncview.media.scrub.exact_worker import ExactWorker
from syncview.media.scrub.media_fault import damaged_frame, fault_of
from syncview.media.scrub.picture_ring import PictureRing
from syncview.media.scrub.pictures import PictureMaker, ScrubPicture
from syncview.media.scrub.playing import Playing
from syncview.media.scrub.proxy_builder import ProxyBuilder
from syncview.media.scrub.quick_worker import QuickWorker
from syncview.media.scrub.source_decoder import SourceDecoder

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.media.recording import Recording

MEMORY_BYTES = 256 << 20
PROXY_BYTES = 8 << 30


class ScrubSource:
    """Pictures of one recording for a playhead that moves; the newest request wins.

    `on_picture` is called from worker threads: for each request with a near picture where the exact one takes time,
    then with the exact one, then with the full one where it was asked for; never for a request that is not the newest
    any more (but a call may be under way while a new request comes in: compare `asked`). `on_fault` is called from
    worker threads with the project's errors; after one, further requests try again. Neither may wait for the thread
    that calls `close`.

    Small pictures in memory stay within `memory_bytes`; those on disk, shared by all recordings, within `proxy_bytes`.
    With `proxy_folder` None nothing is written.
    """

    def __init__(
        self,
        recording: Recording,
        *,
        on_picture: Callable[[ScrubPicture], None],
        on_fault: Callable[[SyncviewError], None],
        memory_bytes: int = MEMORY_BYTES,
        proxy_folder: Path | None = None,
        proxy_bytes: int = PROXY_BYTES,
    ) -> None:
        self._recording = recording
        self._answers = Answers(recording, on_picture=on_picture, on_fault=on_fault)
        self._ring = PictureRing(memory_bytes)
        self._builder = (
            None
            if proxy_folder is None
            else ProxyBuilder(recording, proxy_folder, proxy_bytes, on_fault=self._answers.tell_fault)
        )
        self._exact = ExactWorker(self._answers, self._ring, self._builder)
        self._quick = QuickWorker(self._answers, self._ring, self._builder, self._exact)
        self._maker = PictureMaker(recording)
        self._maker_lock = threading.Lock()
        self._full_lock = threading.Lock()
        self._full_decoder = SourceDecoder(recording)
        self._playing: Playing | None = None
        self._exact.start()
        self._quick.start()
        if self._builder is not None:
            self._builder.start()

    def frame_at(self, media_s: Fraction) -> int:
        """Number of the frame on screen at `media_s`; the first before the begin, the last from the end on."""
        frames = self._recording.frames
        if media_s < 0:
            return 0
        return len(frames) - 1 if media_s >= frames.end_s else frames.index_at(media_s)

    def ask(self, media_s: Fraction, *, direction: int = 0, full: bool = False) -> int:
        """Want the picture at `media_s`; returns the request's number, which its pictures carry.

        `direction` is -1, 0 or 1: where the playhead is dragged to, for reading ahead (0: from the last requests).
        With `full` a picture of the recording's own size follows the small one.
        """
        number = self.frame_at(media_s)
        with self._answers.changed:
            request = self._answers.take(number, media_s, direction=direction, full=full)
            self._exact.give_up_owed()
            self._answers.changed.notify_all()
        return request.asked

    def picture_now(self, media_s: Fraction) -> ScrubPicture | None:
        """The exact small picture if it is in memory; takes a fraction of a millisecond."""
        number = self.frame_at(media_s)
        kept = self._ring.get(number)
        if kept is None:
            return None
        with self._maker_lock:
            return self._answers.small(self._maker, number, kept, Request(0, number, media_s, 0, full=False))

    def full_picture(self, number: int) -> NDArray[np.uint8]:
        """Frame `number` in the recording's display size, exact, shape (rows, columns, 3); waits for the decoder.

        IndexError outside; MediaError when it is damaged, the file cannot be read, or the source is closed.
        """
        self._recording.frames.media_s(number)  # raises IndexError
        with self._full_lock:
            frame = self._exact.last_full(number) or self._decoded(number)
            if frame is None:
                raise damaged_frame(self._recording, number)
            return PictureMaker(self._recording).full_rgb(frame)

    def play(self, begin_s: Fraction, *, speed: float = 1.0, full: bool = False) -> Playing:
        """Decode ahead from `begin_s` on for playing at `speed`; an earlier playing is stopped."""
        self.stop()
        self._playing = Playing(
            self._recording,
            begin=self.frame_at(begin_s),
            speed=speed,
            full=full,
            ring=self._ring,
            builder=self._builder,
            on_fault=self._answers.tell_fault,
        )
        return self._playing

    def stop(self) -> None:
        """Stop playing."""
        if self._playing is not None:
            self._playing.stop()
            self._playing = None

    @property
    def memory_used_bytes(self) -> int:
        """Memory of the pictures kept."""
        return self._ring.used_bytes

    @property
    def proxy_share(self) -> float:
        """How much of the recording has small pictures on disk, 0 to 1."""
        return 0.0 if self._builder is None else self._builder.share

    def close(self) -> None:
        """Stop all work and wait for its threads and its process; a second call does nothing."""
        self.stop()
        self._answers.close()
        self._quick.join()
        self._exact.join()
        if self._builder is not None:
            self._builder.close()
        with self._full_lock:
            self._full_decoder.close()
        self._ring.clear()

    def _decoded(self, number: int) -> VideoFrame | None:
        if self._answers.is_closing:
            raise MediaError("the recording is being closed", "Open it again.", where=self._recording.path)
        try:
            for place, frame in self._full_decoder.frames_from(number, stop=lambda: self._answers.is_closing):
                return frame if place == number else None
        except (SyncviewError, av.FFmpegError, OSError) as error:
            self._full_decoder.close()
            raise fault_of(self._recording, error) from error
        return None
