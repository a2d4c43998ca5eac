"""The traces of the sample against its own channels, the gauges' values and the comparison by place."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from syncview.channels import SessionLog
from syncview.clock.clock_map import ClockMap
from syncview.desk.traces.lines import TraceSet, gap_at, trace_set
from syncview.lesson.gauge_feed import GaugeFeed
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.session import Session
from syncview.media.recording import Recording
from syncview.plan.film_span import FilmSpan


def without(session: Session, *roles: str) -> Session:
    log = session.log
    kept = {name: signal for name, signal in log.signals.items() if name not in roles}
    bare = SessionLog(log.name, log.time_s, kept, log.warnings, log.others)
    facts = session.facts
    facts = replace(facts, brake=None) if "brake" in roles else facts
    facts = replace(facts, gear=None) if "gear" in roles else facts
    facts = replace(facts, steering_rad=None) if "steering" in roles else facts
    return replace(session, log=bare, facts=facts)


def test_what_is_shown_is_worked_out_without_qt() -> None:
    names = ("pyramid", "lines", "spans", "marks", "ticks", "scale", "scene", "readout", "plot_data")
    modules = [f"syncview.desk.traces.{name}" for name in names] + ["syncview.desk.map.course"]
    program = f"import sys, {', '.join(modules)}; print([m for m in sys.modules if m.startswith('PyQt')])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_own_rows_are_the_channels(sample_traces: TraceSet, sample_session: Session) -> None:
    speed = sample_session.log.values("speed")
    assert speed is not None
    row = next(row for row in sample_traces.rows if row.key == "speed")
    assert row.number is not None
    known = np.isfinite(speed)
    np.testing.assert_allclose(sample_traces.pyramid.values[row.number][known], speed[known], rtol=1e-6)


def test_the_reference_is_taken_at_the_same_place(sample_traces: TraceSet, sample_session: Session) -> None:
    reference, track = sample_traces.reference, sample_session.track
    assert reference is not None
    row = next(row for row in sample_traces.rows if row.key == "speed")
    assert row.number is not None
    speed = sample_session.log.values("speed")
    assert speed is not None
    for sample in range(2000, sample_traces.log_s.size - 3000, 777):
        place_m = sample_traces.course_m[sample] % track.lap_length_m
        log_s = track.traces[reference.number].log_s_at(np.array([place_m]))[0]
        expected = np.interp(log_s, sample_traces.log_s, speed)
        found = sample_traces.pyramid.values[row.number + sample_traces.own_rows, sample]
        assert found == pytest.approx(expected, abs=0.02)


def test_the_gap_is_the_gauges(sample_session: Session, sample_recording: Recording) -> None:
    """The film's gap plate works it out moment by moment; both ends are known from the lap times."""
    lap, other = sample_session.lap(1), sample_session.lap(3)
    clock = ClockMap(0.0)
    film = LapFilm(sample_session, sample_recording, clock, lap, FilmSpan(0, 1))  # type: ignore[arg-type]
    feed = GaugeFeed(film, (), reference=other)
    moments = np.linspace(lap.start_s + 0.01, lap.end_s - 0.01, 60)
    expected = [feed.at(moment).gap_s for moment in moments]
    np.testing.assert_allclose(gap_at(sample_session, other, moments), np.array(expected, float), atol=1e-6)
    at_end = gap_at(sample_session, other, np.array([lap.end_s - 1e-9]))[0]
    assert at_end == pytest.approx((lap.time_ms - other.time_ms) / 1000, abs=2e-3)  # both times are whole ms


def test_no_gap_outside_timed_laps(sample_session: Session) -> None:
    other = sample_session.lap(3)
    outside = np.array([sample_session.track.timed[0].start_s - 1, sample_session.track.timed[-1].end_s + 1])
    assert np.isnan(gap_at(sample_session, other, outside)).all()


def test_the_reference_has_no_gap_to_itself(sample_session: Session) -> None:
    lap = sample_session.lap(3)
    moments = np.linspace(lap.start_s + 0.01, lap.end_s - 0.01, 500)
    np.testing.assert_allclose(gap_at(sample_session, lap, moments), 0.0, atol=1e-9)


def test_missing_channels_are_named_not_zero(sample_session: Session) -> None:
    traces = trace_set(without(sample_session, "brake", "steering", "gear"), None)
    missing = {row.key: row.lacks for row in traces.rows if row.number is None}
    assert missing == {"brake": "channel", "steering": "channel", "gear": "channel", "gap": "reference"}
    assert traces.pyramid.values.shape[0] == 3  # speed, throttle, engine speed
    assert traces.stepped_rows == ()


def test_axes_convert_both_ways(sample_traces: TraceSet) -> None:
    for log_s in (20.0, 77.7, 150.0):
        x = sample_traces.to_x("distance", log_s)
        assert sample_traces.to_log_s("distance", x) == pytest.approx(log_s, abs=1e-6)
        assert sample_traces.to_log_s("time", sample_traces.to_x("time", log_s)) == log_s


def test_limits_of_a_lap(sample_traces: TraceSet, sample_session: Session) -> None:
    lap = sample_session.lap(2)
    assert sample_traces.limits("time", lap) == (lap.start_s, lap.end_s)
    begin_m, end_m = sample_traces.limits("distance", lap)
    assert end_m - begin_m == pytest.approx(sample_session.track.lap_length_m)
    assert sample_traces.to_log_s("distance", begin_m) == pytest.approx(lap.start_s, abs=1e-6)
