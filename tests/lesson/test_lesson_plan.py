"""The lesson of the sample as planned: sections, when notes are said, what the coach may change."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from syncview.clock.clock_map import ClockMap
from syncview.lesson.lesson_plan import LessonPlan, plan_lesson
from syncview.lesson.ready_lesson import lesson_captions
from syncview.lesson.session import Session, session_of
from syncview.media.recording import Recording, open_recording
from syncview.media_file import refer_to
from syncview.notes import note as notes_of
from syncview.plan.lesson_choices import ChoiceError, LessonChoices, PinnedPace, checked_choices
from syncview.plan.pace_rules import PlanError
from syncview.project import Project, SavedClock
from syncview.track.circuit_file import read_circuit

SAMPLE = Path(__file__).parents[2] / "sample_media"
CLOCK = SavedClock(ClockMap(-7.3424, 1.0000388), sure=True, basis="test")


@pytest.fixture(scope="module")
def session() -> Session:
    notes = notes_of.add((), 1, lap_distance_m=150.0, text="Brake hard, just past the hundred board, down to second.")
    notes = notes_of.add(notes, 2, lap_distance_m=600.0, text="Be patient here. " * 12)
    notes = notes_of.add(notes, 3, lap_distance_m=1511.0, text="Quay: back on the throttle before the apex.")
    project = Project(
        refer_to(SAMPLE / "session.mp4", SAMPLE), refer_to(SAMPLE / "session.csv", SAMPLE), notes=notes, clock=CLOCK
    )
    return session_of(project, SAMPLE / "p.syncview.json", circuit=read_circuit(SAMPLE / "circuit.toml"))


@pytest.fixture(scope="module")
def recording() -> Recording:
    return open_recording(SAMPLE / "session.mp4")


def planned(session: Session, recording: Recording, **changes: Any) -> LessonPlan:
    notes = changes.pop("notes", session.project.notes)
    project = replace(session.project, notes=notes, lesson=replace(session.project.lesson, **changes))
    return plan_lesson(replace(session, project=project), recording, session.lap(2))


def test_sections_follow_each_other(session: Session, recording: Recording) -> None:
    plan = planned(session, recording)
    assert [section.kind for section in plan.sections] == ["card", "hot lap", "breakdown", "card"]
    assert plan.sections[0].begin_s == 0
    assert all(a.end_s == b.begin_s for a, b in pairwise(plan.sections))
    assert plan.length_s == plan.sections[-1].end_s
    assert plan.frame_count == math.ceil(plan.length_s * 60)
    hot_lap = plan.sections[1].pace
    assert hot_lap is not None
    assert hot_lap.length_s == plan.film.span.end_s - plan.film.span.begin_s
    short = planned(session, recording, intro_s=0.0, closing_s=0.0, hot_lap=False)
    assert [section.kind for section in short.sections] == ["breakdown"]


def test_notes_are_said_at_their_places_one_after_the_other(session: Session, recording: Recording) -> None:
    plan = planned(session, recording)
    assert [item.note.key for item in plan.said] == ["n1", "n2", "n3"]
    assert all(a.end_s <= b.begin_s for a, b in pairwise(plan.said))
    section = plan.breakdown
    assert section.pace is not None
    for item in plan.said:
        arrive = section.begin_s + section.pace.to_lesson_s(item.media_s)
        leave = section.begin_s + section.pace.to_lesson_s(item.media_s, after_hold=True)
        assert arrive - 1 <= item.begin_s <= leave + Fraction(1, 2)  # PaceRules: most_early_s, most_late_s
        assert item.end_s - item.begin_s >= item.speaking_s


def test_corners_with_notes_are_slow_and_others_are_not(session: Session, recording: Recording) -> None:
    plan = planned(session, recording)
    pace = plan.breakdown.pace
    assert pace is not None
    for span in plan.spans:
        inside = Fraction(
            (plan.film.clock.to_media_s(span.begin_log_s) + plan.film.clock.to_media_s(span.end_log_s)) / 2
        )
        speed = pace.span_at(pace.to_lesson_s(inside)).speed
        assert (speed <= Fraction(1, 2)) == (span.corner.number in (1, 3, 9)), span.corner


def test_recorded_lengths_go_before_estimates(session: Session, recording: Recording) -> None:
    voices = {"n1": Fraction(40)}
    plan = plan_lesson(session, recording, session.lap(2), voices_s=voices)
    first = plan.said[0]
    assert (first.speaking_s, first.is_estimate, plan.said[1].is_estimate) == (Fraction(40), False, True)
    assert first.end_s - first.begin_s >= 40
    assert plan.length_s > planned(session, recording).length_s


def test_captions_and_chapters_are_in_lesson_time(session: Session, recording: Recording) -> None:
    plan = planned(session, recording)
    captions = lesson_captions(plan)
    assert captions.unmet == ()
    for item in plan.said:
        first = next(cue for cue in captions.cues if cue.identifier == item.note.key)
        assert abs(first.start_ms - float(item.begin_s) * 1000) <= 1
    assert plan.chapters.chapters[0].start_ms == 0
    assert plan.chapters.chapters[-1].end_ms == int(plan.length_s * 1000)


def test_a_pinned_speed_and_a_pinned_hold_are_kept(session: Session, recording: Recording) -> None:
    plan = planned(session, recording, pinned=(PinnedPace(700.0, 800.0, "1/8"),))
    pace = plan.breakdown.pace
    assert pace is not None
    middle = Fraction(plan.film.media_s_at(750.0))
    assert pace.span_at(pace.to_lesson_s(middle)).speed == Fraction(1, 8)
    held = planned(session, recording, notes=notes_of.hold(session.project.notes, "n3", 5.5))
    pace = held.breakdown.pace
    assert pace is not None
    place = held.said[-1].media_s
    assert pace.to_lesson_s(place, after_hold=True) - pace.to_lesson_s(place) == Fraction(11, 2)


def test_a_note_past_the_lap_is_left_out_and_told(session: Session, recording: Recording) -> None:
    notes = notes_of.add(session.project.notes, 9, lap_distance_m=99_000.0, text="Nowhere.")
    plan = planned(session, recording, notes=notes)
    assert [item.note.key for item in plan.said] == ["n1", "n2", "n3"]
    assert any("n9 lies at 99000 m" in remark for remark in plan.remarks)


def test_a_note_without_words_is_left_out_and_told(session: Session, recording: Recording) -> None:
    plan = planned(session, recording, notes=notes_of.add(session.project.notes, 8, lap_distance_m=900.0, text="…"))
    assert [item.note.key for item in plan.said] == ["n1", "n2", "n3"]
    assert any("n8 has no words yet" in remark for remark in plan.remarks)


def test_no_notes_still_make_a_lesson(session: Session, recording: Recording) -> None:
    plan = planned(session, recording, notes=())
    assert plan.said == ()
    assert plan.breakdown.length_s == plan.sections[1].length_s


def test_words_that_cannot_fit_are_named(session: Session, recording: Recording) -> None:
    notes = notes_of.add((), 1, lap_distance_m=600.0, text="Be patient here. " * 200)
    notes = notes_of.add(notes, 2, lap_distance_m=610.0, text="Wait.")
    with pytest.raises(PlanError, match="n1"):
        planned(session, recording, notes=notes)


@pytest.mark.parametrize(
    ("choices", "words"),
    [
        ({"slowest": "fast"}, "not a speed"),
        ({"slowest": "2"}, "not between"),
        ({"slowest": "1/0"}, "not a speed"),
        ({"slowest": "1/2", "corner_speed": "1/3"}, "slower than the slowest"),
        ({"slowest": "1/2", "speeds": ("1/4",)}, "slower than the slowest"),
        ({"longest_hold_s": -1.0}, "longest hold"),
        ({"words_per_minute": float("nan")}, "words per minute"),
        ({"title": "a\nb"}, "one line"),
        ({"pinned": (PinnedPace(200.0, 100.0, "1/2"),)}, "no stretch"),
    ],
)
def test_choices_that_cannot_be_are_refused(choices: dict[str, Any], words: str) -> None:
    with pytest.raises(ChoiceError, match=words):
        checked_choices(LessonChoices(**choices))
