"""Chapters as a WebVTT text track of kind ``chapters``. Source: W3C, "WebVTT: The Web Video Text Tracks Format".

A chapter cue's text is its title on one line ("WebVTT file using chapter title text").
"""

from __future__ import annotations

from collections.abc import Iterable

from syncview_codecs.captions import webvtt
from syncview_codecs.captions.cue import Cue
from syncview_codecs.captions.plain_text import text_lines
from syncview_codecs.chapters.chapter import Chapter


def write(chapters: Iterable[Chapter]) -> str:
    """The chapters as WebVTT; a title of several lines becomes one, an empty one a number.

    Raises:
        CodecError: A chapter's times cannot be a cue's.
    """
    return webvtt.write(
        Cue(chapter.start_ms, chapter.end_ms, " ".join(text_lines(chapter.title)) or f"Chapter {number}", str(number))
        for number, chapter in enumerate(chapters, start=1)
    )
