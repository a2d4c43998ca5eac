"""Several video hosts read such lists alike (common practice; no standard): ``m:ss title``, whole seconds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.chapters import description
from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError


@pytest.mark.parametrize(
    ("time_ms", "written"),
    # Plain arithmetic, rounded down.
    [
        (0, "0:00"),
        (59_990, "0:59"),
        (75_900, "1:15"),
        (3_599_999, "59:59"),
        (3_600_000, "1:00:00"),
        (36_061_000, "10:01:01"),
    ],
)
def test_times_are_rounded_down(time_ms: int, written: str) -> None:
    assert description.write([Chapter(time_ms, time_ms + 1, "x")]) == f"{written} x\n"


def test_a_title_stays_on_one_line() -> None:
    assert description.write([Chapter(0, 1, "Corner 2:\n Kessel\r\n"), Chapter(1, 2, "0:30 \x00left\ud800")]) == (
        "0:00 Corner 2: Kessel\n0:00 0:30 left\ufffd\n"
    )


@given(
    st.lists(
        st.tuples(st.integers(0, 10**9), st.text(st.characters(exclude_categories=["Cc"]), max_size=20)), max_size=5
    )
)
def test_what_is_written_reads_back(marks: list[tuple[int, str]]) -> None:
    chapters = [Chapter(start_ms, start_ms + 1, f"T{title}") for start_ms, title in marks]
    found = description.read(description.write(chapters))
    assert [start_s for start_s, _ in found] == [start_ms // 1000 for start_ms, _ in marks]
    assert [title.split() for _, title in found] == [f"T{title}".split() for _, title in marks]


def test_prose_around_the_list_is_passed_over() -> None:
    text = "Two laps in the dry.\n\n0:00 Out lap\n1:02:03  Corner 2\n\nThanks to all 3 of you"
    assert description.read(text) == ((0, "Out lap"), (3723, "Corner 2"))


@pytest.mark.parametrize("line", ["1:75 x", "0:00", "1:60:00 x", "1:2:3 x", "0:00x"])
def test_a_line_that_is_meant_as_an_entry_must_be_one(line: str) -> None:
    with pytest.raises(CodecError) as caught:
        description.read(f"0:00 Start\n{line}\n")
    assert caught.value.line == 2


def test_a_chapter_without_title_is_not_written() -> None:
    with pytest.raises(CodecError, match="no title"):
        description.write([Chapter(0, 1, " \n")])
