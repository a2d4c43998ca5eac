"""A lap of the sample's log as values for the gauges, from its hardest braking on."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from syncview.clock.clock_map import ClockMap
from syncview.gauges.values import GaugeValues
from syncview.lesson.corner_span import corner_spans
from syncview.lesson.film_picture import PanelOptions
from syncview.lesson.gauge_feed import GaugeFeed, usual_reference
from syncview.lesson.lap_film import LapFilm, span_of
from syncview.lesson.render import panel_options
from syncview.lesson.session import session_of
from syncview.media.recording import open_recording
from syncview.media_file import refer_to
from syncview.project import Project
from syncview.track.circuit_file import read_circuit

SAMPLE = Path(__file__).parents[2] / "sample_media"


@dataclass(frozen=True, slots=True)
class Driving:
    """What the gauges of a bench show."""

    values_at: Callable[[Fraction], GaugeValues]
    """By time from the beginning; the lap comes again when it is over."""
    panel: PanelOptions


def sample_driving() -> Driving:
    """The sample's second lap, beginning half a second before it brakes for its hairpin."""
    truth = json.loads((SAMPLE / "truth.json").read_text("utf-8"))
    clock = ClockMap(truth["clock"]["offset_s"], truth["clock"]["rate"])
    project = Project(refer_to(SAMPLE / "session.mp4", SAMPLE), refer_to(SAMPLE / "session.csv", SAMPLE))
    session = session_of(project, SAMPLE / "p.syncview.json", circuit=read_circuit(SAMPLE / "circuit.toml"))
    recording, lap = open_recording(SAMPLE / "session.mp4"), session.lap(2)
    begin_s, end_s = clock.to_media_s(lap.start_s), clock.to_media_s(lap.end_s)
    film = LapFilm(session, recording, clock, lap, span_of(recording, begin_s, end_s))
    spans = corner_spans(session, lap)
    feed = GaugeFeed(film, spans, reference=usual_reference(session, lap))
    onset = next(span for span in spans if span.corner.number == 3).facts.brake.log_s.value
    assert onset is not None  # the sample's driver brakes there
    first, length = Fraction(clock.to_media_s(onset) - begin_s) - Fraction(1, 2), Fraction(end_s - begin_s)

    def values_at(time_s: Fraction) -> GaugeValues:
        return feed.at(Fraction(begin_s) + (first + time_s) % length)

    return Driving(values_at, panel_options(session))
