"""Copies a span of a recording without coding it again, with captions and chapters added."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.errors import OutputError
from syncview.media.caption_stream import CaptionStream, CaptionTrack, later_track
from syncview.media.film_output import (
    ChapterMark,
    faults_named,
    is_matroska,
    later_chapters,
    let_go,
    open_film,
    refuse_bad_film,
)
from syncview.media.opening import open_container
from syncview.media.packet_pick import SpanPick, pick_span, picked_packets
from syncview.output_file import part_beside, place
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from av.container import InputContainer, OutputContainer
    from av.packet import Packet
    from av.stream import Stream

    from syncview.media.recording import Recording

_AHEAD_S = Fraction(1, 2)


@dataclass(frozen=True, slots=True)
class CopyReport:
    """What was copied."""

    output: Path
    begin_media_s: Fraction
    """Media time of the first picture that is to be seen."""
    first_media_s: Fraction
    """Media time of the first picture in the file: the key frame at or before that, from which decoding starts."""
    end_media_s: Fraction
    """Media time at which the last picture in the file leaves the screen."""
    zero_media_s: Fraction
    """Media time of film time 0: `begin_media_s` where an edit list hides what lies before it, else `first_media_s`."""
    frames: int
    """Pictures to be seen."""
    frames_before: int
    """Pictures in the file that come before the first one to be seen."""
    frames_after: int
    """Pictures in the file that come after the asked end: others cannot be decoded without them."""
    size_bytes: int
    notes: tuple[str, ...]
    """What a person should know, each a sentence."""


@dataclass(frozen=True, slots=True)
class CopyExtras:
    """What a copy has besides the recording's picture and sound; times from the first picture that is to be seen."""

    captions: Sequence[CaptionTrack] = ()
    chapters: Sequence[ChapterMark] = ()
    title: str | None = None


_NOTHING = CopyExtras()


def copy_span(
    recording: Recording,
    *,
    begin_s: Fraction | float,
    end_s: Fraction | float,
    output: Path,
    extras: CopyExtras = _NOTHING,
    overwrite: bool = False,
    progress: Progress = silent,
) -> CopyReport:
    """Write the pictures with begin_s <= media_s < end_s and their sound, bit by bit as recorded.

    Copying can only begin at a key frame. In MP4 and MOV an edit list hides what lies before the span; a player that
    ignores edit lists shows it with its sound, and captions and chapters then come early by as much. Matroska has no
    edit lists: there the film begins at the key frame, and captions and chapters are moved to fit. Turning is kept as
    the recording states it.

    Raises MediaError when no picture lies in the span, OutputError when the film cannot be written or its container
    cannot hold what was recorded, Cancelled when `progress` says so; then nothing is left.
    """
    refuse_bad_film(output, overwrite=overwrite, sources=(recording.path,))
    copy = _Copy(recording, pick_span(recording, begin_s, end_s), output)
    part = part_beside(output)
    try:
        with open_container(recording.path) as source, faults_named(output):
            copy.write(source, part, extras, progress)
            place(part, output, overwrite=overwrite)
    finally:
        let_go(copy.container)
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
    return copy.report()


class _Copy:
    """One copy under way."""

    def __init__(self, recording: Recording, pick: SpanPick, output: Path) -> None:
        self.container: OutputContainer | None = None
        self._recording = recording
        self._tick_s = recording.frames.time_base
        self._pick = pick
        self._output = output
        self._first_pts = pick.begin_pts if pick.key_pts is None else pick.key_pts
        self._end_pts = pick.begin_pts
        self._before = self._seen = self._after = 0
        self._zero_pts = self._first_pts if is_matroska(output) else pick.begin_pts

    def write(self, source: InputContainer, part: Path, extras: CopyExtras, progress: Progress) -> None:
        """Copy into `part`."""
        lead_ms = round((self._pick.begin_pts - self._zero_pts) * self._tick_s * 1000)
        self.container = open_film(part, chapters=later_chapters(extras.chapters, lead_ms), title=extras.title)
        made = {
            stream.index: same_stream(self.container, stream, self._output)
            for stream in copied_streams(source, self._recording)
        }
        tracks = [later_track(track, lead_ms) for track in extras.captions]
        captions = [CaptionStream(self.container, self._output, track) for track in tracks]
        self.container.start_encoding()
        whole_s = self._recording.frames.end_s
        for number, packet in enumerate(picked_packets(source, self._recording, self._pick)):
            film_s = self._moved(packet)
            if film_s < 0 and is_matroska(self._output):
                continue  # sound that begins before the first picture: a block cannot begin before the film
            for stream in captions:
                stream.write(film_s + _AHEAD_S)
            packet.stream = made[packet.stream_index]
            self.container.mux(packet)
            if number % 500 == 0:
                progress(float(min(max(film_s / whole_s, Fraction(0)), Fraction(1))), "copying")
        for stream in captions:
            stream.write(None)
        self.container.close()
        self.container = None
        progress(1.0, "copying")

    def _moved(self, packet: Packet[Stream]) -> Fraction:
        """Count the packet, give it the film's stamps and return its film time."""
        pts = packet.pts or 0
        if packet.stream_index == self._recording.stream_index:
            self._count(pts, packet.duration or 0)
        ticks = round(self._zero_pts * self._tick_s / packet.time_base)  # exact for pictures, half a tick for sound
        packet.pts = pts - ticks
        if packet.dts is not None:
            packet.dts -= ticks
        return packet.pts * packet.time_base

    def _count(self, pts: int, duration: int) -> None:
        self._first_pts = min(self._first_pts, pts)
        self._end_pts = max(self._end_pts, pts + duration)
        if pts < self._pick.begin_pts:
            self._before += 1
        elif self._pick.end_pts is not None and pts >= self._pick.end_pts:
            self._after += 1
        else:
            self._seen += 1

    def report(self) -> CopyReport:
        """What was done, once it is."""
        start_pts = self._recording.frames.start_pts
        first_s, begin_s, zero_s, end_s = (
            (pts - start_pts) * self._tick_s
            for pts in (self._first_pts, self._pick.begin_pts, self._zero_pts, self._end_pts)
        )
        return CopyReport(
            output=self._output,
            begin_media_s=begin_s,
            first_media_s=first_s,
            end_media_s=end_s,
            zero_media_s=zero_s,
            frames=self._seen,
            frames_before=self._before,
            frames_after=self._after,
            size_bytes=self._output.stat().st_size,
            notes=tuple(self._notes(float(begin_s - first_s))),
        )

    def _notes(self, lead_s: float) -> list[str]:
        notes = []
        if self._before and is_matroska(self._output):
            notes.append(f"The film begins {lead_s:.2f} s before the asked place, at the key frame before it.")
        elif self._before:
            notes.append(
                f"A player that ignores edit lists begins {lead_s:.2f} s early, and captions come early by as much."
            )
        if self._after:
            count = "One picture" if self._after == 1 else f"{self._after} pictures"
            notes.append(f"{count} after the asked end had to stay: others cannot be decoded without them.")
        missing = self._pick.end - self._pick.begin - self._seen
        if missing > 0:
            notes.append(f"{missing} pictures of the span are missing in the file.")
        return notes


def copied_streams(source: InputContainer, recording: Recording) -> list[Stream]:
    """The recording's picture and the sound that belongs to it."""
    wanted = [recording.stream_index]
    if recording.audio is not None:
        wanted.append(recording.audio.stream_index)
    return [source.streams[index] for index in wanted]


def same_stream(container: OutputContainer, stream: Stream, output: Path) -> Stream:
    """A stream for packets of `stream` as they are; OutputError where the container cannot hold them."""
    try:
        made = container.add_stream_from_template(stream, opaque=True)
    except ValueError as error:
        raise OutputError(
            f"{output.suffix} cannot hold {stream.codec_context.name}", "Write Matroska (.mkv).", where=output
        ) from error
    if stream.codec_context.name == "hevc" and not is_matroska(output):
        made.codec_context.codec_tag = "hvc1"  # phones do not play the muxer's default, hev1
    language = stream.metadata.get("language")
    if language:
        made.metadata["language"] = language
    return made
