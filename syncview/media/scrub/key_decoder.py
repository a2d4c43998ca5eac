"""Decodes single key frames: one packet each, whatever lies around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import av

from syncview.media.opening import open_container

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from av.container import InputContainer
    from av.video.frame import VideoFrame

    from syncview.media.recording import Recording

_MOST_PACKETS = 64
"""Looked through after a seek before it counts as one that landed elsewhere."""


class KeyDecoder:
    """One key frame at a time, without waiting for those behind it; one thread at a time."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._opening: AbstractContextManager[InputContainer] | None = None
        self._container: InputContainer | None = None

    def close(self) -> None:
        """Close the file; the next use opens it again."""
        if self._opening is not None:
            opening, self._opening, self._container = self._opening, None, None
            opening.__exit__(None, None, None)

    def frame(self, number: int) -> VideoFrame | None:
        """Frame `number`, a key frame; None when it does not come out of its own packet."""
        container = self._opened()
        stream = next(s for s in container.streams.video if s.index == self._recording.stream_index)
        pts = int(self._recording.frames.pts[number])
        try:
            container.seek(pts, stream=stream, backward=True)
        except av.FFmpegError:
            return None
        for count, packet in enumerate(container.demux(stream)):
            if packet.pts == pts and packet.size:
                try:
                    # Frame reordering would hold the picture back: the end of the stream is told at once.
                    frames = [*packet.decode(), *stream.codec_context.decode(None)]
                except av.InvalidDataError:
                    return None
                return next((frame for frame in frames if frame.pts == pts), None)
            if count >= _MOST_PACKETS or not packet.size:
                return None
        return None

    def _opened(self) -> InputContainer:
        if self._container is None:
            self._opening = open_container(self._recording.path)
            self._container = self._opening.__enter__()
            stream = next(s for s in self._container.streams.video if s.index == self._recording.stream_index)
            stream.codec_context.thread_type = "SLICE"  # frame threads would wait for more packets
        return self._container
