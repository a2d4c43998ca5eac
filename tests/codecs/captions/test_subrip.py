"""SubRip has no standard; the format's rules are common practice. Exports are read with srt and pysubs2."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pysubs2
import pytest
import srt
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.captions import subrip
from syncview_codecs.captions.cue import Cue, Skipped
from syncview_codecs.captions.plain_text import text_lines
from syncview_codecs.errors import CodecError

AWKWARD = "Gear 4 --> 3 & <b>brake</b>\n\n  \n100 m\x00\x07 board\x0blate\n\u202bבלום מאוחר\u202c 🏁\r\n7"
AWKWARD_TEXT = "Gear 4 → 3 & <b>brake</b> 100 m board late \u202bבלום מאוחר\u202c 🏁 7"

texts = st.text(max_size=60).filter(lambda text: bool(text_lines(text)))
cues = st.builds(
    lambda start_ms, length_ms, text: Cue(start_ms, start_ms + length_ms, text),
    st.integers(0, 360_000_000),
    st.integers(1, 20_000),
    texts,
)


def words(text: str) -> list[str]:
    return " ".join(text_lines(text)).replace("-->", "→").split()


def milliseconds(time: datetime.timedelta) -> int:
    return time // datetime.timedelta(milliseconds=1)


def test_an_entry_is_counter_times_text_and_blank_line() -> None:
    # Common practice: hours always, comma before three decimals, counters from 1, LF, no mark at the start.
    text = subrip.write([Cue(3_723_456, 3_725_000, "second"), Cue(0, 59_999, "first\nline")])
    assert text == ("1\n00:00:00,000 --> 00:00:59,999\nfirst\nline\n\n2\n01:02:03,456 --> 01:02:05,000\nsecond\n")


def test_awkward_text_keeps_every_word_for_srt_and_pysubs2(tmp_path: Path) -> None:
    text = subrip.write([Cue(1000, 2500, AWKWARD), Cue(2500, 4000, "after")])
    assert [item.content.split() for item in srt.parse(text)] == [AWKWARD_TEXT.split(), ["after"]]
    path = tmp_path / "awkward.srt"
    path.write_text(text, encoding="utf-8")
    assert [(event.start, event.end) for event in pysubs2.load(str(path))] == [(1000, 2500), (2500, 4000)]


@given(st.lists(cues, max_size=5))
def test_srt_reads_back_times_and_words_of_any_text(cue_list: list[Cue]) -> None:
    expected = sorted(cue_list, key=lambda cue: cue.start_ms)
    found = list(srt.parse(subrip.write(cue_list)))
    assert [item.index for item in found] == list(range(1, len(expected) + 1))
    assert [(milliseconds(item.start), milliseconds(item.end)) for item in found] == [
        (cue.start_ms, cue.end_ms) for cue in expected
    ]
    assert [item.content.split() for item in found] == [words(cue.text) for cue in expected]


@given(st.lists(cues, min_size=1, max_size=5), st.sampled_from(["\n", "\r\n", "\r"]), st.sampled_from(["", "\ufeff"]))
def test_own_reader_gives_back_what_was_written(cue_list: list[Cue], line_end: str, mark: str) -> None:
    plain = [Cue(cue.start_ms, cue.end_ms, re.sub(r"[<{]", "(", cue.text)) for cue in cue_list]  # tags are styling
    found = subrip.read(mark + subrip.write(plain).replace("\n", line_end))
    expected = sorted(plain, key=lambda cue: cue.start_ms)
    assert [(cue.start_ms, cue.end_ms) for cue in found.cues] == [(cue.start_ms, cue.end_ms) for cue in expected]
    assert [cue.text.split() for cue in found.cues] == [words(cue.text) for cue in expected]
    assert found.skipped == ()


@given(st.text(max_size=200) | st.from_regex(r"(\d\n)?\d\d:\d\d,\d+ --> [\d:,.]{5,9}\n.{0,9}\n"))
def test_any_text_reads_or_gives_a_clear_error(text: str) -> None:
    if text.strip("\ufeff \n") and subrip.sniff(text):
        found = subrip.read(text)
        assert found.cues or found.skipped
    else:
        with pytest.raises(CodecError, match=r"^x\.srt: "):
            subrip.read(text, name="x.srt")


@given(st.lists(cues, min_size=1, max_size=4))
def test_the_srt_library_writes_what_the_reader_reads(cue_list: list[Cue]) -> None:
    entries = [
        srt.Subtitle(
            index,
            datetime.timedelta(milliseconds=cue.start_ms),
            datetime.timedelta(milliseconds=cue.end_ms),
            f"turn {index}",
        )
        for index, cue in enumerate(cue_list, start=1)
    ]
    found = subrip.read(srt.compose(entries))
    times = sorted((cue.start_ms, cue.end_ms) for cue in cue_list)
    assert sorted((cue.start_ms, cue.end_ms) for cue in found.cues) == times


def test_habits_of_other_programs_are_tolerated() -> None:
    text = (
        "00:00:05.000 --> 00:00:06.000\nno counter, points\n\n"
        "2\n01:02,500 --> 01:03,000 X1:100 X2:200 Y1:300 Y2:400\n<i>no hours</i>, <b2> stays\n"
        "3\n00:00:01,000 --> 00:00:05,500\nno blank line before; overlaps\n\nblank line inside\n"
        "100\n"
        "00:00:08,000 --> 00:00:09,000\n{\\an8}the 100 above is text\n"
    )
    found = subrip.read(text)
    assert found.cues == (
        Cue(1000, 5500, "no blank line before; overlaps\nblank line inside\n100", "3"),
        Cue(5000, 6000, "no counter, points"),
        Cue(8000, 9000, "the 100 above is text"),
        Cue(62_500, 63_000, "no hours, <b2> stays", "2"),
    )
    assert found.skipped == ()
    assert len(found.warnings) == 3  # order, positions, styling


@pytest.mark.parametrize(
    ("entry", "reason"),
    [
        ("00:00:09,000 --> 00:00:09,000\nx", "not after the start"),
        ("00:00:09,000 --> 00:00:08,000\nx", "not after the start"),
        ("00:61:00,000 --> 00:62:00,000\nx", "above 59"),
        ("00:00:xx,000 --> 00:00:08,000\nx", "cannot be read"),
        ("-00:00:01,000 --> 00:00:08,000\nx", "cannot be read"),
        ("00:00:07,000 --> 00:00:08,000\n\n", "no text"),
        ("00:00:07,000 --> 00:00:08,000\n<i></i>", "no text"),
    ],
)
def test_a_faulty_entry_is_named_with_its_line(entry: str, reason: str) -> None:
    found = subrip.read(f"1\n00:00:01,000 --> 00:00:02,000\ngood\n\n2\n{entry}\n")
    assert found.cues == (Cue(1000, 2000, "good", "1"),)
    assert [item.line for item in found.skipped] == [6]
    assert reason in found.skipped[0].reason


def test_odd_decimals_and_text_outside_entries_are_said() -> None:
    found = subrip.read("hello\n\n1\n00:00:01,5 --> 00:00:02,000 align\nx\n")
    assert found.cues == (Cue(1500, 2000, "x", "1"),)
    assert [item.line for item in found.skipped] == [1, 4, 4]
    assert isinstance(found.skipped[0], Skipped)


@pytest.mark.parametrize("text", ["", "\ufeff \r\n", "time,speed\n1,2\n", "Gear 4 --> 3"])
def test_what_is_no_subrip_file_is_refused(text: str) -> None:
    with pytest.raises(CodecError, match=r"lap\.srt"):
        subrip.read(text, name="lap.srt")


def test_a_cue_without_text_is_not_written() -> None:
    with pytest.raises(CodecError, match="no text"):
        subrip.write([Cue(0, 1, " \n\x00")])


@pytest.mark.parametrize(("start_ms", "end_ms"), [(-1, 5), (5, 5), (6, 5)])
def test_a_cue_ends_after_it_starts(start_ms: int, end_ms: int) -> None:
    with pytest.raises(CodecError):
        Cue(start_ms, end_ms, "x")
