"""The corners of a lap as chapters of its film."""

from __future__ import annotations

from syncview.lesson.corner_span import CornerSpan
from syncview.lesson.lap_film import LapFilm
from syncview.plan.chapter_rules import ChapterPlan, fit_chapters
from syncview.track.corners import Corner
from syncview.track.laps import format_ms
from syncview_codecs.chapters.chapter import Chapter


def film_chapters(film: LapFilm, spans: tuple[CornerSpan, ...]) -> ChapterPlan:
    """A chapter from the film's start and one from the beginning of each corner that the film shows.

    Corners too near to each other for a chapter list are joined; the plan's notes say so.
    """
    title = f"Lap {film.lap.number}, {format_ms(film.lap.time_ms)}"
    starts = [(0, title)]
    for span in spans:
        film_ms = film.span.to_film_ms(film.clock.to_media_s(span.begin_log_s))
        if 0 < film_ms < film.span.film_ms:
            starts.append((film_ms, corner_title(span.corner)))
    starts.sort()
    ends = [start for start, _ in starts[1:]] + [film.span.film_ms]
    chapters = [Chapter(start, end, words) for (start, words), end in zip(starts, ends, strict=True) if end > start]
    return fit_chapters(chapters, film_ms=film.span.film_ms)


def corner_title(corner: Corner) -> str:
    """How a corner is called in lists: `Corner 4` or `4 Mill Bend`."""
    return f"{corner.number} {corner.name}" if corner.name else f"Corner {corner.number}"
