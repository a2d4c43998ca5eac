"""What the gauges are told: the log's own values at any media time, the gap, the map's place, the next marker."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.channels import sample_at
from syncview.clock.clock_map import ClockMap
from syncview.gauges.values import GaugeValues
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.gauge_feed import (
    CARD_BEFORE_S,
    MARKER_AHEAD_M,
    GaugeFeed,
    gauge_feed,
    map_outline,
    usual_reference,
)
from syncview.lesson.lap_film import LapFilm, span_of
from syncview.lesson.sampled import Sampled
from syncview.lesson.session import Session, session_of
from syncview.media.recording import Recording, open_recording
from syncview.media_file import refer_to
from syncview.project import Project
from syncview.track.circuit_file import read_circuit
from syncview_codecs.captions.cue import Cue

SAMPLE = Path(__file__).parents[2] / "sample_media"
TRUTH = json.loads((SAMPLE / "truth.json").read_text("utf-8"))
CLOCK = ClockMap(TRUTH["clock"]["offset_s"], TRUTH["clock"]["rate"])


@pytest.fixture(scope="module")
def session() -> Session:
    project = Project(refer_to(SAMPLE / "session.mp4", SAMPLE), refer_to(SAMPLE / "session.csv", SAMPLE))
    return session_of(project, SAMPLE / "p.syncview.json", circuit=read_circuit(SAMPLE / "circuit.toml"))


@pytest.fixture(scope="module")
def recording() -> Recording:
    return open_recording(SAMPLE / "session.mp4")


@pytest.fixture(scope="module")
def film(session: Session, recording: Recording) -> LapFilm:
    lap = session.lap(2)
    begin, end = CLOCK.to_media_s(lap.start_s), CLOCK.to_media_s(lap.end_s)
    return LapFilm(session, recording, CLOCK, lap, span_of(recording, begin - 3, end + 3))


@pytest.fixture(scope="module")
def spans(session: Session, film: LapFilm) -> tuple[CornerSpan, ...]:
    return corner_spans(session, film.lap)


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    with (SAMPLE / "session.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


numbers = st.floats(-1e3, 1e3)


@given(
    st.lists(st.tuples(st.floats(0.001, 3.0), st.one_of(numbers, st.just(float("nan")))), min_size=1, max_size=12),
    st.lists(st.floats(-2.0, 40.0), max_size=6),
    st.booleans(),
)
def test_single_moments_are_answered_as_whole_arrays_are(
    steps: list[tuple[float, float]], moments: list[float], stepped: bool
) -> None:
    time_s = np.cumsum([step for step, _value in steps])
    values = np.array([value for _step, value in steps])
    asked = np.array([*moments, *time_s])
    wanted = sample_at(time_s, values, asked, stepped=stepped)
    sampled = Sampled(time_s, values, stepped=stepped)
    for moment, expected in zip(asked, wanted, strict=True):
        found = sampled.at(float(moment))
        assert (found is None) == (not np.isfinite(expected))
        assert found is None or found == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_values_are_the_logs_own_rows(film: LapFilm, spans: tuple[CornerSpan, ...], rows: list[dict[str, str]]) -> None:
    """At the moments of rows of the file, as written there."""
    feed = GaugeFeed(film, spans)
    for number in range(8000, 14000, 371):
        row = rows[number]
        values = feed.at(CLOCK.to_media_s(float(row["time [s]"])))
        assert values.speed_mps == pytest.approx(float(row["speed [km/h]"]) / 3.6, abs=1e-3)
        assert values.gear in {int(row["gear"]), int(rows[number - 1]["gear"])}
        assert values.steering_rad is not None
        assert abs(values.steering_rad) == pytest.approx(abs(np.radians(float(row["steering angle [deg]"]))), abs=0.05)


def test_between_frames_values_run_on(film: LapFilm, spans: tuple[CornerSpan, ...], session: Session) -> None:
    """In slow motion there are pictures between frames: the log is asked at their own times."""
    feed = GaugeFeed(film, spans)
    media_s = [Fraction(90) + Fraction(step, 1000) for step in range(400)]
    speeds = session.log.at("speed", CLOCK.to_log_s(np.array([float(m) for m in media_s])))
    assert speeds is not None
    found = [feed.at(moment).speed_mps for moment in media_s]
    assert np.allclose(np.array(found, dtype=float), speeds, atol=1e-9)
    assert len(set(found)) > 300


def test_any_order_gives_the_same(film: LapFilm, spans: tuple[CornerSpan, ...], session: Session) -> None:
    feed = GaugeFeed(film, spans, reference=session.lap(1))
    moments = [Fraction(number, 7) for number in range(30, 1200, 13)]
    forwards = [feed.at(moment) for moment in moments]
    assert [feed.at(moment) for moment in reversed(moments)] == forwards[::-1]


def test_lap_time_begins_at_the_line_and_stays_at_the_lap_time(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    feed = GaugeFeed(film, spans)
    start_s = TRUTH["lap_starts"][1]["media_s"]
    lap_s = TRUTH["lap_times_ms"][1] / 1000
    assert feed.at(start_s - 0.05).lap_time_s is None
    assert feed.at(start_s + 10).lap_time_s == pytest.approx(10, abs=0.01)
    for after_s in (0.02, 2.5):
        assert feed.at(start_s + lap_s * TRUTH["clock"]["rate"] + after_s).lap_time_s == pytest.approx(lap_s, abs=0.002)


def test_cards_come_in_time_and_go_at_the_exit(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    feed = GaugeFeed(film, spans)
    first = spans[0]
    begin_s, end_s = CLOCK.to_media_s(first.begin_log_s), CLOCK.to_media_s(first.end_log_s)
    assert feed.at(begin_s - CARD_BEFORE_S - 0.02).corner is None
    for moment in (begin_s - CARD_BEFORE_S + 0.02, begin_s, end_s - 0.02):
        label = feed.at(moment).corner
        assert label is not None
        assert (label.number, label.name, label.side) == (1, "Lantern", "right")
    after = feed.at(end_s + 0.02).corner
    assert after is None or after.number != 1


def test_gap_is_the_difference_of_both_laps_at_the_same_place(
    film: LapFilm, spans: tuple[CornerSpan, ...], session: Session, rows: list[dict[str, str]]
) -> None:
    """Against the distance column that the car wrote itself; it drifts by a few metres, which is 0.1 s."""
    feed = GaugeFeed(film, spans, reference=session.lap(1))
    times = np.array([float(row["time [s]"]) for row in rows])
    laps = np.array([int(row["lap"]) for row in rows])
    metres = np.array([float(row["lap distance [m]"]) for row in rows])
    starts = [lap["log_s"] for lap in TRUTH["lap_starts"]]
    for lap_s in (5.0, 18.0, 30.0, 44.0, 55.0):
        here_m = np.interp(starts[1] + lap_s, times[laps == 2], metres[laps == 2])
        then_s = np.interp(here_m, metres[laps == 1], times[laps == 1]) - starts[0]
        gap_s = feed.at(CLOCK.to_media_s(starts[1] + lap_s)).gap_s
        assert gap_s == pytest.approx(lap_s - then_s, abs=0.1)


def test_gap_ends_at_the_difference_of_the_lap_times(
    film: LapFilm, spans: tuple[CornerSpan, ...], session: Session
) -> None:
    feed = GaugeFeed(film, spans, reference=session.lap(1))
    start_s, end_s = TRUTH["lap_starts"][1]["media_s"], TRUTH["lap_starts"][2]["media_s"]
    difference_s = (TRUTH["lap_times_ms"][1] - TRUTH["lap_times_ms"][0]) / 1000
    assert feed.at(start_s - 0.05).gap_s is None
    assert feed.at(start_s + 0.03).gap_s == pytest.approx(0, abs=0.02)
    for moment in (end_s - 0.01, end_s + 0.01, end_s + 2):
        assert feed.at(moment).gap_s == pytest.approx(difference_s, abs=0.005)


def test_a_lap_has_no_gap_to_itself(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    feed = GaugeFeed(film, spans, reference=film.lap)
    assert feed.at(90.0).gap_s is None
    assert GaugeFeed(film, spans).at(90.0).gap_s is None


def test_usual_reference_is_the_best_other_lap(session: Session) -> None:
    times = dict(enumerate(TRUTH["lap_times_ms"], 1))
    for lap in session.track.timed:
        others = {number: ms for number, ms in times.items() if number != lap.number}
        reference = usual_reference(session, lap)
        assert reference is not None
        assert reference.number == min(others, key=lambda number: others[number])


def test_boards_are_counted_down_to_where_they_stand(
    film: LapFilm, spans: tuple[CornerSpan, ...], rows: list[dict[str, str]]
) -> None:
    """The 100 board before corner 3 by the sample's recipe; the car's position says when it is beside it."""
    feed = GaugeFeed(film, spans)
    board = next(b for b in TRUTH["boards"] if b["corner"] == 3 and b["distance_m"] == 100)
    lap = [row for row in rows if row["lap"] == "2"]
    away_m = [
        np.hypot(
            (float(row["latitude [deg]"]) - board["lat"]) * 111_132,
            (float(row["longitude [deg]"]) - board["lon"]) * 78_847,
        )
        for row in lap
    ]
    beside_s = CLOCK.to_media_s(float(lap[int(np.argmin(away_m))]["time [s]"]))
    before = [feed.at(beside_s - aside).marker for aside in (1.0, 0.5, 0.1)]
    assert all(marker is not None and marker.words == "100 board" for marker in before)
    distances = [marker.distance_m for marker in before if marker is not None]
    assert distances == sorted(distances, reverse=True)
    assert distances[-1] < 10
    after = feed.at(beside_s + 0.2).marker
    assert after is not None
    assert after.words == "50 board"


def test_no_marker_when_none_is_near(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    """Behind the last board before corner 1 the next stands 365 m further."""
    feed = GaugeFeed(film, spans)
    shown = feed.at(film.media_s_at(250.0))
    assert shown.marker is None
    near = feed.at(film.media_s_at(549.9 - MARKER_AHEAD_M + 2)).marker
    assert near is not None
    assert near.distance_m == pytest.approx(MARKER_AHEAD_M - 2, abs=0.5)


def test_markers_across_the_line(film: LapFilm, spans: tuple[CornerSpan, ...], session: Session) -> None:
    """Before the line the next board is the first one of the lap."""
    marker = GaugeFeed(film, spans).at(film.media_s_at(session.track.lap_length_m - 30)).marker
    assert marker is not None
    assert marker.words == "150 board"
    assert marker.distance_m == pytest.approx(85 + 30, abs=0.5)


def test_the_map_is_the_circuits_line(session: Session) -> None:
    outline = map_outline(session)
    assert outline.lap_length_m == session.track.lap_length_m
    steps = np.hypot(np.diff(outline.x_m), np.diff(outline.y_m))
    assert steps.sum() == pytest.approx(outline.lap_length_m, rel=0.01)
    assert [number for number, _m in outline.corners] == list(range(1, 11))


def test_a_log_without_position_has_a_map_all_the_same(session: Session) -> None:
    """From the circuit's line, or from how the lap bends."""
    no_line = replace(session, track=replace(session.track, line=None))
    for bare in (no_line, replace(no_line, circuit=None)):
        outline = map_outline(bare)
        steps = np.hypot(np.diff(outline.x_m), np.diff(outline.y_m))
        assert steps.max() < 10
        assert steps.sum() == pytest.approx(session.track.lap_length_m, rel=0.03)


def test_the_place_on_the_map_runs_with_the_lap(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    feed = GaugeFeed(film, spans)
    for lap_m in (1.0, 500.0, 1800.0):
        assert feed.at(film.media_s_at(lap_m)).lap_distance_m == pytest.approx(lap_m, abs=0.01)


def test_missing_channels_are_missing(session: Session, film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    """Nothing is made up for a log that has no such column."""
    signals = {name: s for name, s in session.log.signals.items() if name not in ("gear", "speed")}
    bare = replace(film, session=replace(session, log=replace(session.log, signals=signals), circuit=None))
    values = GaugeFeed(bare, spans).at(90.0)
    assert values.gear is None
    assert values.speed_mps is None
    assert values.marker is None
    assert values.throttle is not None


def test_outside_the_log_everything_is_missing(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    values = GaugeFeed(film, spans).at(-500.0, note="words")
    assert values == GaugeValues(note="words")


def test_notes_of_a_film_come_at_film_times(film: LapFilm, spans: tuple[CornerSpan, ...]) -> None:
    values_at = gauge_feed(film, spans, notes=(Cue(2000, 4000, "Look up", "a"),))
    assert values_at(film.span.begin_s + Fraction(1999, 1000)).note is None
    assert values_at(film.span.begin_s + 2).note == "Look up"
    assert values_at(film.span.begin_s + 4).note is None
