"""What the gauges show at each frame, worked out for all frames of a film at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import numpy as np

from syncview.channels import FloatArray, sample_at
from syncview.gauges.values import CornerLabel, GaugeValues
from syncview.lesson.corner_span import CornerSpan
from syncview.lesson.lap_film import LapFilm
from syncview.plan.film_span import FilmSpan
from syncview_codecs.captions.cue import Cue

CARD_BEFORE_S = 1.0
"""A corner's card appears this long before its braking point or entry, so that it can be read in time. No source."""


def gauge_feed(
    film: LapFilm, spans: tuple[CornerSpan, ...], *, span: FilmSpan | None = None, notes: Sequence[Cue] = ()
) -> Callable[[Fraction], GaugeValues]:
    """A function from media time (of a frame that `span`, or the whole film, shows) to values.

    `notes` are written on the picture at their film times. Lap time counts from the lap's start and stays at the lap's
    time after its end; before the start it is unknown.
    """
    shown = film.span if span is None else span
    every_s = film.recording.frames.times_s
    first, stop = np.searchsorted(every_s, (float(shown.begin_s) - 1e-9, float(shown.end_s)))
    media_s = every_s[first:stop]
    log_s = film.clock.to_log_s(media_s)
    log, facts = film.session.log, film.session.facts

    def level(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else sample_at(facts.time_s, values, log_s)

    speed, gear = log.at("speed", log_s), log.at("gear", log_s)
    throttle, brake, steering = level(facts.throttle), level(facts.brake), level(facts.steering_rad)
    lap_time = _lap_time(film, log_s)
    labels = _labels(spans, log_s)

    def values_at(media: Fraction) -> GaugeValues:
        at = int(np.searchsorted(media_s, float(media) + 1e-9, side="right")) - 1
        whole = _at(gear, at)
        return GaugeValues(
            speed_mps=_at(speed, at),
            gear=None if whole is None else round(whole),
            throttle=_at(throttle, at),
            brake=_at(brake, at),
            steering_rad=_at(steering, at),
            lap_time_s=_at(lap_time, at),
            corner=labels[at],
            note=_note_at(notes, shown.to_film_s(media) * 1000),
        )

    return values_at


def _note_at(notes: Sequence[Cue], film_ms: Fraction) -> str | None:
    return next((cue.text for cue in notes if cue.start_ms <= film_ms < cue.end_ms), None)


def _at(column: FloatArray | None, index: int) -> float | None:
    if column is None or not np.isfinite(column[index]):
        return None
    return float(column[index])


def _lap_time(film: LapFilm, log_s: FloatArray) -> FloatArray:
    """Seconds since the lap's start; the lap's own time after its end; NaN before it."""
    elapsed = log_s - film.lap.start_s
    return np.where(elapsed < 0, np.nan, np.where(log_s >= film.lap.end_s, film.lap.time_ms / 1000, elapsed))


def _labels(spans: tuple[CornerSpan, ...], log_s: FloatArray) -> list[CornerLabel | None]:
    """The corner card at each moment; where two would show at once, the one being driven."""
    labels: list[CornerLabel | None] = [None] * log_s.size
    for span in reversed(spans):
        label = CornerLabel(span.corner.number, span.corner.name or None, span.corner.side)
        first, stop = np.searchsorted(log_s, (span.begin_log_s - CARD_BEFORE_S, span.end_log_s))
        labels[first:stop] = [label] * int(stop - first)
    return labels
