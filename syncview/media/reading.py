"""Exact reading of pictures: every presented frame of a span, found by its stamp."""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

import av

from syncview.errors import MediaError
from syncview.media.opening import open_container, video_stream

if TYPE_CHECKING:
    from collections.abc import Iterator
    from contextlib import AbstractContextManager
    from fractions import Fraction
    from types import TracebackType

    from av.container import InputContainer
    from av.video.frame import VideoFrame

    from syncview.media.recording import Recording


class FrameReader:
    """Keeps a recording open for many reads; use it as a context manager, from one thread at a time.

    After a reading, `missing` holds the indices of frames that the decoder could not give.
    """

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._opening: AbstractContextManager[InputContainer] | None = None
        self._container: InputContainer | None = None
        self.missing: list[int] = []

    @property
    def recording(self) -> Recording:
        """What is read."""
        return self._recording

    def __enter__(self) -> Self:
        self._reopen()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._opening is not None:
            opening, self._opening, self._container = self._opening, None, None
            opening.__exit__(kind, error, trace)

    def frame(self, index: int) -> VideoFrame:
        """Frame `index` (from 0), as decoded; IndexError outside, MediaError when it is damaged."""
        self._recording.frames.media_s(index)  # raises IndexError
        for _index, frame in self.frames(index, index + 1):
            return frame
        moment_s = float(self._recording.frames.media_s(index))
        raise MediaError(
            f"the frame at {moment_s:.3f} s cannot be decoded",
            "The file is damaged there; choose another moment or copy it from the camera again.",
            where=self._recording.path,
        )

    def frames(self, begin: int, end: int) -> Iterator[tuple[int, VideoFrame]]:
        """Frames begin <= index < end in order, each with its index; damaged ones are left out and noted."""
        self.missing = []
        begin, end = max(begin, 0), min(end, len(self._recording.frames))
        if begin >= end:
            return
        pts = self._recording.frames.pts
        wanted = begin
        for frame in self._last_of_each_stamp(begin):
            assert frame.pts is not None  # `_decode_from` passes stamped frames only
            while wanted < end and pts[wanted] < frame.pts:
                self.missing.append(wanted)
                wanted += 1
            if wanted >= end:
                return
            if pts[wanted] == frame.pts:
                yield wanted, frame
                wanted += 1
                if wanted >= end:
                    return
        self.missing.extend(range(wanted, end))

    def _last_of_each_stamp(self, begin: int) -> Iterator[VideoFrame]:
        """Decoded frames; of several with one stamp only the last, which is the one left on screen."""
        if self._recording.frames.repeated_stamps == 0:
            yield from self._decode_from(begin)
            return
        held: VideoFrame | None = None
        for frame in self._decode_from(begin):
            if held is not None and frame.pts != held.pts:
                yield held
            held = frame
        if held is not None:
            yield held

    def _decode_from(self, begin: int) -> Iterator[VideoFrame]:
        """Decode from a key frame at or before `begin`, stepping further back while the seek lands late."""
        index = self._recording.frames
        first_pts = int(index.pts[begin])
        key = index.key_before(begin)
        steps = 1
        while key is not None:
            decoding = self._decode_after_seek(int(index.pts[key]), first_pts)
            first = next(decoding, None)
            if first is not None and first.pts is not None and first.pts <= first_pts:
                yield first
                yield from decoding
                return
            for _ in range(steps):
                key = index.key_before(key - 1) if key else None
                if key is None:
                    break
            steps *= 2
        yield from self._decode_from_file_start(first_pts)

    def _decode_after_seek(self, key_pts: int, first_pts: int) -> Iterator[VideoFrame]:
        container = self._container or self._reopen()
        stream = video_stream(container, self._recording.stream_index)
        try:
            container.seek(key_pts, stream=stream, backward=True)
        except av.FFmpegError:
            return  # some containers cannot seek there; the caller goes further back
        yield from _decode(container, self._recording.stream_index, first_pts)

    def _decode_from_file_start(self, first_pts: int) -> Iterator[VideoFrame]:
        yield from _decode(self._reopen(), self._recording.stream_index, first_pts)

    def _reopen(self) -> InputContainer:
        self.__exit__(None, None, None)
        self._opening = open_container(self._recording.path)
        self._container = self._opening.__enter__()
        return self._container


def _decode(container: InputContainer, stream_index: int, first_pts: int) -> Iterator[VideoFrame]:
    """Decode from the container's position, saving the work on frames before `first_pts` that no other needs."""
    stream = video_stream(container, stream_index)
    codec = stream.codec_context
    for packet in container.demux(stream):
        early = packet.pts is not None and packet.pts < first_pts
        codec.skip_frame = "NONREF" if early else "DEFAULT"
        try:
            frames = packet.decode()
        except av.FFmpegError:
            continue  # counted as missing by the reader
        yield from (frame for frame in frames if frame.pts is not None)


def read_frames(
    recording: Recording,
    begin_s: Fraction | float,
    end_s: Fraction | float,
    *,
    missing: list[Fraction] | None = None,
) -> Iterator[tuple[Fraction, VideoFrame]]:
    """Every presented frame with begin_s <= media_s < end_s, in order, with its exact media time.

    Times of damaged frames are appended to `missing`; without that list they raise MediaError at the end.
    """
    index = recording.frames
    with FrameReader(recording) as reader:
        for number, frame in reader.frames(index.first_from(begin_s), index.first_from(end_s)):
            yield index.media_s(number), frame
        lost = [index.media_s(number) for number in reader.missing]
    if missing is not None:
        missing.extend(lost)
    elif lost:
        raise MediaError(
            f"{len(lost)} frames cannot be decoded, the first at {float(lost[0]):.3f} s",
            "The file is damaged there; copy it from the camera again.",
            where=recording.path,
        )


def read_frame_at(recording: Recording, media_s: Fraction | float) -> VideoFrame:
    """The frame on screen at `media_s`; ValueError outside the recording, MediaError when it is damaged."""
    index = recording.frames.index_at(media_s)
    with FrameReader(recording) as reader:
        return reader.frame(index)
