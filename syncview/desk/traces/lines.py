"""The traces of a session: its channels, the reference lap's at the same places, and the gap between both."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from syncview.channels import FloatArray, sample_at
from syncview.desk.traces.pyramid import Pyramid

if TYPE_CHECKING:
    from syncview.channels import SessionLog
    from syncview.lesson.session import Session
    from syncview.track.laps import Lap

RowKey = Literal["speed", "gear", "brake", "throttle", "steering", "engine_speed", "gap"]

ROW_KEYS: tuple[RowKey, ...] = ("speed", "gear", "brake", "throttle", "steering", "engine_speed", "gap")
"""From the top down."""
AxisName = Literal["distance", "time"]


@dataclass(frozen=True, slots=True)
class Row:
    """One trace; values in SI: m/s, gear, shares of the pedals' travel, rad (left positive), rad/s, s (behind +)."""

    key: RowKey
    number: int | None
    """Row in the stacks of values; None for a channel that is missing."""
    stepped: bool = False
    """The value holds until the next sample."""
    lacks: Literal["channel", "reference"] = "channel"
    """What is missing where `number` is None."""


@dataclass(frozen=True, slots=True, eq=False)
class TraceSet:
    """A session's traces; arrays are at the log's samples, shape (n,), stacks have shape (rows, n), NaN for no value.

    Own values come first in the stack, the reference lap's at the same places of the lap after them.
    """

    session: Session
    reference: Lap | None
    rows: tuple[Row, ...]
    log_s: FloatArray
    course_m: FloatArray
    """See `Track.sample_course_m`."""
    crossings_s: FloatArray
    """Log times of all line crossings of timed laps, shape (k,); on the course they lie whole lap lengths apart."""
    lap_index: NDArray[np.int64]
    """How many crossings lie behind each sample."""
    pyramid: Pyramid
    own_rows: int
    """Rows of the stack that are the log's own; the reference's follow in the same order."""

    stepped_rows: tuple[int, ...]
    """Rows of the stack whose values hold until the next sample."""
    restarting_rows: tuple[int, ...]
    """Rows that begin anew at every line crossing: the gap and all of the reference's."""

    @property
    def lap_length_m(self) -> float:
        """Of the course."""
        return self.session.track.lap_length_m

    @property
    def crossings_m(self) -> FloatArray:
        """Places of the crossings on the course, shape (k,)."""
        return np.arange(self.crossings_s.size, dtype=np.float64) * self.lap_length_m

    def x(self, axis: AxisName) -> FloatArray:
        """The samples' places on an axis, shape (n,): course metres or log seconds."""
        return self.course_m if axis == "distance" else self.log_s

    def crossings(self, axis: AxisName) -> FloatArray:
        """The line crossings on an axis."""
        return self.crossings_m if axis == "distance" else self.crossings_s

    def to_x(self, axis: AxisName, log_s: float) -> float:
        """Place on the axis of a moment; NaN outside the course."""
        return log_s if axis == "time" else float(self.session.track.course_at(np.array(log_s)))

    def to_log_s(self, axis: AxisName, x: float) -> float:
        """Moment of a place on the axis; NaN outside the course."""
        return x if axis == "time" else float(self.session.track.log_s_at_course(np.array(x)))

    def limits(self, axis: AxisName, lap: Lap | None) -> tuple[float, float]:
        """Begin and end of a lap, or of the whole session, on the axis."""
        track = self.session.track
        if axis == "time":
            return (float(self.log_s[0]), float(self.log_s[-1])) if lap is None else (lap.start_s, lap.end_s)
        if lap is None:
            return float(track.course_m[0]), float(track.course_m[-1])
        begin_m = track.lap_begin_m(lap)
        return begin_m, begin_m + track.lap_length_m


def trace_set(session: Session, reference: Lap | None) -> TraceSet:
    """Read the channels and build what drawing them at any zoom needs. Cost grows with the samples: not for each move.

    Levels of brake and throttle and the sign of steering are those of `FactBasis`.
    """
    log, track = session.log, session.track
    crossings_s = np.array([track.timed[0].start_s, *(lap.end_s for lap in track.timed)])
    lap_index = np.searchsorted(crossings_s, log.time_s, side="right")
    own = own_values(session)
    rows: list[Row] = []
    stack: list[FloatArray] = []
    for key in ROW_KEYS[:-1]:
        values = own[key]
        rows.append(Row(key, None if values is None else len(stack), key == "gear"))
        stack += [] if values is None else [values]
    gap_s = None if reference is None else gap_at(session, reference, log.time_s)
    rows.append(Row("gap", None if gap_s is None else len(stack), lacks="reference"))
    stack += [] if gap_s is None else [gap_s]
    others = [] if reference is None else _at_same_places(session, reference, rows, own)
    whole = np.array([*stack, *others], dtype=np.float32).reshape(-1, log.time_s.size)
    gear, gap = next(row.number for row in rows if row.stepped), rows[-1].number
    count = whole.shape[0]
    return TraceSet(
        session, reference, tuple(rows), log.time_s, session.facts.course_m, crossings_s, lap_index, Pyramid(whole),
        len(stack),
        stepped_rows=() if gear is None else tuple(range(gear, count, len(stack))),
        restarting_rows=(*(() if gap is None else (gap,)), *range(len(stack), count)),
    )  # fmt: skip


def own_values(session: Session) -> dict[RowKey, FloatArray | None]:
    """The session's channels with short holes bridged, shape (n,); None for those the log lacks."""
    log, facts = session.log, session.facts
    return {
        "speed": _bridged(log, "speed"),
        "gear": facts.gear,
        "brake": facts.brake,
        "throttle": facts.throttle,
        "steering": facts.steering_rad,
        "engine_speed": _bridged(log, "engine_speed"),
    }


def _bridged(log: SessionLog, role: str) -> FloatArray | None:
    values = log.values(role)
    if values is None or not np.isfinite(values).any():
        return None
    return values if np.isfinite(values).all() else log.at(role, log.time_s)


def _at_same_places(
    session: Session, reference: Lap, rows: list[Row], own: dict[RowKey, FloatArray | None]
) -> list[FloatArray]:
    """The reference lap's values where the car is at each sample; the gap of the reference to itself is nil."""
    log_s = reference_log_s(session, reference, session.facts.course_m)
    found = []
    for row in rows:
        if row.number is None:
            continue
        values = None if row.key == "gap" else own[row.key]
        if values is None:
            found.append(np.where(np.isfinite(log_s), 0.0, np.nan))
        else:
            found.append(sample_at(session.log.time_s, values, log_s, stepped=row.stepped))
    return found


def reference_log_s(session: Session, reference: Lap, course_m: FloatArray) -> FloatArray:
    """When the reference lap was at the same places of the lap; NaN off the course."""
    track = session.track
    inside = np.isfinite(course_m)
    lap_m = np.where(inside, course_m, np.nan) % track.lap_length_m
    return track.traces[reference.number].log_s_at(lap_m)


def gap_at(session: Session, reference: Lap, log_s: FloatArray) -> FloatArray:
    """Seconds that the lap under way is behind the reference lap at the same place, at log times of any shape.

    Both count from their own start; NaN outside timed laps.
    """
    track = session.track
    starts_s = np.array([track.timed[0].start_s, *(lap.end_s for lap in track.timed)])
    index = np.searchsorted(starts_s, log_s, side="right") - 1
    timed = (index >= 0) & (index < starts_s.size - 1)
    lap_s = log_s - starts_s[np.clip(index, 0, starts_s.size - 2)]
    lap_m = track.course_at(log_s) - index * track.lap_length_m
    reference_s = track.traces[reference.number].log_s_at(np.clip(lap_m, 0.0, track.lap_length_m)) - reference.start_s
    return np.where(timed, lap_s - reference_s, np.nan)
