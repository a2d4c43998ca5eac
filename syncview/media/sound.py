"""Sound on the picture's clock: gaps filled with silence, overlaps cut, priming already removed by the decoder."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.errors import MediaError
from syncview.media.opening import audio_stream, open_container
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from collections.abc import Generator, Iterator

    from av.audio.frame import AudioFrame
    from av.container import InputContainer
    from numpy.typing import NDArray

    from syncview.media.recording import AudioTrack, Recording

_PREROLL_S = Fraction(1, 2)
"""Decoded and thrown away after a seek: more than the 80 ms that Opus asks for (RFC 7845, 4.6)."""
_JITTER_S = Fraction(1, 200)
"""Stamps may stray this far from a gapless stream (1 ms ticks, rounding muxers) before a gap is filled."""
_BATCH_S = 0.5


def read_mono(
    recording: Recording,
    *,
    rate_hz: int,
    begin_s: Fraction | float = 0,
    end_s: Fraction | float | None = None,
    progress: Progress = silent,
) -> tuple[NDArray[np.float32], float]:
    """The mean of all channels at `rate_hz`, shape (n,), full scale 1, and the media time of the first sample.

    The span is cut to where there is sound; inside it, gaps are silent. `end_s` None means to the end of the
    sound. Raises MediaError where the recording has no sound in the span.
    """
    blocks = mono_blocks(recording, rate_hz=rate_hz, begin_s=begin_s, end_s=end_s, progress=progress)
    parts = list(blocks)
    if not parts:
        raise MediaError("there is no sound in that part", "Choose a part that has sound.", where=recording.path)
    return np.concatenate(parts), float(max(Fraction(begin_s), Fraction(_track(recording).start_s)))


def mono_blocks(
    recording: Recording,
    *,
    rate_hz: int,
    begin_s: Fraction | float = 0,
    end_s: Fraction | float | None = None,
    progress: Progress = silent,
) -> Iterator[NDArray[np.float32]]:
    """What `read_mono` gives, block after block, for sound of hours; none where there is no sound in the span."""
    track = _track(recording)
    begin = max(Fraction(begin_s), Fraction(track.start_s))
    end = None if end_s is None else Fraction(end_s)
    resampler = av.AudioResampler(format="flt", layout="mono", rate=rate_hz)
    whole_s = float((recording.frames.end_s if end is None else end) - begin)
    done = 0
    for block in _batched(_blocks(recording, track, begin, end), round(_BATCH_S * track.rate_hz)):
        mono = np.ascontiguousarray(block.mean(axis=0, dtype=np.float32)[np.newaxis, :])
        frame = av.AudioFrame.from_ndarray(mono, format="flt", layout="mono")
        frame.sample_rate = track.rate_hz
        yield from (_samples(made) for made in resampler.resample(frame))
        done += mono.shape[1]
        progress(min(done / track.rate_hz / whole_s, 1.0) if whole_s > 0 else 1.0, "reading sound")
    if done:
        yield from (_samples(made) for made in resampler.resample(None))


def read_sound(
    recording: Recording, begin_s: Fraction | float, end_s: Fraction | float
) -> Generator[NDArray[np.float32]]:
    """Blocks of all channels at the track's own rate, shape (channels, n), full scale 1.

    Together they have exactly round((end_s - begin_s) * rate_hz) samples, the first at `begin_s` (to half a sample);
    where there is no sound they are silent. Raises MediaError where the recording has no audio track.
    """
    track = _track(recording)
    begin, end = Fraction(begin_s), Fraction(end_s)
    left = round((end - begin) * track.rate_hz)
    for block in _blocks(recording, track, begin, end):
        taken = block[:, :left]
        left -= taken.shape[1]
        yield taken
    while left > 0:
        count = min(left, track.rate_hz)
        yield np.zeros((track.channels, count), dtype=np.float32)
        left -= count


def _track(recording: Recording) -> AudioTrack:
    if recording.audio is None:
        raise MediaError(
            "the recording has no sound", "Use a recording with sound, or go without.", where=recording.path
        )
    return recording.audio


def _blocks(
    recording: Recording, track: AudioTrack, begin: Fraction, end: Fraction | None
) -> Iterator[NDArray[np.float32]]:
    """Gapless blocks from `begin` on, the first sample at `begin`; they stop at `end` or with the sound."""
    last = None if end is None else round((end - begin) * track.rate_hz)
    written = 0
    jitter = math.ceil(_JITTER_S * track.rate_hz)
    for start, block in _stamped_blocks(recording, track, begin):
        position = round((start - begin) * track.rate_hz)
        if abs(position - written) <= jitter and written > 0:
            position = written
        if position < written:
            block = block[:, written - position :]
        elif position > written:
            gap = position - written if last is None else min(position, last) - written
            yield from _silence(track, gap)
            written += gap
        if last is not None:
            block = block[:, : last - written]
        if block.shape[1]:
            yield block
            written += block.shape[1]
        if last is not None and written >= last:
            return


def _silence(track: AudioTrack, count: int) -> Iterator[NDArray[np.float32]]:
    while count > 0:
        piece = min(count, track.rate_hz)
        yield np.zeros((track.channels, piece), dtype=np.float32)
        count -= piece


def _stamped_blocks(
    recording: Recording, track: AudioTrack, begin: Fraction
) -> Iterator[tuple[Fraction, NDArray[np.float32]]]:
    """Decoded blocks, each with the media time of its first sample; from a little before `begin` on."""
    index = recording.frames
    picture_start_s = index.start_pts * index.time_base
    with open_container(recording.path) as container:
        frames = _decoded_from(container, track, begin + picture_start_s - _PREROLL_S)
        layout_of_track = None
        resampler: av.AudioResampler | None = None
        for frame in frames:
            if frame.pts is None or frame.time_base is None:
                continue
            if resampler is None:
                layout_of_track = frame.layout
                resampler = av.AudioResampler(format="fltp", layout=layout_of_track, rate=track.rate_hz)
            start = frame.pts * frame.time_base - picture_start_s
            if frame.format.name == "fltp" and frame.sample_rate == track.rate_hz:
                yield start, np.asarray(frame.to_ndarray(), dtype=np.float32)
                continue
            for made in resampler.resample(frame):
                yield start, np.asarray(made.to_ndarray(), dtype=np.float32)
                start += Fraction(made.samples, track.rate_hz)


def _decoded_from(container: InputContainer, track: AudioTrack, container_s: Fraction) -> Iterator[AudioFrame]:
    """Decode from the last seek point before `container_s`, or from the start where seeking lands late."""
    from av.stream import Discard

    stream = audio_stream(container, track.stream_index)
    stream.codec_context.thread_type = "AUTO"
    for other in container.streams:
        if other.index != track.stream_index:
            other.discard = Discard.all
    if stream.time_base is not None and stream.start_time is not None:
        offset = int(container_s / stream.time_base)
        if offset > stream.start_time:
            container.seek(offset, stream=stream, backward=True)
    for packet in container.demux(stream):
        try:
            yield from packet.decode()
        except av.FFmpegError:
            continue  # heard as a gap


def _batched(blocks: Iterator[NDArray[np.float32]], size: int) -> Iterator[NDArray[np.float32]]:
    """Join small blocks to about `size` samples."""
    held: list[NDArray[np.float32]] = []
    count = 0
    for block in blocks:
        held.append(block)
        count += block.shape[1]
        if count >= size:
            yield np.concatenate(held, axis=1)
            held, count = [], 0
    if held:
        yield np.concatenate(held, axis=1)


def _samples(frame: AudioFrame) -> NDArray[np.float32]:
    return np.array(frame.to_ndarray(), dtype=np.float32).reshape(-1)
