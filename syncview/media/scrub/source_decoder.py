"""Decodes the recording itself for exact frames: stops between packets, goes on from where it stands when it can."""

from __future__ import annotations

from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.media.opening import open_container, video_stream

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager

    from av.container import InputContainer
    from av.video.frame import VideoFrame

    from syncview.media.recording import Recording

_BEFORE_ALL = -(1 << 62)


class SourceDecoder:
    """Frames in order from any number on; one thread at a time. Opens the file on first use."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._opening: AbstractContextManager[InputContainer] | None = None
        self._container: InputContainer | None = None
        self._pump: Iterator[VideoFrame | None] | None = None
        self._waiting: VideoFrame | None = None
        """Decoded already, to be given next."""
        self._whole_from_pts = _BEFORE_ALL
        """Packets before this stamp are decoded only as far as others need them."""
        self._fed_pts = _BEFORE_ALL
        """The highest stamp that the decoder was fed."""
        self._given_pts = _BEFORE_ALL
        """The last stamp that it gave."""
        self._is_landed = False
        """True once the first frame after a seek is seen: some containers land late."""

    def close(self) -> None:
        """Close the file; the next use opens it again."""
        self._pump = self._waiting = None
        if self._opening is not None:
            opening, self._opening, self._container = self._opening, None, None
            opening.__exit__(None, None, None)

    def can_go_on(self, number: int) -> bool:
        """True when the frame is still to come, whole, and no key frame lies between here and there."""
        if self._pump is None:
            return False
        frames = self._recording.frames
        target = int(frames.pts[number])
        if target <= self._given_pts or (target < self._whole_from_pts and target <= self._fed_pts):
            return False
        key = frames.key_before(number)
        return key is None or int(frames.pts[key]) <= self._fed_pts

    def frames_from(self, number: int, *, stop: Callable[[], bool]) -> Iterator[tuple[int, VideoFrame]]:
        """Presented frames from `number` on, each with its number; damaged ones are left out.

        Ends early when `stop` says so, which is asked between packets; the work done is then not lost for a next
        call with a later frame. Raises what PyAV and the system raise when the file cannot be read.
        """
        pts = self._recording.frames.pts
        target = int(pts[number])
        if not self.can_go_on(number) and not self._start(number, stop):
            return
        self._whole_from_pts = target
        while True:
            frame = self._next(stop)
            if self._is_late(frame, target):  # an earlier call was stopped before it could see this
                if not self._start(number, stop):
                    return
                continue
            if frame is None:
                return
            assert frame.pts is not None  # `_decoded` passes stamped frames only
            self._is_landed = True
            self._given_pts = frame.pts
            if frame.pts < target:
                continue
            place = int(np.searchsorted(pts, frame.pts))
            if place < len(pts) and pts[place] == frame.pts:
                yield place, frame

    def _is_late(self, frame: VideoFrame | None, target: int) -> bool:
        """True when the last seek landed behind the target, as its first frame or the end of the file shows."""
        if self._is_landed:
            return False
        return self._pump is None if frame is None else frame.pts is not None and frame.pts > target

    def _start(self, number: int, stop: Callable[[], bool]) -> bool:
        """Seek to a key frame from which `number` is reached, further back while the seek lands late."""
        frames = self._recording.frames
        self._whole_from_pts = target = int(frames.pts[number])
        key = frames.key_before(number)
        steps = 1
        while key is not None:
            if self._seek(int(frames.pts[key])):
                first = self._next(stop)
                if first is None and self._pump is not None:
                    return False  # stopped
                if first is not None and first.pts is not None and first.pts <= target:
                    self._waiting = first
                    self._is_landed = True
                    return True
            for _ in range(steps):
                key = frames.key_before(key - 1) if key else None
                if key is None:
                    break
            steps *= 2
        self.close()
        self._begin_pump()
        self._is_landed = True  # there is nothing before
        return True

    def _seek(self, key_pts: int) -> bool:
        container = self._opened()
        try:
            container.seek(key_pts, stream=video_stream(container, self._recording.stream_index), backward=True)
        except av.FFmpegError:
            return False  # some containers cannot seek there; the caller goes further back
        self._begin_pump()
        return True

    def _begin_pump(self) -> None:
        self._fed_pts = self._given_pts = _BEFORE_ALL
        self._waiting = None
        self._is_landed = False
        self._pump = self._presented(self._opened())

    def _next(self, stop: Callable[[], bool]) -> VideoFrame | None:
        """The next decoded frame; None when stopped (the pump stays) or at the end (it goes)."""
        if self._waiting is not None:
            frame, self._waiting = self._waiting, None
            return frame
        while self._pump is not None:
            try:
                got = next(self._pump)
            except StopIteration:
                self._pump = None
                return None
            if got is not None:
                return got
            if stop():
                return None
        return None

    def _presented(self, container: InputContainer) -> Iterator[VideoFrame | None]:
        """Frames, of several with one stamp only the last; None after each packet, so that it can be stopped."""
        if self._recording.frames.repeated_stamps == 0:
            yield from self._decoded(container)
            return
        held: VideoFrame | None = None
        for frame in self._decoded(container):
            if frame is None:
                yield None
                continue
            if held is not None and frame.pts != held.pts:
                yield held
            held = frame
        if held is not None:
            yield held

    def _decoded(self, container: InputContainer) -> Iterator[VideoFrame | None]:
        stream = video_stream(container, self._recording.stream_index)
        codec = stream.codec_context
        for packet in container.demux(stream):
            early = packet.pts is not None and packet.pts < self._whole_from_pts
            codec.skip_frame = "NONREF" if early else "DEFAULT"
            try:
                frames = packet.decode()
            except av.InvalidDataError:
                frames = []  # damaged: the caller sees that a number is left out
            if packet.pts is not None:
                self._fed_pts = max(self._fed_pts, packet.pts)
            yield from (frame for frame in frames if frame.pts is not None)
            yield None

    def _opened(self) -> InputContainer:
        if self._container is None:
            self._opening = open_container(self._recording.path)
            self._container = self._opening.__enter__()
        return self._container
