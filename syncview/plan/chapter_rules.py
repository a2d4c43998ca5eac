"""Chapters made fit for films and for the lists of video hosts: no holes, none too short, nothing lost in silence.

Rules of the lists (common practice of several hosts, no standard): the first entry is at 0:00, entries ascend, there
are at least three, and each is at least 10 s long after its start has been rounded down to whole seconds. MP4 adds
two limits as FFmpeg writes it: 255 chapters, and 255 bytes a title (FFmpeg's mov muxer, ``chpl``).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from syncview.errors import OutputError
from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.chapters.description import format_clock

LEAST_CHAPTERS = 3
"""Common practice of video hosts: a shorter list is ignored."""
MP4_MOST = 255
"""Chapters in a file, and UTF-8 bytes in a title, that FFmpeg's mov muxer keeps."""

_NUMBERED = re.compile(r"(\w+) (\d+)(?:: (.+))?", re.DOTALL)
_PLURALS = {"Corner": "Corners", "Lap": "Laps", "Sector": "Sectors"}


@dataclass(frozen=True, slots=True)
class ChapterPlan:
    """Chapters that cover the film from 0 to its end without holes, and what was changed to get there."""

    chapters: tuple[Chapter, ...]
    notes: tuple[str, ...]
    """Every change and every rule that could not be kept, as plain sentences."""


def fit_chapters(
    chapters: Sequence[Chapter], *, film_ms: int, least_ms: int = 10_000, opening_title: str = "Opening"
) -> ChapterPlan:
    """Fit chapters to the rules of lists. Starts count; each chapter runs to the next one's start.

    A first chapter that starts late is stretched back to 0 or, when it starts ``least_ms`` or later, an opening with
    ``opening_title`` goes before it. A chapter that is too short takes in the following ones until it is long enough;
    a short last one joins the one before: this keeps the most chapters. Starts stay exact to the millisecond; only
    lengths are judged by whole seconds. No chapters give an empty plan.

    Raises:
        OutputError: The film has no length.
    """
    if film_ms <= 0:
        raise OutputError("the film has no length", "Plan the film before its chapters.", where="chapters")
    notes: list[str] = []
    inside = _inside_film(chapters, film_ms, notes)
    if not inside:
        return ChapterPlan((), (*notes, "There is no chapter to list."))
    whole = _without_holes(_from_zero(inside, least_ms, opening_title, notes), film_ms, notes)
    merged = _merge_short(whole, film_ms, least_ms, notes)
    _note_limits(merged, film_ms, least_ms, notes)
    return ChapterPlan(tuple(merged), tuple(notes))


def _inside_film(chapters: Sequence[Chapter], film_ms: int, notes: list[str]) -> list[Chapter]:
    """The chapters that start within the film, ascending."""
    ordered = sorted(chapters, key=lambda chapter: chapter.start_ms)
    if ordered != list(chapters):
        notes.append("The chapters were put in order of time.")
    for chapter in ordered:
        if chapter.start_ms >= film_ms:
            start, end = format_clock(chapter.start_ms), format_clock(film_ms)
            notes.append(f"“{chapter.title}” was left out: it starts at {start}, the film ends at {end}.")
    return [chapter for chapter in ordered if chapter.start_ms < film_ms]


def _from_zero(chapters: list[Chapter], least_ms: int, opening_title: str, notes: list[str]) -> list[Chapter]:
    first = chapters[0]
    if first.start_ms == 0:
        return chapters
    start = format_clock(first.start_ms)
    if _whole_s(first.start_ms) * 1000 >= least_ms:
        notes.append(f"“{opening_title}” was put before “{first.title}”, which starts at {start}; lists open at 0:00.")
        return [Chapter(0, first.start_ms, opening_title), *chapters]
    notes.append(f"“{first.title}” now starts at 0:00 instead of {start} ({first.start_ms} ms); lists open at 0:00.")
    return [Chapter(0, first.end_ms, first.title), *chapters[1:]]


def _without_holes(chapters: list[Chapter], film_ms: int, notes: list[str]) -> list[tuple[int, str]]:
    """Start and title of each chapter, after noting each end that moves to the next start or the film's end."""
    following = [*(chapter.start_ms for chapter in chapters[1:]), film_ms]
    for chapter, end_ms in zip(chapters, following, strict=True):
        if chapter.end_ms != end_ms:
            change = "runs on" if chapter.end_ms < end_ms else "is cut"
            until = "the end of the film" if end_ms == film_ms else "the next chapter"
            off_s = abs(end_ms - chapter.end_ms) / 1000
            notes.append(f"“{chapter.title}” {change} to {until} at {format_clock(end_ms)} ({off_s:.3f} s).")
    return [(chapter.start_ms, chapter.title) for chapter in chapters]


def _merge_short(marks: list[tuple[int, str]], film_ms: int, least_ms: int, notes: list[str]) -> list[Chapter]:
    """Join neighbours until each is long enough, from the first on; the last group may stay too short."""
    ends_ms = [start_ms for start_ms, _ in marks[1:]] + [film_ms]
    groups: list[list[tuple[int, str]]] = [[]]
    for mark, end_ms in zip(marks, ends_ms, strict=True):
        groups[-1].append(mark)
        if _listed_ms(groups[-1][0][0], end_ms) >= least_ms:
            groups.append([])
    rest = groups.pop()
    if rest and groups:
        groups[-1] += rest
    elif rest:
        groups.append(rest)
    starts_ms = [group[0][0] for group in groups]
    merged = []
    for group, end_ms in zip(groups, [*starts_ms[1:], film_ms], strict=True):
        titles = [title for _, title in group]
        merged.append(Chapter(group[0][0], end_ms, join_titles(titles)))
        if len(group) > 1:
            names = ", ".join(f"“{title}” ({format_clock(start_ms)})" for start_ms, title in group)
            notes.append(f"Merged into “{merged[-1].title}”, as lists need {least_ms / 1000:g} s each: {names}.")
    return merged


def _listed_ms(start_ms: int, end_ms: int) -> int:
    """Length of a chapter as a list with whole seconds shows it."""
    return (_whole_s(end_ms) - _whole_s(start_ms)) * 1000


def _whole_s(time_ms: int) -> int:
    return time_ms // 1000


def join_titles(titles: Sequence[str]) -> str:
    """One title for several chapters, with every word of theirs.

    Numbered neighbours are put together ("Corner 2: Kessel", "Corner 3: Mill" -> "Corners 2–3: Kessel, Mill");
    any others stand side by side ("Start · Corner 1").
    """
    if len(titles) == 1:
        return titles[0]
    found = [_NUMBERED.fullmatch(title) for title in titles]
    parts = [(match[1], int(match[2]), match[3]) for match in found if match]
    steps = [after[1] - before[1] for before, after in pairwise(parts)]
    words, named = {word for word, _, _ in parts}, [name for _, _, name in parts if name]
    as_one = len(parts) == len(titles) and len(words) == 1 and set(steps) == {1} and len(named) in (0, len(titles))
    if not as_one:
        return " · ".join(titles)
    word, first, _ = parts[0]
    head = f"{_PLURALS.get(word, word)} {first}–{parts[-1][1]}"
    return f"{head}: {', '.join(named)}" if named else head


def _note_limits(chapters: list[Chapter], film_ms: int, least_ms: int, notes: list[str]) -> None:
    """Say which rules the finished list breaks all the same."""
    if len(chapters) < LEAST_CHAPTERS:
        notes.append(f"Video hosts will ignore this list: it has {len(chapters)} of the {LEAST_CHAPTERS} they ask for.")
    if len(chapters) == 1 and _listed_ms(0, film_ms) < least_ms:
        notes.append(f"The film is shorter than the {least_ms / 1000:g} s that one chapter of a list needs.")
    if len(chapters) > MP4_MOST:
        notes.append(f"An MP4 keeps the first {MP4_MOST} of these {len(chapters)} chapters.")
    long = [chapter.title for chapter in chapters if len(chapter.title.encode("utf-8", "replace")) > MP4_MOST]
    notes.extend(f"An MP4 cuts this title at {MP4_MOST} bytes: “{title}”." for title in long)
