"""Captions and chapters of a film as files beside it, in every format that players and editors ask for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from syncview.gauges.arrangement import arrange
from syncview.output_file import write_text
from syncview_codecs.captions import imsc, subrip, webvtt
from syncview_codecs.captions.cue import Cue
from syncview_codecs.chapters import description, ffmetadata, json_chapters, webvtt_chapters
from syncview_codecs.chapters.chapter import Chapter

CAPTION_SUFFIXES = (".srt", ".vtt", ".ttml")
CHAPTER_SUFFIXES = ("-chapters.ffmeta", "-chapters.txt", "-chapters.vtt", "-chapters.json")


@dataclass(frozen=True, slots=True)
class FilmText:
    """What the files say of a film."""

    cues: Sequence[Cue]
    chapters: Sequence[Chapter]
    title: str
    width: int
    height: int
    """Of the film's picture, so that captions keep clear of the gauges."""


def caption_paths(folder: Path, stem: str) -> list[Path]:
    """The files that `write_captions` writes."""
    return [folder / f"{stem}{suffix}" for suffix in CAPTION_SUFFIXES]


def chapter_paths(folder: Path, stem: str) -> list[Path]:
    """The files that `write_chapters` writes."""
    return [folder / f"{stem}{suffix}" for suffix in CHAPTER_SUFFIXES]


def write_captions(text: FilmText, folder: Path, stem: str, *, overwrite: bool) -> list[Path]:
    """SubRip, WebVTT and IMSC 1.1, the latter two placed where no gauge is; raises OutputError."""
    free = arrange(text.width, text.height).captions
    left, top = 100 * free.left / text.width, 100 * free.top / text.height
    wide, high = 100 * free.width / text.width, 100 * free.height / text.height
    makers: tuple[Callable[[], str], ...] = (
        lambda: subrip.write(text.cues),
        lambda: webvtt.write(
            text.cues, line=f"{top:.0f}%", position=f"{left:.0f}%", size=f"{wide:.0f}%", align="start"
        ),
        lambda: imsc.write(
            text.cues, region=imsc.Region(round(left, 2), round(top, 2), round(wide, 2), round(high, 2))
        ),
    )
    return _written(caption_paths(folder, stem), makers, overwrite=overwrite)


def write_chapters(text: FilmText, folder: Path, stem: str, *, overwrite: bool) -> list[Path]:
    """An ffmetadata text, a list for a video's description, WebVTT chapters, JSON chapters; raises OutputError."""
    makers: tuple[Callable[[], str], ...] = (
        lambda: ffmetadata.write(text.chapters, tags={"title": text.title}),
        lambda: description.write(text.chapters),
        lambda: webvtt_chapters.write(text.chapters),
        lambda: json_chapters.write(text.chapters, title=text.title),
    )
    return _written(chapter_paths(folder, stem), makers, overwrite=overwrite)


def _written(paths: Sequence[Path], makers: Sequence[Callable[[], str]], *, overwrite: bool) -> list[Path]:
    return [write_text(path, make(), overwrite=overwrite) for path, make in zip(paths, makers, strict=True)]
