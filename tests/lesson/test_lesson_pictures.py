"""The lesson's pictures: every frame within half a frame step of its clock, cards and drawings at their times."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import av
import numpy as np
import pytest

from syncview.gauges.drawing import Drawing
from syncview.gauges.title_card import TitleCard
from syncview.gauges.values import GaugeValues
from syncview.lesson.film_picture import PanelOptions
from syncview.lesson.lesson_pictures import LessonLook, LessonPictures
from syncview.lesson.lesson_plan import LessonPlan, SaidAt, Section
from syncview.media.recording import Recording, open_recording
from syncview.notes.note import Note
from syncview.plan.chapter_rules import ChapterPlan
from syncview.plan.pace_plan import PacePlan, PaceSpan
from tests.media_samples import make_clip, read_bar_code

PACES = (
    (Fraction(0), Fraction(1), Fraction(1)),
    (Fraction(1), Fraction(3, 2), Fraction(2)),
    (Fraction(3, 2), Fraction(3, 2), Fraction(7, 5)),
    (Fraction(3, 2), Fraction(31, 15), Fraction(17, 10)),
    (Fraction(31, 15), Fraction(5, 2), Fraction(13, 30)),
)


def steady(folder: Path) -> Recording:
    return open_recording(make_clip(folder / "steady.mp4", frame_count=90))


def variable(folder: Path) -> Recording:
    steps = np.random.default_rng(5).integers(700, 1300, 89)
    pts = [0, *np.cumsum(steps).tolist()]
    return open_recording(make_clip(folder / "variable.mp4", pts=pts, time_base=Fraction(1, 30000)))


def plan_of(recording: Recording, *, drawings: tuple[Drawing, ...] = ()) -> LessonPlan:
    spans = tuple(PaceSpan(begin, end, length, "test") for begin, end, length in PACES)
    slow = PacePlan(spans)
    card, full = TitleCard("Ostrel Holm"), PacePlan.at_full_speed(Fraction(0), Fraction(5, 2))
    sections = (
        Section("card", "Card", Fraction(0), Fraction(1, 2), card=card),
        Section("hot lap", "Lap", Fraction(1, 2), full.length_s, pace=full),
        Section("breakdown", "Slow", Fraction(3), slow.length_s, pace=slow),
        Section("card", "End", 3 + slow.length_s, Fraction(1, 3), card=card),
    )
    said: tuple[SaidAt, ...] = ()
    if drawings:
        held = 3 + slow.to_lesson_s(Fraction(3, 2))
        note = Note("n1", 10.0, "here", drawings=drawings)
        said = (SaidAt(note, Fraction(3, 2), held, held + 1, Fraction(1), is_estimate=True),)
    film = cast("Any", SimpleNamespace(recording=recording))
    return LessonPlan(film, (), sections, said, ChapterPlan((), ()), ())


def made(
    plan: LessonPlan, look: LessonLook, begin: int = 0, end: int | None = None
) -> tuple[list[av.VideoFrame], list[tuple[Fraction, Fraction]]]:
    asked: list[tuple[Fraction, Fraction]] = []

    def values_at(media_s: Fraction, lesson_s: Fraction) -> GaugeValues:
        asked.append((media_s, lesson_s))
        return GaugeValues(lap_time_s=float(media_s))

    return list(LessonPictures(plan, look, values_at).frames(begin, end)), asked


@pytest.mark.parametrize("make", [steady, variable])
@pytest.mark.parametrize("method", ["repeat", "auto"])
def test_every_picture_is_within_half_a_frame_of_its_clock(tmp_path: Path, make: Any, method: Any) -> None:
    recording = make(tmp_path)
    plan = plan_of(recording)
    # The bar code is in the upper half; only the see-saw, bottom right, is drawn.
    panel = PanelOptions(choice=replace(PanelOptions().choice, lap_time=False, corner=False, map=False))
    look = LessonLook(slow_pictures="repeat" if method == "repeat" else "auto", panel=panel)
    frames, asked = made(plan, look)
    assert len(frames) == plan.frame_count
    index, first = recording.frames, math.ceil(plan.rate / 2)  # after half a second of card
    shown = {number / plan.rate: frame for number, frame in enumerate(frames)}
    assert [lesson_s for _, lesson_s in asked] == [n / plan.rate for n in range(first, first + len(asked))]
    for media_s, lesson_s in asked:
        section = plan.section_at(lesson_s)
        assert section.to_media_s(lesson_s) == media_s
        pace = section.pace
        assert pace is not None
        if method == "auto" and pace.span_at(lesson_s - section.begin_s).speed not in (0, 1):
            continue  # mixed from two frames: no single bar code
        code = read_bar_code(shown[lesson_s])
        nearest = min(range(len(index)), key=lambda number: abs(index.media_s(number) - media_s))
        assert abs(index.media_s(code) - media_s) == abs(index.media_s(nearest) - media_s)


def test_a_full_speed_section_shows_each_frame_once(tmp_path: Path) -> None:
    frames, _ = made(plan_of(steady(tmp_path)), LessonLook(panel=None))
    assert [read_bar_code(frame) for frame in frames[15:90]] == list(range(75))


def test_going_on_later_gives_the_same_pictures(tmp_path: Path) -> None:
    plan, look = plan_of(steady(tmp_path)), LessonLook(slow_pictures="blend", panel=PanelOptions())
    whole, _ = made(plan, look)
    for begin in (1, 40, 130, len(whole) - 2):
        rest, _ = made(plan, look, begin, min(begin + 12, len(whole)))
        for number, frame in enumerate(rest, begin):
            assert np.array_equal(frame.to_ndarray(), whole[number].to_ndarray()), number


def test_drawings_are_seen_in_the_hold_and_only_there(tmp_path: Path) -> None:
    recording = steady(tmp_path)
    light = Drawing("spotlight", (0.4, 0.4), (0.6, 0.6))
    plain, _ = made(plan_of(recording), LessonLook(panel=None))
    plan = plan_of(recording, drawings=(light,))
    drawn, _ = made(plan, LessonLook(panel=None))
    differ = {n for n, (a, b) in enumerate(zip(plain, drawn, strict=True)) if (a.to_ndarray() != b.to_ndarray()).any()}
    begin = 3 + Fraction(1) + 2  # the hold is the third span of the breakdown
    wanted = {n for n in range(plan.frame_count) if begin <= n / plan.rate < begin + Fraction(7, 5)}
    assert differ == wanted


@pytest.mark.parametrize(("shape", "size"), [("tall", (100, 180)), ("square", (180, 180)), ("as recorded", (320, 180))])
def test_shapes(tmp_path: Path, shape: str, size: tuple[int, int]) -> None:
    plan = plan_of(steady(tmp_path), drawings=(Drawing("arrow", (0.1, 0.1), (0.5, 0.5), "here"),))
    pictures = LessonPictures(plan, LessonLook(shape=shape), lambda _m, _l: GaugeValues())
    assert (pictures.shape.width, pictures.shape.height) == size
    assert {(frame.width, frame.height) for frame in pictures.frames()} == {size}


def test_ten_bits_and_turned_pictures_keep_cards_and_recording_alike(tmp_path: Path) -> None:
    clip = make_clip(
        tmp_path / "deep.mp4", frame_count=90, pixel_format="yuv420p10le", colour=(9, 1, 9, 14), rotation_ccw_deg=90
    )
    plan = plan_of(open_recording(clip))
    pictures = LessonPictures(plan, LessonLook(), lambda _m, _l: GaugeValues())
    formats = {(frame.format.name, frame.width, frame.height) for frame in pictures.frames()}
    assert formats == {("yuv420p10le", 180, 320)}
