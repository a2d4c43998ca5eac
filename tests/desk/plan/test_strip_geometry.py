"""The strip without Qt: pixels and lesson time, rows, values, and what lies under the pointer."""

from __future__ import annotations

import itertools
from fractions import Fraction
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.plan.hits import REACH_PX, Hit, hit
from syncview.desk.plan.pieces import Piece, piece_at, steps
from syncview.desk.plan.rows import needed_px, rows_of
from syncview.desk.plan.running import Running
from syncview.desk.plan.scale import Scale
from syncview.desk.plan.values import clock_text, exact_speed_text, next_speed, snapped_hold, snapped_speed, speed_text
from syncview.plan.lesson_choices import SLOWEST_OF_ALL, speed_of

lengths = st.floats(1, 36_000)


@st.composite
def scales(draw: st.DrawFn) -> Scale:
    length_s = draw(lengths)
    view_s = draw(st.floats(min(0.5, length_s), length_s))
    begin_s = draw(st.floats(0, length_s - view_s))
    return Scale(draw(st.floats(0, 200)), draw(st.floats(50, 4000)), begin_s, view_s, length_s)


@given(scales(), st.floats(0, 1))
def test_pixels_and_back(scale: Scale, share: float) -> None:
    lesson_s = scale.begin_s + share * scale.view_s
    assert scale.lesson_s(scale.x(lesson_s)) == pytest.approx(lesson_s, abs=1e-6)
    assert scale.x(scale.begin_s) == pytest.approx(scale.left_px)


@given(scales(), st.floats(0.01, 100), st.floats(0, 1))
def test_zooming_stays_in_the_lesson_and_keeps_the_moment(scale: Scale, factor: float, share: float) -> None:
    at_px = scale.left_px + share * scale.width_px
    zoomed = scale.zoomed(factor, at_px)
    assert zoomed.begin_s >= 0
    assert zoomed.end_s <= scale.length_s + 1e-6
    if zoomed.begin_s > 0 and zoomed.end_s < scale.length_s - 1e-6:
        assert zoomed.lesson_s(at_px) == pytest.approx(scale.lesson_s(at_px), abs=1e-6)


@given(scales(), st.floats(-10_000, 10_000))
def test_panning_stays_in_the_lesson(scale: Scale, by_px: float) -> None:
    panned = scale.panned(by_px)
    assert panned.view_s == scale.view_s
    assert 0 <= panned.begin_s <= max(0.0, scale.length_s - scale.view_s)


@given(scales(), lengths)
def test_a_view_of_the_whole_stays_one(scale: Scale, length_s: float) -> None:
    assert scale.fitted().for_length(length_s).view_s == length_s
    other = scale.for_length(length_s)
    assert other.begin_s >= 0
    assert other.end_s <= length_s + 1e-6


@given(scales())
def test_ticks_are_in_view_and_apart(scale: Scale) -> None:
    ticks = scale.ticks()
    assert all(scale.begin_s - 1e-6 <= tick <= scale.end_s + 1e-6 for tick in ticks)
    pixels = [scale.x(tick) for tick in ticks]
    assert all(after - before >= 69.99 for before, after in itertools.pairwise(pixels))


@given(scales(), st.floats(0, 1), st.floats(0, 1))
def test_showing_a_stretch(scale: Scale, one: float, other: float) -> None:
    begin_s, end_s = sorted((one * scale.length_s, other * scale.length_s))
    shown = scale.showing(begin_s, end_s)
    assert shown.begin_s <= begin_s + 1e-6 <= shown.end_s + 2e-6
    if end_s - begin_s <= scale.view_s:
        assert end_s <= shown.end_s + 1e-6


@given(st.floats(-1, 2))
def test_dragged_speeds_can_be_pinned(share: float) -> None:
    speed = snapped_speed(share)
    assert SLOWEST_OF_ALL <= speed <= 1
    assert abs(float(speed) - min(max(share, 1 / 16), 1)) <= 1 / 64 + 0.005
    assert speed_of(exact_speed_text(speed)) == speed


@given(st.fractions(SLOWEST_OF_ALL, 1))
def test_no_pin_is_rounded(speed: Fraction) -> None:
    assert speed_of(exact_speed_text(speed)) == speed
    shown = speed_text(speed)
    assert abs(Fraction(shown) - speed) <= Fraction(1, 200)
    assert len(shown) <= 4


def test_plain_speeds_attract() -> None:
    assert snapped_speed(0.34) == Fraction(1, 3)
    assert snapped_speed(0.49) == Fraction(1, 2)
    assert snapped_speed(0.45) == Fraction(45, 100)
    assert next_speed(Fraction(1, 2), 1) == Fraction(3, 5)
    assert next_speed(Fraction(45, 100), -1) == Fraction(2, 5)
    assert next_speed(Fraction(1), 3) == 1
    assert next_speed(Fraction(1, 16), -1) == Fraction(1, 16)


@given(st.floats(-1000, 1000))
def test_dragged_holds(length_s: float) -> None:
    held = snapped_hold(length_s)
    assert 0 <= held <= 120
    assert (held * 10).denominator == 1


def test_clock() -> None:
    assert clock_text(Fraction("83.44")) == "1:23.4"
    assert clock_text(59.97) == "1:00.0"


@given(st.floats(50, 2000), st.floats(8, 40), st.floats(0, 1))
def test_rows_follow_each_other(height_px: float, text_px: float, share: float) -> None:
    rows = rows_of(height_px, text_px)
    in_order = [rows.axis, rows.sections, rows.speeds, rows.corners, rows.said, rows.captions]
    assert all(above.bottom < below.top for above, below in itertools.pairwise(in_order))
    if height_px >= needed_px(text_px):
        assert rows.captions.bottom <= height_px
    assert rows.speed_at(rows.speed_y(share)) == pytest.approx(share, abs=1e-9)


def piece(kind: Literal["play", "hold"], begin: float, end: float, speed: float = 0.0, **more: object) -> Piece:
    facts: dict[str, object] = {"in_breakdown": True, "pinned": False, "begin_m": 10.0, "end_m": 20.0, **more}
    return Piece(kind, Fraction(begin), Fraction(end), Fraction(begin), Fraction(begin if kind == "hold" else end),
                 Fraction(speed), "because", **facts)  # type: ignore[arg-type]  # fmt: skip


PIECES = (
    piece("play", 0, 10, 1.0, in_breakdown=False),
    piece("play", 10, 20, 0.5),
    piece("hold", 20, 24, note_key="n1"),
    piece("play", 24, 30, 1.0),
    piece("hold", 30, 30, note_key="n2", pinned=True),
    piece("play", 30, 40, 0.25, begin_m=None, end_m=None),
    piece("hold", 40, 42),
)
SCALE = Scale(50, 420, 0, 42, 42)
ROWS = rows_of(200, 12)


def test_edges_and_pieces_are_hit() -> None:
    middle = (ROWS.speeds.top + ROWS.speeds.bottom) / 2
    assert hit(PIECES, SCALE, ROWS, SCALE.x(15), ROWS.speed_y(0.5) + 3) == Hit("speed edge", 1)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(15), ROWS.speeds.bottom - 2) == Hit("piece", 1)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(24) + REACH_PX - 1, middle) == Hit("hold edge", 2)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(22), middle) == Hit("piece", 2)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(30) - 1, middle) == Hit("hold edge", 4), "a hold of nothing can be taken"
    assert hit(PIECES, SCALE, ROWS, SCALE.x(15), ROWS.said.top + 1) == Hit("ground")
    assert hit(PIECES, SCALE, ROWS, 10, middle) == Hit("ground")


def test_what_cannot_be_set_has_no_edges() -> None:
    assert hit(PIECES, SCALE, ROWS, SCALE.x(5), ROWS.speed_y(1)) == Hit("piece", 0)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(35), ROWS.speed_y(0.25)) == Hit("piece", 5)
    assert hit(PIECES, SCALE, ROWS, SCALE.x(42), ROWS.speeds.bottom - 2).part != "hold edge"


@given(st.floats(0, 41.99))
def test_the_piece_on_screen(lesson_s: float) -> None:
    number = piece_at(PIECES, lesson_s)
    assert number is not None
    assert PIECES[number].begin_s <= lesson_s < PIECES[number].end_s


def test_keys_step_through_the_breakdown() -> None:
    assert steps(PIECES) == [1, 2, 3, 4, 5, 6]
    assert piece_at(PIECES, 42.0) is None


@given(st.fractions(0, 100), st.floats(0, 1000))
def test_the_preview_runs_in_real_time(begin_s: Fraction, passed_s: float) -> None:
    running = Running(begin_s, 1000.0, Fraction(100))
    assert float(running.lesson_s(1000.0 + passed_s)) == pytest.approx(min(float(begin_s) + passed_s, 100), abs=1e-5)
    assert running.lesson_s(999.0) == begin_s
