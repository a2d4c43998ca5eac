"""Pins by lap distance, and what the strip shows of a real plan."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.plan import pins
from syncview.desk.plan.contents import contents_of
from syncview.desk.plan.pieces import lesson_at, media_at
from syncview.desk.plan.values import exact_speed_text
from syncview.errors import SyncviewError
from syncview.media_file import MediaFile
from syncview.notes.note import add
from syncview.plan.lesson_choices import ChoiceError, LessonChoices, PinnedPace
from syncview.project import Project

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.state import DeskState

FILE = MediaFile("a", 1, "x")
EMPTY = Project(recording=FILE, log=FILE)

stretches = st.tuples(st.integers(0, 200), st.integers(1, 50)).map(lambda at: (float(at[0]), float(at[0] + at[1])))
speeds = st.sampled_from([Fraction(1, 4), Fraction(1, 2), Fraction(37, 100), Fraction(1)])


def speed_at(project: Project, at_m: float) -> str | None:
    return next((pin.speed for pin in project.lesson.pinned if pin.begin_m <= at_m < pin.end_m), None)


@given(st.lists(st.tuples(stretches, speeds), max_size=12))
def test_the_last_pin_rules_its_stretch_and_none_overlap(made: list[tuple[tuple[float, float], Fraction]]) -> None:
    project = EMPTY
    for (begin_m, end_m), speed in made:
        before = project
        project = pins.with_speed(project, begin_m, end_m, speed)
        for at_m in (begin_m + 0.25, end_m - 0.25):
            assert speed_at(project, at_m) == exact_speed_text(speed)
        for at_m in (begin_m - 0.75, end_m + 0.75):
            assert speed_at(project, at_m) == speed_at(before, at_m)
    edges = [(pin.begin_m, pin.end_m) for pin in project.lesson.pinned]
    assert all(end <= begin for (_, end), (begin, _) in itertools.pairwise(edges))


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ChoiceError):
        pins.with_speed(EMPTY, 100, 100, Fraction(1, 2))
    with pytest.raises(SyncviewError, match="no note"):
        pins.with_hold(EMPTY, "n1", Fraction(2))


def planned(state: DeskState, qtbot: QtBot, **choices: object) -> DeskState:
    assert state.project is not None
    notes = add((), 1, lap_distance_m=180.0, text="Brake firmly at the board and wait for the car to turn, then go.")
    notes = add(notes, 2, lap_distance_m=640.0, text="Late apex.")
    lesson = replace(LessonChoices(), **choices)  # type: ignore[arg-type]
    changed = replace(state.project, notes=notes, notes_made=2, lesson=lesson)
    with qtbot.waitSignal(state.lessonReady, timeout=30_000):
        state.edit("notes", changed)
    return state


def test_a_pinned_piece_gets_its_speed_and_can_be_freed(desk_state: DeskState, qtbot: QtBot) -> None:
    state = planned(desk_state, qtbot)
    assert state.lesson is not None
    assert state.project is not None
    contents = contents_of(state.lesson, state.project, state.lap_distance_m)
    free = [piece for piece in contents.pieces if piece.can_be_set and piece.kind == "play"]
    assert free
    for piece in (free[0], free[-1]):  # with the seconds before the lap, and with those after it
        assert state.project is not None
        with qtbot.waitSignal(state.lessonReady, timeout=30_000):
            state.edit("pin", pins.pinned(state.project, piece, Fraction(1, 3)))
        contents = contents_of(state.lesson, state.project, state.lap_distance_m)
        middle = (piece.begin_media_s + piece.end_media_s) / 2
        found = next(one for one in contents.pieces if one.in_breakdown and one.begin_media_s <= middle
                     < one.end_media_s)  # fmt: skip
        assert (found.speed, found.pinned, found.why) == (Fraction(1, 3), True, "1/3 speed: set by the coach")
        assert pins.freed(state.project, found).lesson.pinned == ()
        state.edit("free", pins.freed(state.project, found))


def test_a_pin_between_notes_leaves_no_slivers(desk_state: DeskState, qtbot: QtBot) -> None:
    state = planned(desk_state, qtbot)
    assert state.lesson is not None
    assert state.project is not None
    changed = state.project
    for number, piece in enumerate(contents_of(state.lesson, state.project, state.lap_distance_m).pieces):
        if piece.kind == "play" and piece.can_be_set:
            changed = pins.pinned(changed, piece, Fraction(1, 5 + number % 2))
    with qtbot.waitSignal(state.lessonReady, timeout=30_000):
        state.edit("pin", changed)
    contents = contents_of(state.lesson, state.project, state.lap_distance_m)
    lengths = [one.end_media_s - one.begin_media_s for one in contents.pieces if one.kind == "play"]
    assert min(lengths) > Fraction(1, 100)
    inside = [one for one in contents.pieces if one.kind == "play" and one.begin_m is not None]
    assert {one.speed for one in inside} == {Fraction(1, 5), Fraction(1, 6)}


def test_a_hold_of_nothing_is_shown_and_can_be_freed(desk_state: DeskState, qtbot: QtBot) -> None:
    state = planned(desk_state, qtbot)
    assert state.project is not None
    with qtbot.waitSignal(state.lessonReady, timeout=30_000):
        state.edit("hold", pins.with_hold(state.project, "n2", Fraction(0)))
    assert state.lesson is not None
    holds = [one for one in contents_of(state.lesson, state.project, state.lap_distance_m).pieces if one.note_key]
    held = next(one for one in holds if one.note_key == "n2")
    assert held.length_s == 0
    assert held.pinned
    assert pins.freed(state.project, held).notes[1].hold_s is None
    assert pins.all_freed(state.project).notes[1].hold_s is None


def test_both_lap_sections_show_the_playhead(desk_state: DeskState, qtbot: QtBot) -> None:
    state = planned(desk_state, qtbot)
    assert state.lesson is not None
    plan = state.lesson.plan
    media_s = state.media_s_at(640.0)
    assert media_s is not None
    at_s = lesson_at(plan, media_s)
    assert at_s is not None
    assert plan.section_at(at_s).kind == "breakdown"
    assert media_at(plan, at_s) == media_s
    assert media_at(plan, Fraction(0)) is None, "a card"
    assert lesson_at(plan, Fraction(0)) is None
    numbers = [bar.words for bar in contents_of(state.lesson, state.project, state.lap_distance_m).corners]  # type: ignore[arg-type]
    assert numbers == [str(number) for number in range(1, 11)] * 2


def test_pins_of_the_command_line_are_shown(desk_state: DeskState, qtbot: QtBot) -> None:
    state = planned(desk_state, qtbot, pinned=(PinnedPace(100.0, 150.0, "25 %"),))
    assert state.lesson is not None
    assert state.project is not None
    contents = contents_of(state.lesson, state.project, state.lap_distance_m)
    assert [piece.speed for piece in contents.pieces if piece.pinned] == [Fraction(1, 4)]
