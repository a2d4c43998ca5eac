"""What a person does to the clock: marks, nudges, the picture of the evidence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from syncview.clock.clock_map import ClockMap
from syncview.clock.marks import Mark
from syncview.errors import ClockError, SyncviewError
from syncview.lesson.aligning import (
    AlignOptions,
    align_project,
    lap_starts_of,
    nudge_project,
    parse_mark,
    parse_nudge,
    parse_place,
    save_evidence_files,
)
from syncview.lesson.session import session_of
from syncview.media_file import refer_to
from syncview.project import Project, SavedClock
from syncview.track.circuit_file import read_circuit

SAMPLE = Path(__file__).parents[2] / "sample_media"
TRUTH = json.loads((SAMPLE / "truth.json").read_text("utf-8"))
FRAME_S = 1 / 60


@pytest.fixture
def project() -> Project:
    return Project(refer_to(SAMPLE / "session.mp4", SAMPLE), refer_to(SAMPLE / "session.csv", SAMPLE))


def error_s(clock: ClockMap) -> float:
    true = TRUTH["clock"]
    return max(
        abs(clock.to_media_s(s) - float(true["rate"]) * s - float(true["offset_s"])) for s in (8.0, 100.0, 198.0)
    )


@pytest.mark.parametrize(
    ("text", "mark"),
    [("12.345", Mark(12.345)), ("1:02.345", Mark(62.345)), ("2=66.8", Mark(66.8, 2)), ("3=2:05.3", Mark(125.3, 3))],
)
def test_lap_starts_as_written(text: str, mark: Mark) -> None:
    assert parse_mark(text) == mark


def test_places_as_written() -> None:
    markers = {"b100-1": 135.0}
    assert parse_place("640=12.3", markers) == Mark(12.3, None, 640.0)
    assert parse_place("2/640=1:12.3", markers) == Mark(72.3, 2, 640.0)
    assert parse_place("b100-1=12.3", markers) == Mark(12.3, None, 135.0)
    assert parse_place("3/b100-1=12.3", markers) == Mark(12.3, 3, 135.0)


@pytest.mark.parametrize(
    ("text", "markers", "words"),
    [
        ("640", {}, "is not a mark on a place"),
        ("=12", {}, "is not a mark on a place"),
        ("x/640=12", {}, "is not a mark on a place"),
        ("640=soon", {}, "is not a mark on a place"),
        ("b100=12", {}, "uses no circuit file"),
        ("b100=12", {"b100-1": 135.0}, "markers are: b100-1"),
    ],
)
def test_what_is_no_place(text: str, markers: dict[str, float], words: str) -> None:
    with pytest.raises(SyncviewError, match=words):
        parse_place(text, markers)


@pytest.mark.parametrize("text", ["", "soon", "x=12", "2=", "1:2:3"])
def test_what_is_no_mark(text: str) -> None:
    with pytest.raises(SyncviewError, match="is not a mark"):
        parse_mark(text)


@pytest.mark.parametrize(
    ("text", "seconds"), [("1f", FRAME_S), ("-2f", -2 * FRAME_S), ("+10ms", 0.01), ("-0.02s", -0.02)]
)
def test_nudges_as_written(text: str, seconds: float) -> None:
    assert parse_nudge(text, FRAME_S) == pytest.approx(seconds)


def test_what_is_no_nudge() -> None:
    with pytest.raises(SyncviewError, match="is not a nudge"):
        parse_nudge("a bit", FRAME_S)


def test_a_nudge_shifts_the_clock_and_is_remembered(project: Project) -> None:
    with pytest.raises(ClockError, match="no clock to nudge"):
        nudge_project(project, "1f", FRAME_S)
    clocked = Project(
        project.recording, project.log, clock=SavedClock(ClockMap(5.0, sigma_pivot_s=0.002), True, "sound")
    )
    near = nudge_project(clocked, "-1f", FRAME_S).clock
    assert near is not None
    assert near.clock.offset_s == pytest.approx(5.0 - FRAME_S)
    assert near.sure
    assert "nudged by hand -16.7 ms" in near.basis
    far = nudge_project(clocked, "+500ms", FRAME_S).clock
    assert far is not None
    assert not far.sure
    assert far.usable, "it is the person's word"
    assert "further than the evidence allows" in far.doubts[0]
    unsure = Project(project.recording, project.log, clock=SavedClock(ClockMap(5.0), False, "sound", ("two peaks",)))
    for accept in (False, True):
        shifted = nudge_project(unsure, "1f", FRAME_S, accept=accept).clock
        assert shifted is not None
        assert not shifted.sure
        assert shifted.usable == accept


def test_one_mark_without_sound_is_settled_by_sight(project: Project) -> None:
    mark = Mark(round(TRUTH["lap_starts"][1]["media_s"] * 60) / 60)
    options = AlignOptions(use_sound=False)
    fit = align_project(project, SAMPLE / "p", [mark], options=options).result.fit
    assert fit.sure
    assert fit.clock is not None
    assert error_s(fit.clock) < FRAME_S


def test_a_mark_on_a_known_place_settles_the_clock(project: Project) -> None:
    """The moment at which lap 2 is slowest in the hairpin, at its lap distance."""
    import numpy as np

    from syncview.channels import open_log
    from syncview.clock.log_lap_starts import find_lap_starts
    from syncview.track.distance import build_track

    event = TRUTH["laps"][1]["corners"]["3"]["min_speed"]
    log = open_log(SAMPLE / "session.csv")
    track = build_track(log, find_lap_starts(log).starts_s)
    metres = float(track.traces[2].distance_at(np.array([event["log_s"]]))[0])
    media_s = TRUTH["clock"]["rate"] * event["log_s"] + TRUTH["clock"]["offset_s"]
    options = AlignOptions(use_sound=False, use_picture=False)
    fit = align_project(project, SAMPLE / "p", [Mark(media_s, 2, metres)], options=options).result.fit
    assert fit.sure
    assert fit.clock is not None
    assert error_s(fit.clock) < 0.03


@pytest.fixture
def counted_late(tmp_path: Path) -> Project:
    """The sample with a lap counter that steps 400 m behind the start line, and its circuit file in use."""
    import pandas as pd

    frame = pd.read_csv(SAMPLE / "session.csv")
    distance = next(name for name in frame if str(name).startswith("lap distance"))
    late = (frame[distance] < 400) & (frame["lap"] > frame["lap"].iloc[0])
    frame.loc[late, "lap"] -= 1
    frame.drop(columns=[distance]).to_csv(tmp_path / "late.csv", index=False)
    recording, log = (refer_to(file, tmp_path) for file in (SAMPLE / "session.mp4", tmp_path / "late.csv"))
    return Project(recording, log, circuit=refer_to(SAMPLE / "circuit.toml", tmp_path))


def test_laps_begin_where_every_other_command_has_them_begin(counted_late: Project, tmp_path: Path) -> None:
    path = tmp_path / "p"
    session = session_of(
        counted_late, path, circuit=read_circuit(SAMPLE / "circuit.toml"), circuit_file=SAMPLE / "circuit.toml"
    )
    laps, track = lap_starts_of(counted_late, path, session.log)
    assert track is not None
    timed = session.track.timed
    assert [(s.number, s.log_s) for s in laps.starts[:-1]] == [(lap.number, lap.start_s) for lap in timed]
    assert laps.starts[-1].log_s == timed[-1].end_s
    # The recipe's lap starts are the crossings of the start line, not the counter's steps 400 m on.
    true_s = [s["log_s"] for s in TRUTH["lap_starts"]]
    assert laps.starts_s == pytest.approx(true_s, abs=0.05)
    assert "where laps begin now" in laps.source


@pytest.mark.parametrize("metres", [None, 1000.0])
def test_marks_are_on_the_circuit_files_lap_distance(
    counted_late: Project, tmp_path: Path, metres: float | None
) -> None:
    import numpy as np

    from syncview.channels import open_log
    from syncview.clock.log_lap_starts import find_lap_starts
    from syncview.track.distance import build_track

    clock, start = TRUTH["clock"], TRUTH["lap_starts"][1]
    log_s = start["log_s"]
    if metres is not None:  # by the log that counts at the line
        log = open_log(SAMPLE / "session.csv")
        trace = build_track(log, find_lap_starts(log).starts_s).traces[2]
        log_s = float(trace.log_s_at(np.array([metres]))[0])
    mark = Mark(clock["rate"] * log_s + clock["offset_s"], 2, metres or 0.0)
    options = AlignOptions(use_sound=False, use_picture=False)
    fit = align_project(counted_late, tmp_path / "p", [mark], options=options).result.fit
    assert fit.sure
    assert fit.clock is not None
    assert error_s(fit.clock) < 0.06


def test_the_evidence_is_drawn_and_written_as_data(project: Project, tmp_path: Path) -> None:
    import cv2

    aligned = align_project(project, SAMPLE / "p", [], options=AlignOptions())
    picture, data = save_evidence_files(aligned, tmp_path / "evidence.png", overwrite=False)
    image = cv2.imread(str(picture))
    assert image is not None
    assert min(image.shape[:2]) > 500
    assert image.std() > 20
    loaded = json.loads(data.read_text("utf-8"))
    assert loaded["sure"] is True
    best = loaded["sound"]["candidates"][0]
    assert best["fits"]
    scores = loaded["sound"]["scores"]
    assert scores["offset_s"][scores["score"].index(max(scores["score"]))] == pytest.approx(best["offset_s"], abs=0.2)
    with pytest.raises(SyncviewError, match="exists already"):
        save_evidence_files(aligned, tmp_path / "evidence.png", overwrite=False)
    with pytest.raises(SyncviewError, match=r"\.png, \.pdf or \.svg"):
        save_evidence_files(aligned, tmp_path / "evidence.bmp", overwrite=False)
