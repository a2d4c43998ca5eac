"""Pictures for any moments of a recording: its own frames, and what lies between them in slow motion."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise
from typing import TYPE_CHECKING, Literal

from syncview.errors import MediaError
from syncview.media.blend_pictures import blended
from syncview.media.frame_copies import copy_of, in_workable_format
from syncview.media.pair_pictures import PairPictures

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from av.video.frame import VideoFrame

    from syncview.media.reading import FrameReader

Kind = Literal["recorded", "blended", "flowed", "across_cuts"]
Method = Literal["repeat", "blend", "flow"]
"""repeat: the frame nearest in time, the earlier of two as near; blend: both neighbours dissolved into each other;
flow: what moves is put where it was at the moment."""

NEAR_ENOUGH = Fraction(1, 32)
"""A moment within this part of a frame step from a frame gets that frame as it is: stamps in milliseconds are no more
exact than this at 60 frames a second, and a made picture is never as sharp."""
LONGEST_STEP = Fraction(7, 2)
"""Pictures further apart than this many common frame steps are not mixed: the scene has moved on too far."""


@dataclass(frozen=True, slots=True)
class Moment:
    """What is to be seen."""

    media_s: Fraction
    method: Method = "repeat"


@dataclass(slots=True)
class PictureCounts:
    """How the pictures came about; together as many as there were moments."""

    recorded: int = 0
    """Frames as they were recorded, moved in time by up to half a frame step where the method is "repeat"."""
    blended: int = 0
    flowed: int = 0
    across_cuts: int = 0
    """Frames that were repeated although blend or flow was asked for: the pictures around show different scenes, or
    lie too far apart in time."""
    is_interlaced: bool = False
    """Flow was asked for between interlaced pictures, which were blended instead."""

    def add(self, kind: Kind) -> None:
        """Count one picture."""
        setattr(self, kind, getattr(self, kind) + 1)

    def notes(self) -> tuple[str, ...]:
        """What a person should know, each a sentence."""
        notes = []
        if self.across_cuts:
            many = "One picture repeats" if self.across_cuts == 1 else f"{self.across_cuts} pictures repeat"
            notes.append(f"{many} a frame in slow motion, because the recording jumps or pauses there.")
        if self.is_interlaced:
            notes.append(
                "The recording is interlaced: its slow motion was blended, because moving half pictures would tear."
            )
        return tuple(notes)


def retimed(
    reader: FrameReader, moments: Iterable[Moment], *, counts: PictureCounts | None = None
) -> Iterator[VideoFrame]:
    """A picture for each moment, in turn, each of which may be painted on.

    Moments ascend (the same one may come again, for a hold) and lie within the recording, its end included; otherwise
    ValueError. Frames between the first and the last moment are decoded once; memory holds a few pictures. Pixel
    formats outside `syncview.media.planes.LAYOUTS` are converted to the nearest one. Frames that cannot be decoded
    are left out: their neighbours serve instead, and `reader.missing` holds their indices; MediaError when none is
    left. Stamps are those of a neighbour. One moment is read ahead.
    """
    counts = counts if counts is not None else PictureCounts()
    window: _Neighbours | None = None
    last: Moment | None = None
    for moment, following in pairwise(chain(moments, (None,))):
        assert moment is not None  # only the last one is, and it comes as `following`
        _refuse_bad_order(moment, last, reader.recording.frames.end_s)
        last = moment
        window = window or _Neighbours(reader, moment.media_s)
        window.move_to(moment.media_s)
        yield window.picture(moment, following, counts)


def _refuse_bad_order(moment: Moment, last: Moment | None, end_s: Fraction) -> None:
    if not 0 <= moment.media_s <= end_s:
        raise ValueError(f"{float(moment.media_s):.3f} s is outside the recording (0 to {float(end_s):.3f} s)")
    if last is not None and moment.media_s < last.media_s:
        raise ValueError(f"moments must ascend: {float(moment.media_s):.3f} s after {float(last.media_s):.3f} s")


@dataclass(frozen=True, slots=True)
class _Seen:
    """A decoded frame and its time."""

    media_s: Fraction
    frame: VideoFrame


class _Neighbours:
    """The two frames around a moment that moves forward."""

    def __init__(self, reader: FrameReader, media_s: Fraction) -> None:
        index = reader.recording.frames
        first = index.index_at(media_s) if media_s < index.end_s else len(index) - 1
        self._index = index
        self._decoding = reader.frames(first, len(index))
        self._longest_step_s = LONGEST_STEP / reader.recording.nominal_rate
        self._between = PairPictures()
        self._held: tuple[Moment, Kind, VideoFrame] | None = None
        self._before: _Seen | None = None
        self._after = self._next()
        if self._after is None:
            raise MediaError(
                f"no frame from {float(media_s):.3f} s on can be decoded",
                "The file is damaged there; end the lesson earlier or copy the file from the camera again.",
                where=reader.recording.path,
            )

    def _next(self) -> _Seen | None:
        for number, frame in self._decoding:
            return _Seen(self._index.media_s(number), in_workable_format(frame))
        return None

    def move_to(self, media_s: Fraction) -> None:
        """Decode until the moment lies between the neighbours."""
        while self._after is not None and self._after.media_s <= media_s:
            self._before, self._after = self._after, self._next()

    def picture(self, moment: Moment, following: Moment | None, counts: PictureCounts) -> VideoFrame:
        """The picture of the moment moved to; `following` is the next one, None after the last."""
        if self._held is not None and self._held[0] == moment:
            _moment, kind, made = self._held
        else:
            kind, made = self._new(moment, following, counts)
        counts.add(kind)
        is_hold = following == moment
        self._held = (moment, kind, made) if is_hold else None
        return copy_of(made) if is_hold else made

    def _new(self, moment: Moment, following: Moment | None, counts: PictureCounts) -> tuple[Kind, VideoFrame]:
        before, after = self._before, self._after
        if before is None or after is None:
            return "recorded", self._own(before or after, following)
        step_s = after.media_s - before.media_s
        weight = (moment.media_s - before.media_s) / step_s
        nearest = before if weight <= Fraction(1, 2) else after
        if moment.method == "repeat" or min(weight, 1 - weight) <= NEAR_ENOUGH:
            return "recorded", self._own(nearest, following)
        if step_s <= self._longest_step_s and _alike(before.frame, after.frame):
            if self._is_to_move(moment, before.frame, after.frame, counts):
                moved = self._between.moved(before.frame, after.frame, float(weight))
                if moved is not None:
                    return "flowed", moved
            else:
                return "blended", blended(before.frame, after.frame, float(weight))
        return "across_cuts", self._own(nearest, following)

    def _is_to_move(self, moment: Moment, before: VideoFrame, after: VideoFrame, counts: PictureCounts) -> bool:
        is_interlaced = before.interlaced_frame or after.interlaced_frame
        if moment.method == "flow" and is_interlaced:
            counts.is_interlaced = True
        return moment.method == "flow" and not is_interlaced and self._between.can_move(before)

    def _own(self, seen: _Seen | None, following: Moment | None) -> VideoFrame:
        """The frame itself where nothing needs it any more, else a copy."""
        assert seen is not None  # one neighbour at least was decoded
        is_passed = following is None or (self._after is not None and following.media_s >= self._after.media_s)
        if seen is not self._before or not is_passed:
            return copy_of(seen.frame)
        seen.frame.make_writable()  # the decoder may still refer to it
        return seen.frame


def _alike(a: VideoFrame, b: VideoFrame) -> bool:
    return (a.width, a.height, a.format.name) == (b.width, b.height, b.format.name)
