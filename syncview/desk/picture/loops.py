"""The stretches that can be looped: each corner of the taught lap, with a run-up and a run-out."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.desk.picture.play_run import Loop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from syncview.lesson.corner_span import CornerSpan
    from syncview.lesson.lap_film import LapFilm

RUN_UP_S = 1.5
RUN_OUT_S = 1.0
"""So that the eye finds its place before the braking and sees the exit (no source)."""


def corner_loops(film: LapFilm, spans: Sequence[CornerSpan]) -> tuple[Loop, ...]:
    """One loop for each corner of the lap, in driving order, from whole frame to whole frame."""
    from syncview.lesson.chapters import corner_title

    frames, loops = film.recording.frames, []
    for span in spans:
        begin_s = max(film.clock.to_media_s(span.begin_log_s) - RUN_UP_S, 0.0)
        end_s = min(film.clock.to_media_s(span.end_log_s) + RUN_OUT_S, float(frames.end_s))
        if not begin_s < end_s:
            continue
        begin = frames.media_s(frames.index_at(begin_s))
        last = frames.first_from(end_s)
        end = frames.end_s if last >= len(frames) else frames.media_s(last)
        loops.append(Loop(begin, end, corner_title(span.corner), span.corner.number))
    return tuple(loops)


def loop_at(loops: Sequence[Loop], media_s: Fraction, *, corner: int | None) -> Loop | None:
    """The loop of that corner; else of the corner that the playhead is in or comes to next; None when there is none."""
    for loop in loops:
        if corner is not None and loop.corner == corner:
            return loop
    ahead = [loop for loop in loops if media_s < loop.end_s]
    return min(ahead, key=lambda loop: loop.end_s, default=loops[-1] if loops else None)


@dataclass(frozen=True, slots=True)
class CornerStretch:
    """A corner of the taught lap in the recording."""

    number: int
    begin_s: float
    end_s: float


def corner_stretches(film: LapFilm, spans: Sequence[CornerSpan]) -> tuple[CornerStretch, ...]:
    """Where each corner lies in the recording, from braking to exit."""
    to_media_s = film.clock.to_media_s
    return tuple(CornerStretch(s.corner.number, to_media_s(s.begin_log_s), to_media_s(s.end_log_s)) for s in spans)
