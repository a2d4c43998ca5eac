"""What the gauges show at any moment of the recording: at its frames, and between them in slow motion."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from syncview.channels import FloatArray
from syncview.gauges.map_plate import MapOutline
from syncview.gauges.values import CornerLabel, GaugeValues, MarkerAhead
from syncview.lesson.corner_span import CornerSpan
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.pictures.lap_map import ground_line
from syncview.lesson.sampled import Sampled
from syncview.lesson.session import Session
from syncview.plan.film_span import FilmSpan
from syncview.track.laps import Lap
from syncview.track.markers import Marker
from syncview_codecs.captions.cue import Cue

CARD_BEFORE_S = 1.0
"""A corner's card appears this long before its braking point or entry, so that it can be read in time. No source."""
MARKER_AHEAD_M = 150.0
"""A marker is counted down from here. No source."""


def gauge_feed(
    film: LapFilm,
    spans: tuple[CornerSpan, ...],
    *,
    span: FilmSpan | None = None,
    notes: Sequence[Cue] = (),
    reference: Lap | None = None,
) -> Callable[[Fraction], GaugeValues]:
    """A function from media time to values, for films at full speed.

    `notes` are written on the picture at their times in a film of `span`, or of the whole film. See `GaugeFeed`.
    """
    shown = film.span if span is None else span
    feed = GaugeFeed(film, spans, reference=reference)

    def values_at(media_s: Fraction) -> GaugeValues:
        film_ms = shown.to_film_s(media_s) * 1000
        note = next((cue.text for cue in notes if cue.start_ms <= film_ms < cue.end_ms), None) if notes else None
        return feed.at(media_s, note=note)

    return values_at


def usual_reference(session: Session, lap: Lap) -> Lap | None:
    """The best of the other laps that stand for the driving; None where there is none to compare with."""
    others = [other for other in session.track.timed if other.representative and other.number != lap.number]
    return min(others, key=lambda other: other.time_ms, default=None)


def map_outline(session: Session) -> MapOutline:
    """The lap's line for the map, with the numbers of the corners at their apexes."""
    lap_m, x_m, y_m, _words = ground_line(session)
    corners = tuple((corner.number, corner.apex_m) for corner in session.corners)
    return MapOutline(x_m[:-1], y_m[:-1], float(lap_m[-1]), corners)


class GaugeFeed:
    """Values at any media time, exact, for as many times as asked.

    Lap time counts from the lap's start and stays at the lap's time after its end; before the start it is unknown. The
    gap to `reference` is the difference of both laps' times at the same lap distance (positive: behind); after the
    end it stays at the difference of the lap times.
    """

    def __init__(self, film: LapFilm, spans: tuple[CornerSpan, ...], *, reference: Lap | None = None) -> None:
        session = film.session
        self._film = film
        self._channels = _channels(session)
        self._course = Sampled(session.track.course_log_s, session.track.course_m)
        self._begin_m = session.track.lap_begin_m(film.lap)
        self._cards = [_Card.of(span) for span in spans]
        self._gap = None if reference is None or reference.number == film.lap.number else _Gap(session, reference)
        self._markers = _Markers(() if session.circuit is None else session.circuit.markers, session)
        self._final_gap_s = None if reference is None else (film.lap.time_ms - reference.time_ms) / 1000

    def at(self, media_s: Fraction | float, *, note: str | None = None) -> GaugeValues:
        """The values at a media time, with `note` written into the captions' place."""
        log_s = self._film.clock.to_log_s(float(media_s))
        found = {name: channel.at(log_s) for name, channel in self._channels.items()}
        gear = found["gear"]
        course_m = self._course.at(log_s)
        lap_m = None if course_m is None else course_m - self._begin_m
        return GaugeValues(
            speed_mps=found["speed"],
            gear=None if gear is None else round(gear),
            throttle=found["throttle"],
            brake=found["brake"],
            steering_rad=found["steering"],
            lap_time_s=self._lap_time_s(log_s),
            corner=next((card.label for card in self._cards if card.begin_log_s <= log_s < card.end_log_s), None),
            note=note,
            gap_s=self._gap_s(log_s, lap_m),
            lap_distance_m=lap_m,
            marker=None if lap_m is None else self._markers.ahead(lap_m),
        )

    def _lap_time_s(self, log_s: float) -> float | None:
        lap = self._film.lap
        if log_s < lap.start_s:
            return None
        return lap.time_ms / 1000 if log_s >= lap.end_s else log_s - lap.start_s

    def _gap_s(self, log_s: float, lap_m: float | None) -> float | None:
        lap = self._film.lap
        if self._gap is None or log_s < lap.start_s:
            return None
        if log_s >= lap.end_s:
            return self._final_gap_s
        if lap_m is None:
            return None
        reference_s = self._gap.time_s(lap_m)
        return None if reference_s is None else log_s - lap.start_s - reference_s


def _channels(session: Session) -> dict[str, Sampled]:
    """By the gauge that shows them; a channel that the log lacks is one without samples."""
    log, facts = session.log, session.facts

    def made(time_s: FloatArray, values: FloatArray | None, *, stepped: bool = False) -> Sampled:
        return Sampled(time_s[:0], time_s[:0]) if values is None else Sampled(time_s, values, stepped=stepped)

    return {
        "speed": made(log.time_s, log.values("speed")),
        "gear": made(log.time_s, log.values("gear"), stepped=True),
        "throttle": made(facts.time_s, facts.throttle),
        "brake": made(facts.time_s, facts.brake),
        "steering": made(facts.time_s, facts.steering_rad),
    }


@dataclass(frozen=True, slots=True)
class _Card:
    """A corner's card and when it shows; where two would show at once, the earlier corner, which is being driven."""

    label: CornerLabel
    begin_log_s: float
    end_log_s: float

    @classmethod
    def of(cls, span: CornerSpan) -> _Card:
        label = CornerLabel(span.corner.number, span.corner.name or None, span.corner.side)
        return cls(label, span.begin_log_s - CARD_BEFORE_S, span.end_log_s)


class _Gap:
    """Times of the reference lap by lap distance."""

    def __init__(self, session: Session, reference: Lap) -> None:
        trace = session.track.traces[reference.number]
        self._distance_m, self._lap_s = trace.distance_m, trace.log_s - reference.start_s

    def time_s(self, lap_m: float) -> float | None:
        """Seconds from the reference lap's start to this place; None outside the lap."""
        after = int(self._distance_m.searchsorted(lap_m, side="right"))
        if after == 0:
            return None
        if after == self._distance_m.size:
            return float(self._lap_s[-1]) if lap_m == self._distance_m[-1] else None
        behind_m, behind_s = float(self._distance_m[after - 1]), float(self._lap_s[after - 1])
        share = (lap_m - behind_m) / (float(self._distance_m[after]) - behind_m)
        return behind_s + (float(self._lap_s[after]) - behind_s) * share


class _Markers:
    """The circuit's markers in driving order."""

    def __init__(self, markers: Sequence[Marker], session: Session) -> None:
        self._lap_length_m = session.track.lap_length_m
        self._markers = sorted(markers, key=lambda marker: marker.at_m)
        self._places_m = [marker.at_m for marker in self._markers]

    def ahead(self, lap_m: float) -> MarkerAhead | None:
        """The next marker that is not passed yet, if it is near."""
        if not self._markers:
            return None
        here_m = lap_m % self._lap_length_m
        number = bisect_right(self._places_m, here_m) % len(self._markers)
        if self._places_m[number - 1] == here_m:
            number = (number - 1) % len(self._markers)
        distance_m = (self._places_m[number] - here_m) % self._lap_length_m
        return MarkerAhead(self._markers[number].words, distance_m) if distance_m <= MARKER_AHEAD_M else None
