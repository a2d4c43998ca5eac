"""Source: W3C, "WebVTT: The Web Video Text Tracks Format". Exports are read with webvtt-py and pysubs2.

Neither library decodes character references, so the tests do it with ``html.unescape``.
"""

from __future__ import annotations

import html
from pathlib import Path

import pysubs2
import pytest
import webvtt as webvtt_py
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.captions import webvtt
from syncview_codecs.captions.cue import Cue
from syncview_codecs.captions.plain_text import text_lines
from syncview_codecs.errors import CodecError

texts = st.text(max_size=60).filter(lambda text: bool(text_lines(text)))
cues = st.builds(
    lambda start_ms, length_ms, text, identifier: Cue(start_ms, start_ms + length_ms, text, identifier),
    st.integers(0, 400_000_000),
    st.integers(1, 20_000),
    texts,
    st.text(max_size=8),
)


def milliseconds(stamp: str) -> int:
    hours, minutes, seconds = stamp.split(":")
    return (int(hours) * 60 + int(minutes)) * 60_000 + int(seconds.replace(".", ""))


def words(text: str) -> list[str]:
    return " ".join(text_lines(text)).split()


@pytest.mark.parametrize(
    ("time_ms", "written"),
    # Hours of two digits or more, "." and three decimals (section "WebVTT timestamp").
    [(3_723_456, "01:02:03.456"), (60_000, "00:01:00.000"), (360_000_000, "100:00:00.000")],
)
def test_times_are_written_as_the_standard_asks(time_ms: int, written: str) -> None:
    assert f"{written} --> " in webvtt.write([Cue(time_ms, time_ms + 1, "x")])


def test_a_file_is_sorted_escaped_and_has_the_settings() -> None:
    text = webvtt.write([Cue(2000, 3000, "b --> <c> & d"), Cue(0, 1000, "a\n\n\nb", "one")], line="84%", align="start")
    assert text == (
        "WEBVTT\n\none\n00:00:00.000 --> 00:00:01.000 line:84% align:start\na\nb\n\n"
        "00:00:02.000 --> 00:00:03.000 line:84% align:start\nb --&gt; &lt;c&gt; &amp; d\n"
    )


def test_two_libraries_read_back_an_awkward_file(tmp_path: Path) -> None:
    awkward = "4 --> 3 & <b>brake</b>\n\nNOTE 100 m\x00\x07 board\u202bבלום\u202c 🏁"
    path = tmp_path / "awkward.vtt"
    path.write_text(webvtt.write([Cue(0, 1500, awkward, "n-1"), Cue(1500, 2000, "z", "n-1")], line="-2"), "utf-8")
    captions = webvtt_py.read(str(path)).captions
    assert [(item.start, item.end, item.identifier) for item in captions] == [
        ("00:00:00.000", "00:00:01.500", "n-1"),
        ("00:00:01.500", "00:00:02.000", "n-1 (2)"),
    ]
    assert html.unescape(captions[0].text).split() == words(awkward)
    assert [(event.start, event.end) for event in pysubs2.load(str(path))] == [(0, 1500), (1500, 2000)]


@given(st.lists(cues, max_size=5))
def test_webvtt_py_reads_back_times_and_words_of_any_text(cue_list: list[Cue]) -> None:
    found = webvtt_py.from_string(webvtt.write(cue_list)).captions
    expected = sorted(cue_list, key=lambda cue: cue.start_ms)
    spans = [(milliseconds(item.start), milliseconds(item.end)) for item in found]
    assert spans == [(cue.start_ms, cue.end_ms) for cue in expected]
    assert [html.unescape(item.text).split() for item in found] == [words(cue.text) for cue in expected]


@given(st.lists(cues, max_size=5))
def test_what_is_written_keeps_the_rules_and_reads_back(cue_list: list[Cue]) -> None:
    text = webvtt.write(cue_list)
    blocks = text.removeprefix("WEBVTT\n").strip("\n").split("\n\n")
    assert all(block.count("-->") == 1 for block in blocks if block)  # only in time lines
    found = webvtt.read(text.replace("\n", "\r\n"))
    expected = sorted(cue_list, key=lambda cue: cue.start_ms)
    assert [(cue.start_ms, cue.end_ms, cue.text.split()) for cue in found.cues] == [
        (cue.start_ms, cue.end_ms, words(cue.text)) for cue in expected
    ]
    named = [cue.identifier for cue in found.cues if cue.identifier]
    assert len(set(named)) == len(named) == sum(bool(text_lines(cue.identifier)) for cue in cue_list)
    assert (found.skipped, found.warnings) == ((), ())


@given(st.text(max_size=200))
def test_any_text_under_the_header_reads_without_a_fault(text: str) -> None:
    webvtt.read(f"WEBVTT\n\n{text}\n\n00:01.000 --> 00:02.000\nx")


@pytest.mark.parametrize(
    "setting", [{"line": "101%"}, {"line": "1.5"}, {"position": "5"}, {"size": "-1%"}, {"align": "middle"}]
)
def test_a_setting_that_the_standard_lacks_is_refused(setting: dict[str, str]) -> None:
    with pytest.raises(CodecError, match="no cue setting"):
        webvtt.write([], **setting)


def test_blocks_settings_tags_and_references_are_understood() -> None:
    text = (
        "\ufeffWEBVTT - lap 2\r\nX-TIMESTAMP-MAP=MPEGTS:900000,LOCAL:00:00:00.000\r\n\r\n"
        "NOTE\r\nfor the coach\r\n\r\n"
        "STYLE\r\n::cue { color: lime }\r\n\r\nREGION\r\nid:a\r\n\r\n"
        "corner-2\r\n00:01.000 --> 01:00:02.500 line:0 position:20%,line-left\r\n"
        "<v.loud Ann>Brake <00:01.500><c.hard>hard</c></v> &lt;now&gt; &amp; wait\r\n&lrm;<i>all</i> of it\r\n"
    )
    found = webvtt.read(text)
    assert found.cues == (Cue(1000, 3_602_500, "Ann: Brake hard <now> & wait\n\u200eall of it", "corner-2"),)
    assert found.skipped == ()
    assert found.warnings[0].startswith("X-TIMESTAMP-MAP=MPEGTS")
    assert len(found.warnings) == 5


@pytest.mark.parametrize(
    ("block", "kept", "reason"),
    [
        ("only words", 0, "no time line"),
        ("00:02.000 --> 00:02.000\nx", 0, "not after the start"),
        ("0:xx --> 00:02.000\nx", 0, "cannot be read"),
        ("00:01.000 --> 00:02.000\n<i></i>", 0, "no text"),
        ("00:01,000 --> 00:02.000\nx", 1, "comma"),
        ("00:01.000 --> 00:02.000\n4 --> 3", 1, "kept as text"),
        ("00:01.000 --> 00:02.000\na <now> b", 1, "no WebVTT tag"),
    ],
)
def test_what_is_left_out_or_read_differently_is_said(block: str, kept: int, reason: str) -> None:
    found = webvtt.read(f"WEBVTT\n\n{block}\n")
    assert len(found.cues) == kept
    assert len(found.skipped) == 1
    assert reason in found.skipped[0].reason
    assert found.skipped[0].line in (3, 4)


def test_cues_without_a_blank_line_between_are_told_apart() -> None:
    # Section "WebVTT parser": a line with --> ends the cue before it.
    found = webvtt.read("WEBVTT\n00:01.000 --> 00:02.000\na\n00:03.000 --> 00:04.000\nb\n")
    assert [cue.text for cue in found.cues] == ["a", "b"]
    assert [item.line for item in found.skipped] == [2]


@pytest.mark.parametrize("text", ["", "\ufeff", "WEBVTTX\n", "1\n00:00:01,000 --> 00:00:02,000\nx\n"])
def test_what_is_no_webvtt_file_is_refused(text: str) -> None:
    with pytest.raises(CodecError, match=r"lap\.vtt"):
        webvtt.read(text, name="lap.vtt")


def test_a_cue_without_text_is_not_written() -> None:
    with pytest.raises(CodecError, match="no text"):
        webvtt.write([Cue(0, 1, "\n")])
