"""Opens media files so that every fault becomes a sentence for the person."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import av

from syncview.errors import MediaError, describe_os_error

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from av.audio.stream import AudioStream
    from av.container import InputContainer
    from av.video.frame import VideoFrame
    from av.video.stream import VideoStream

_ISO_SUFFIXES = (b"ftyp", b"mdat", b"moov", b"wide", b"free", b"skip")


@contextmanager
def open_container(path: Path) -> Iterator[InputContainer]:
    """The open container; MediaError when it cannot be opened or FFmpeg fails on it inside the block."""
    try:
        with av.open(str(path), mode="r", metadata_errors="replace") as container:
            yield container
    except av.FFmpegError as error:
        raise _translated(error, path) from error


def video_stream(container: InputContainer, stream_index: int) -> VideoStream:
    """The container's video stream of that index, decoding with all cores."""
    stream = next(s for s in container.streams.video if s.index == stream_index)
    if not stream.codec_context.is_open:
        stream.codec_context.thread_type = "AUTO"
    return stream


def audio_stream(container: InputContainer, stream_index: int) -> AudioStream:
    """The container's audio stream of that index."""
    return next(s for s in container.streams.audio if s.index == stream_index)


def decoded_pictures(container: InputContainer, stream: VideoStream) -> Iterator[VideoFrame]:
    """Decode to the end, passing over damaged packets."""
    for packet in container.demux(stream):
        try:
            yield from packet.decode()
        except av.FFmpegError:
            continue  # the callers compare with the index and say what is missing


def _translated(error: av.FFmpegError, path: Path) -> MediaError:
    if isinstance(error, PermissionError):
        return MediaError(describe_os_error(error), "Check that the file may be read.", where=path)
    if isinstance(error, av.DecoderNotFoundError):
        return MediaError(
            "it is coded in a way that cannot be read here", "Convert the file to H.264 and AAC.", where=path
        )
    if _is_cut_short(path):
        return MediaError(
            "the recording was not finished: its table of contents (moov) is missing",
            "Copy it from the camera again, or let the camera repair it before taking the card out.",
            where=path,
        )
    return MediaError("this is not a video file that can be read", "Give an MP4, MOV, MKV or TS file.", where=path)


def _is_cut_short(path: Path) -> bool:
    """True for an ISO base media file (ISO/IEC 14496-12) whose top-level boxes hold no moov."""
    kinds: list[bytes] = []
    with path.open("rb") as file:
        size_bytes = path.stat().st_size
        position = 0
        while position + 8 <= size_bytes and len(kinds) < 1000:
            file.seek(position)
            header = file.read(16)
            kind, length = header[4:8], int.from_bytes(header[:4], "big")
            if not kinds and kind not in _ISO_SUFFIXES:
                return False
            kinds.append(kind)
            if length == 1 and len(header) == 16:
                length = int.from_bytes(header[8:16], "big")
            if length < 8:
                break  # 0 means "to the end of the file"
            position += length
    return bool(kinds) and b"moov" not in kinds
