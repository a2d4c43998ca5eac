"""Sources: W3C WebVTT (chapter tracks), Podcast namespace JSON Chapters 1.2."""

from __future__ import annotations

import io
import json

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.chapters import json_chapters, webvtt_chapters
from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError

CHAPTERS = [Chapter(0, 92_400, "Out lap"), Chapter(92_400, 175_856, "Lap 1\n& --> more"), Chapter(175_856, 180_000, "")]
EXAMPLE = """{"version":"1.2.0","chapters":[
{"startTime":0,"title":"Out lap"},{"startTime":92.4,"title":"Lap 1","endTime":175.856}]}"""
"""After the format's own text."""


def test_chapter_tracks_are_read_by_webvtt_py() -> None:
    found = webvtt.from_buffer(io.StringIO(webvtt_chapters.write(CHAPTERS))).captions
    assert [(cue.start, cue.end) for cue in found] == [
        ("00:00:00.000", "00:01:32.400"), ("00:01:32.400", "00:02:55.856"), ("00:02:55.856", "00:03:00.000"),
    ]  # fmt: skip
    assert [cue.text for cue in found] == ["Out lap", "Lap 1 &amp; --&gt; more", "Chapter 3"]


def test_json_has_what_the_format_asks() -> None:
    document = json.loads(json_chapters.write(CHAPTERS, title="Ostrel Holm", file_name="lesson.mp4"))
    assert set(document) == {"version", "title", "fileName", "chapters"}
    assert document["version"] == "1.2.0"
    assert document["chapters"][1] == {"startTime": 92.4, "endTime": 175.856, "title": "Lap 1 & --> more"}


def test_the_formats_example_reads() -> None:
    assert json_chapters.read(EXAMPLE, length_ms=200_000) == (
        Chapter(0, 92_400, "Out lap"), Chapter(92_400, 175_856, "Lap 1"),
    )  # fmt: skip


@given(st.lists(st.integers(0, 10**8), min_size=1, max_size=6, unique=True))
def test_times_come_back_to_the_millisecond(starts: list[int]) -> None:
    starts = sorted(starts)
    chapters = tuple(Chapter(a, b, f"n{a}") for a, b in zip(starts, [*starts[1:], starts[-1] + 7], strict=True))
    assert json_chapters.read(json_chapters.write(chapters), length_ms=0) == chapters


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"chapters": [{"startTime": "0"}]}', '{"chapters": [1]}', "[" * 9999]
)
def test_other_texts_are_refused(text: str) -> None:
    with pytest.raises(CodecError, match="no JSON chapters"):
        json_chapters.read(text, length_ms=1)
