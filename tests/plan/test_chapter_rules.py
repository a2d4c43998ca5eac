"""The rules of description lists are common practice of several hosts; no standard."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.errors import OutputError
from syncview.plan.chapter_rules import fit_chapters, join_titles
from syncview_codecs.chapters import description
from syncview_codecs.chapters.chapter import Chapter

chapters = st.lists(
    st.builds(
        lambda start_ms, length_ms, number: Chapter(start_ms, start_ms + length_ms, f"Corner {number}"),
        st.integers(0, 120_000),
        st.integers(1, 40_000),
        st.integers(1, 99),
    ),
    max_size=12,
)


def marks(*marks: tuple[int, str], film_ms: int) -> list[Chapter]:
    ends = [*(start_ms for start_ms, _ in marks[1:]), film_ms]
    return [Chapter(start_ms, end_ms, title) for (start_ms, title), end_ms in zip(marks, ends, strict=True)]


def test_a_list_that_keeps_the_rules_is_left_alone() -> None:
    good = marks((0, "Hot lap"), (92_400, "Corner 1"), (102_999, "Corner 2"), film_ms=113_000)
    plan = fit_chapters(good, film_ms=113_000)
    assert (plan.chapters, plan.notes) == (tuple(good), ())


def test_lengths_are_judged_after_rounding_down() -> None:
    # 10.999 s -> 20.000 s is 9.001 s long, but 0:10 and 0:20 in the list; 10.000 -> 19.999 is 0:10 and 0:19.
    kept = fit_chapters(marks((0, "a"), (10_999, "b"), (20_000, "c"), film_ms=30_000), film_ms=30_000)
    assert [chapter.title for chapter in kept.chapters] == ["a", "b", "c"]
    merged = fit_chapters(marks((0, "a"), (10_000, "b"), (19_999, "c"), film_ms=30_000), film_ms=30_000)
    assert [chapter.title for chapter in merged.chapters] == ["a", "b · c"]


def test_short_neighbours_are_merged_and_said() -> None:
    short = marks(
        (0, "Hot lap"), (60_000, "Corner 2: Kessel"), (64_000, "Corner 3: Mill"), (80_000, "Corner 4"), (95_500, "End"),
        film_ms=100_000,
    )  # fmt: skip
    plan = fit_chapters(short, film_ms=100_000)
    assert plan.chapters == (
        Chapter(0, 60_000, "Hot lap"),
        Chapter(60_000, 80_000, "Corners 2–3: Kessel, Mill"),
        Chapter(80_000, 100_000, "Corner 4 · End"),
    )
    assert len(plan.notes) == 2
    assert "“Corner 2: Kessel” (1:00), “Corner 3: Mill” (1:04)" in plan.notes[0]


def test_a_late_first_chapter_is_stretched_or_gets_an_opening() -> None:
    stretched = fit_chapters(marks((4000, "a"), (20_000, "b"), (40_000, "c"), film_ms=60_000), film_ms=60_000)
    assert stretched.chapters[0] == Chapter(0, 20_000, "a")
    assert "instead of 0:04" in stretched.notes[0]
    opened = fit_chapters(marks((10_000, "a"), (20_000, "b"), film_ms=60_000), film_ms=60_000, opening_title="Greeting")
    assert opened.chapters[0] == Chapter(0, 10_000, "Greeting")
    assert len(opened.notes) == 1


def test_holes_overlaps_order_and_strays_are_said() -> None:
    mixed = [
        Chapter(20_000, 45_000, "b"),
        Chapter(0, 15_000, "a"),
        Chapter(40_000, 60_000, "c"),
        Chapter(60_000, 70_000, "d"),
    ]
    plan = fit_chapters(mixed, film_ms=60_000)
    assert plan.chapters == (Chapter(0, 20_000, "a"), Chapter(20_000, 40_000, "b"), Chapter(40_000, 60_000, "c"))
    assert len(plan.notes) == 4
    for words in ("in order", "“a” runs on", "“b” is cut", "“d” was left out"):
        assert any(words in note for note in plan.notes), words


def test_what_hosts_or_mp4_ignore_is_said() -> None:
    two = fit_chapters(marks((0, "a"), (30_000, "b"), film_ms=60_000), film_ms=60_000)
    assert "ignore this list" in two.notes[-1]
    tiny = fit_chapters([Chapter(0, 5000, "a")], film_ms=5000)
    assert any("shorter than the 10 s" in note for note in tiny.notes)
    many = [Chapter(start_ms, start_ms + 10_000, "é" * 128) for start_ms in range(0, 2_560_000, 10_000)]
    notes = fit_chapters(many, film_ms=2_560_000).notes
    assert "first 255 of these 256" in notes[0]
    assert sum("255 bytes" in note for note in notes) == 256  # 128 letters of two bytes are 256 bytes


def test_no_chapters_and_no_film() -> None:
    assert fit_chapters([], film_ms=60_000).chapters == ()
    with pytest.raises(OutputError):
        fit_chapters([], film_ms=0)


@pytest.mark.parametrize(
    ("titles", "joined"),
    [
        (["Corner 2", "Corner 3", "Corner 4"], "Corners 2–4"),
        (["Corner 2: A", "Corner 3"], "Corner 2: A · Corner 3"),
        (["Corner 2", "Corner 4"], "Corner 2 · Corner 4"),
        (["Lap 1", "Corner 2"], "Lap 1 · Corner 2"),
        (["Kurve 1", "Kurve 2"], "Kurve 1–2"),
    ],
)
def test_joined_titles_lose_nothing(titles: list[str], joined: str) -> None:
    assert join_titles(titles) == joined


@given(chapters, st.integers(1, 150_000), st.integers(1, 20_000))
def test_every_plan_keeps_the_rules_or_says_so(chapter_list: list[Chapter], film_ms: int, least_ms: int) -> None:
    plan = fit_chapters(chapter_list, film_ms=film_ms, least_ms=least_ms)
    inside = [chapter for chapter in chapter_list if chapter.start_ms < film_ms]
    assert bool(plan.chapters) == bool(inside)
    if not inside:
        return
    starts = [chapter.start_ms for chapter in plan.chapters]
    ends = [chapter.end_ms for chapter in plan.chapters]
    assert starts[0] == 0
    assert [*starts[1:], film_ms] == ends
    listed = [start_s for start_s, _ in description.read(description.write(plan.chapters))]
    lengths_s = [after - before for before, after in zip(listed, [*listed[1:], film_ms // 1000], strict=True)]
    if len(listed) > 1:
        assert min(lengths_s) * 1000 >= least_ms
    told = any("ignore this list" in note for note in plan.notes)
    assert told == (len(listed) < 3)
    said = " ".join([*(chapter.title for chapter in plan.chapters), *plan.notes])
    assert all(chapter.title in said for chapter in chapter_list)
    assert fit_chapters(plan.chapters, film_ms=film_ms, least_ms=least_ms).chapters == plan.chapters
