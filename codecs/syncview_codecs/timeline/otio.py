"""OpenTimelineIO documents and CMX 3600 lists, by the OpenTimelineIO library (and its adapter for the latter).

A piece's source range begins at its media time and lasts as long as it does in the film; a time effect says how much
of the recording plays in that time (OpenTimelineIO: "LinearTimeWarp", "FreezeFrame").
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from syncview_codecs.errors import CodecError

if TYPE_CHECKING:
    from syncview_codecs.timeline.cut import Cut, Mark, Piece

_EVENT = re.compile(r"^(\d{3,}\s+.*?)(\d\d:\d\d:\d\d[:;]\d\d) (\d\d:\d\d:\d\d[:;]\d\d) (.*)$", re.MULTILINE)
REEL = "ONBOARD"
"""The recording's name in a CMX 3600 list, which has room for eight characters."""


def why_not() -> str | None:
    """Why nothing can be written here, a sentence; None when all is there."""
    try:
        _library_with_lists()
    except CodecError as error:
        return str(error)
    return None


def write(cut: Cut) -> str:
    """The cut as an OpenTimelineIO document.

    Raises:
        CodecError: The library is not installed.
    """
    return str(_timeline(cut).to_json_string(indent=1)) + "\n"


def write_edl(cut: Cut) -> str:
    """The cut as a CMX 3600 list, time codes from 00:00:00:00.

    29.97 and 59.94 count with dropped numbers (SMPTE ST 12-1).

    Raises:
        CodecError: The library or its adapter is not installed, or the rate has no time code.
    """
    otio, rate = _library_with_lists(), float(cut.rate)
    try:
        listed = str(otio.adapters.write_to_string(_timeline(cut), "cmx_3600", rate=rate))
    except (otio.exceptions.OTIOError, ValueError) as error:
        raise CodecError(f"this cut cannot be a CMX 3600 list ({error})", "Use the OpenTimelineIO document.") from error
    return _with_played_lengths(otio, listed, cut)


def _with_played_lengths(otio: Any, listed: str, cut: Cut) -> str:
    """The list with the right ends of slowed pieces on the recording.

    The adapter (1.0.0) divides a piece's length by its speed instead of multiplying: at a quarter it would name
    sixteen times as much of the recording as plays.
    """
    played = iter([piece for piece in cut.pieces if piece.begin_media_s is not None])
    rate = float(cut.rate)

    def corrected(event: re.Match[str]) -> str:
        piece = next(played)
        if piece.speed in (0, 1):
            return event[0]
        end = otio.opentime.from_timecode(event[2], rate) + otio.opentime.RationalTime(
            max(1, round(piece.frames * piece.speed)), rate
        )
        return f"{event[1]}{event[2]} {end.to_timecode(rate)} {event[4]}"

    return _EVENT.sub(corrected, listed)


def _library() -> Any:
    try:
        import opentimelineio
    except ImportError:
        raise CodecError(
            "OpenTimelineIO is not installed", "Install it: pip install 'syncview[formats]', or opentimelineio."
        ) from None
    return opentimelineio


def _library_with_lists() -> Any:
    otio = _library()
    if "cmx_3600" not in otio.adapters.available_adapter_names():
        raise CodecError(
            "OpenTimelineIO has no adapter for CMX 3600 lists here", "Install it: pip install otio-cmx3600-adapter."
        )
    return otio


def _timeline(cut: Cut) -> Any:
    otio = _library()
    timeline = otio.schema.Timeline(cut.name)
    track = otio.schema.Track("Picture", kind=otio.schema.TrackKind.Video)
    timeline.tracks.append(track)
    rate, at = float(cut.rate), 0
    for piece in cut.pieces:
        item = _gap(otio, piece, rate) if piece.begin_media_s is None else _clip(otio, piece, cut)
        for mark in cut.marks:
            if at <= mark.frame < at + piece.frames:
                item.markers.append(_marker(otio, mark, piece, mark.frame - at, cut.rate))
        track.append(item)
        at += piece.frames
    return timeline


def _gap(otio: Any, piece: Piece, rate: float) -> Any:
    duration = otio.opentime.RationalTime(piece.frames, rate)
    return otio.schema.Gap(name=piece.name, source_range=otio.opentime.TimeRange(duration=duration))


def _clip(otio: Any, piece: Piece, cut: Cut) -> Any:
    rate = float(cut.rate)
    media_range = otio.opentime.TimeRange(
        otio.opentime.RationalTime(0, float(cut.media_rate)),
        otio.opentime.RationalTime(cut.media_frames, float(cut.media_rate)),
    )
    source = otio.opentime.TimeRange(_start(otio, piece, cut.rate), otio.opentime.RationalTime(piece.frames, rate))
    clip = otio.schema.Clip(
        name=piece.name,
        media_reference=otio.schema.ExternalReference(target_url=cut.media_url, available_range=media_range),
        source_range=source,
        metadata={"syncview": {"comment": piece.comment}, "cmx_3600": {"reel": REEL}},
    )
    if piece.speed == 0:
        clip.effects.append(otio.schema.FreezeFrame())
    elif piece.speed != 1:
        clip.effects.append(otio.schema.LinearTimeWarp(time_scalar=float(piece.speed)))
    return clip


def _start(otio: Any, piece: Piece, rate: Fraction) -> Any:
    assert piece.begin_media_s is not None  # only gaps have none
    return otio.opentime.RationalTime(float(piece.begin_media_s * rate), float(rate))


def _marker(otio: Any, mark: Mark, piece: Piece, frame: int, rate: Fraction) -> Any:
    """A marker in the time space of the item that holds it: from the item's own start."""
    begin = otio.opentime.RationalTime(frame, float(rate))
    if piece.begin_media_s is not None:
        begin = _start(otio, piece, rate) + begin
    duration = otio.opentime.RationalTime(min(mark.frames, piece.frames - frame), float(rate))
    return otio.schema.Marker(
        name=mark.name,
        marked_range=otio.opentime.TimeRange(begin, duration),
        comment=mark.comment,
        color=otio.schema.MarkerColor.YELLOW,
    )
