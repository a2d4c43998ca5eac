"""One lap as a film: which part of the recording, what the gauges show, and where places of the lap lie in it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.clock.clock_map import ClockMap
from syncview.errors import MediaError
from syncview.lesson.session import Session
from syncview.plan.film_span import FilmSpan
from syncview.track.laps import Lap

if TYPE_CHECKING:
    from syncview.media.recording import Recording


@dataclass(frozen=True, slots=True, eq=False)
class LapFilm:
    """A lap on the recording's clock, with a film span around it."""

    session: Session
    recording: Recording
    clock: ClockMap
    lap: Lap
    span: FilmSpan

    def media_s_at(self, lap_distance_m: float) -> float:
        """Media time at which this lap passes that place; NaN outside the lap."""
        trace = self.session.track.traces[self.lap.number]
        return self.clock.to_media_s(float(trace.log_s_at(np.array([lap_distance_m]))[0]))


def lap_film(
    session: Session, recording: Recording, lap: Lap, *, before_s: float = 3.0, after_s: float = 3.0
) -> LapFilm:
    """Place a lap in the recording, with some seconds before and after it (less where the recording ends).

    Raises `MediaError` when the recording does not show the whole lap, `UnsureError` without a usable clock.
    """
    clock = session.clock()
    if not clock.is_recorded(lap.start_s, lap.end_s):
        raise MediaError(
            f"the recording was stopped during lap {lap.number}",
            "Choose a lap that was recorded whole with --lap.",
            where=recording.path.name,
        )
    begin, end = clock.to_media_s(lap.start_s), clock.to_media_s(lap.end_s)
    if begin < 0 or end > recording.duration_s:
        raise MediaError(
            f"the recording shows lap {lap.number} only in part: the lap runs from {begin:.2f} s to {end:.2f} s of it",
            f"Choose another lap with --lap; the recording lasts {recording.duration_s:.2f} s.",
            where=recording.path.name,
        )
    return LapFilm(session, recording, clock, lap, span_of(recording, begin - before_s, end + after_s))


def span_of(recording: Recording, begin_s: float, end_s: float) -> FilmSpan:
    """The film span from the frame on screen at `begin_s` to the end of the one at `end_s`, inside the recording."""
    frames = recording.frames
    first = frames.index_at(Fraction(max(0.0, begin_s)))
    if end_s >= frames.end_s:
        return FilmSpan(frames.media_s(first), frames.end_s)
    following = frames.index_at(Fraction(end_s)) + 1
    end = frames.media_s(following) if following < frames.pts.size else frames.end_s
    return FilmSpan(frames.media_s(first), end)
