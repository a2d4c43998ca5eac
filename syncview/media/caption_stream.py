"""Captions as a stream of the film that viewers switch on and off."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Protocol

import av

from syncview.media.film_output import is_matroska

if TYPE_CHECKING:
    from pathlib import Path

    from av.container import OutputContainer
    from av.packet import Packet
    from av.stream import Stream
    from av.subtitles.stream import SubtitleStream

_MS = Fraction(1, 1000)
_BIBLIOGRAPHIC = {
    "bod": "tib", "ces": "cze", "cym": "wel", "deu": "ger", "ell": "gre", "eus": "baq", "fas": "per", "fra": "fre",
    "hye": "arm", "isl": "ice", "kat": "geo", "mkd": "mac", "mri": "mao", "msa": "may", "mya": "bur", "nld": "dut",
    "ron": "rum", "slk": "slo", "sqi": "alb", "zho": "chi",
}  # fmt: skip
"""ISO 639-2 has two codes for these languages; FFmpeg's list for MOV has the second one only."""
_STYLE = "\r\n".join(
    (
        "[Script Info]", "ScriptType: v4.00+", "PlayResX: 384", "PlayResY: 288", "", "[V4+ Styles]",
        "Format: Name, Fontname, Fontsize, PrimaryColour, SecondaryColour, OutlineColour, BackColour, Bold, Italic, "
        "Underline, StrikeOut, ScaleX, ScaleY, Spacing, Angle, BorderStyle, Outline, Shadow, Alignment, MarginL, "
        "MarginR, MarginV, Encoding",
        "Style: Default,Sans,16,&Hffffff,&Hffffff,&H0,&H0,0,0,0,0,100,100,0,0,1,1,0,2,10,10,10,1", "", "[Events]",
        "Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text", "",
    )
).encode()  # fmt: skip
"""FFmpeg's caption encoders will not open without a style; players use their own."""


class CaptionMark(Protocol):
    """A caption by time in the film; `syncview_codecs.captions.cue.Cue` is one."""

    @property
    def start_ms(self) -> int: ...  # noqa: D102
    @property
    def end_ms(self) -> int: ...  # noqa: D102
    @property
    def text(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class CaptionTrack:
    """Captions in one language."""

    cues: tuple[CaptionMark, ...]
    """Ascending by start; plain text, lines parted by line feeds."""
    language: str = "und"
    """Three letters of ISO 639-2, as MP4 and Matroska ask; "und" where it is not known."""
    title: str | None = None
    """What a player's menu shows beside the language."""

    def __post_init__(self) -> None:
        if not re.fullmatch("[a-z]{3}", self.language):
            raise ValueError(f"{self.language!r} is no language of ISO 639-2: give three small letters")


@dataclass(frozen=True, slots=True)
class _Caption:
    start_ms: int
    end_ms: int
    text: str


def later_track(track: CaptionTrack, lead_ms: int) -> CaptionTrack:
    """The captions of a film that begins `lead_ms` earlier."""
    return replace(track, cues=tuple(_Caption(c.start_ms + lead_ms, c.end_ms + lead_ms, c.text) for c in track.cues))


class CaptionStream:
    """One caption track in a container that is not started yet."""

    def __init__(self, container: OutputContainer, output: Path, track: CaptionTrack) -> None:
        self._container = container
        self._stream: SubtitleStream = container.add_stream("subrip" if is_matroska(output) else "mov_text")
        self._stream.time_base = _MS
        self._stream.codec_context.time_base = _MS
        self._stream.codec_context.subtitle_header = _STYLE
        language = track.language
        if output.suffix.lower() == ".mov":
            language = _BIBLIOGRAPHIC.get(language, language)
        self._stream.metadata["language"] = language
        if track.title:
            self._stream.metadata["title" if is_matroska(output) else "handler_name"] = track.title
        samples = _matroska_samples if is_matroska(output) else _iso_samples
        self._waiting = samples(track.cues)[::-1]

    def write(self, until_s: Fraction | None) -> None:
        """Write the captions that begin before `until_s` of film time; None writes the rest."""
        while self._waiting and (until_s is None or self._waiting[-1].start_ms * _MS < until_s):
            self._container.mux(self._packet(self._waiting.pop()))

    def _packet(self, sample: _Sample) -> Packet[Stream]:
        packet = av.Packet(sample.data)
        packet.stream = self._stream
        packet.pts = packet.dts = sample.start_ms
        packet.duration = sample.end_ms - sample.start_ms
        packet.time_base = _MS
        packet.is_keyframe = True
        return packet


@dataclass(frozen=True, slots=True)
class _Sample:
    start_ms: int
    end_ms: int
    data: bytes


def _matroska_samples(cues: Sequence[CaptionMark]) -> list[_Sample]:
    return [_Sample(cue.start_ms, cue.end_ms, cue.text.encode()) for cue in cues]


def _iso_samples(cues: Sequence[CaptionMark]) -> list[_Sample]:
    """Samples of 3GPP TS 26.245: text after its length; captions at one time share a sample, the muxer fills gaps."""
    samples = []
    times = sorted({*(cue.start_ms for cue in cues), *(cue.end_ms for cue in cues)})
    for start, end in pairwise(times):
        text = "\n".join(cue.text for cue in cues if cue.start_ms <= start < cue.end_ms).encode()
        if text:
            samples.append(_Sample(start, end, len(text).to_bytes(2, "big") + text))
    return samples
