"""The sheet for the pit wall: the lap's map, the day, every corner's facts and notes, and each corner's traces."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.lesson.chapters import corner_title
from syncview.lesson.conditions import condition_rows
from syncview.lesson.corner_rows import HEADINGS, WORD_COLUMNS, corner_rows
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.drafting import corner_at
from syncview.lesson.lesson_cards import CAUTIONS
from syncview.lesson.pictures import look
from syncview.lesson.pictures.corner_traces import corner_traces
from syncview.lesson.pictures.lap_map import lap_map
from syncview.notes.note import Note, has_words
from syncview.output_file import whole_file
from syncview.progress import Progress, silent
from syncview.shown_units import LENGTH, SPEED
from syncview.track.laps import format_ms

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from syncview.lesson.session import Session
    from syncview.track.laps import Lap

_LEFT, _TOP, _BOTTOM = 0.045, 0.87, 0.085
_LINE = 0.0215
_NOTE_COLUMNS = 150
"""Characters that a line of notes has room for at 8 points."""
_WIDE = (0.15, 0.05, 0.06, 0.06, 0.06, 0.06, 0.05, 0.065, 0.07, 0.06, 0.06, 0.05, 0.20)
"""Widths of the table's columns, in shares of the page."""


def write_sheet(
    session: Session, lap: Lap, output: Path, *, overwrite: bool = False, progress: Progress = silent
) -> int:
    """Write the sheet as a PDF with its fonts inside; returns the count of pages. Raises OutputError or Cancelled."""
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages

    pages = 0
    metadata = {"CreationDate": None, "Title": _title(session, lap)}
    with (
        look.styled(),
        mpl.rc_context({"pdf.fonttype": 42}),
        whole_file(output, overwrite=overwrite) as part,
        PdfPages(part, metadata=metadata) as document,
    ):
        for figure in _pages(session, lap, progress):
            document.savefig(figure)
            pages += 1
    return pages


def _title(session: Session, lap: Lap) -> str:
    name = session.path.name.removesuffix(".syncview.json") if session.circuit is None else session.circuit.name
    return f"{name}, lap {lap.number}, {format_ms(lap.time_ms)}"


def _pages(session: Session, lap: Lap, progress: Progress) -> Iterator[Figure]:
    spans = corner_spans(session, lap)
    whole = len(spans) + 2
    progress(0.0, "drawing the sheet")
    yield lap_map(session, lap)
    progress(1 / whole, "drawing the sheet")
    yield from _word_pages(session, lap, spans)
    for number, span in enumerate(spans):
        progress((number + 2) / whole, "drawing the sheet")
        yield corner_traces(session, lap, span.corner)


def _word_pages(session: Session, lap: Lap, spans: Sequence[CornerSpan]) -> Iterator[Figure]:
    """The day and the facts, then the notes, on as many pages as they take; the cautions on each."""
    figure = _page(session, lap, "the day and the facts")
    below = _write_conditions(figure, session, lap, _TOP)
    _write_facts(figure, session, spans, below - 0.03)
    yield figure
    lines = list(_note_lines(session))
    room = int((_TOP - _BOTTOM) / _LINE)
    for begin in range(0, len(lines), room):
        figure = _page(session, lap, "what is said")
        for row, (words, is_heading) in enumerate(lines[begin : begin + room]):
            figure.text(_LEFT, _TOP - row * _LINE, words, fontsize=8, fontweight="bold" if is_heading else "regular",
                        va="top", parse_math=False)  # fmt: skip
        yield figure


def _page(session: Session, lap: Lap, what: str) -> Figure:
    figure = look.page()
    look.title(figure, _title(session, lap), what)
    figure.text(_LEFT, 0.018, " ".join(CAUTIONS), fontsize=6.5, color=look.QUIET)
    return figure


def _write_conditions(figure: Figure, session: Session, lap: Lap, top: float) -> float:
    """The day in two columns; the height below it."""
    rows = condition_rows(session, lap)
    if not rows:
        figure.text(_LEFT, top, "Nothing was said of the day.", fontsize=8, color=look.QUIET, va="top")
        return top - _LINE
    metric = session.project.units == "metric"
    for number, row in enumerate(rows):
        main, other = (row.metric, row.imperial) if metric else (row.imperial, row.metric)
        words = main if main == other else f"{main} ({other})"
        left, height = _LEFT + 0.47 * (number % 2), top - number // 2 * _LINE
        figure.text(left, height, row.label, fontsize=8, color=look.QUIET, va="top", parse_math=False)
        shown = textwrap.shorten(words, 60, placeholder=" …")
        figure.text(left + 0.1, height, shown, fontsize=8, va="top", parse_math=False)
    return top - (len(rows) + 1) // 2 * _LINE


def _write_facts(figure: Figure, session: Session, spans: Sequence[CornerSpan], top: float) -> None:
    units = session.project.units
    speed, length = SPEED[units].label, LENGTH[units].label
    figure.text(_LEFT, top, f"speeds in {speed}, distances in {length}; brakes: before the apex, throttle and full: "
                "after it", fontsize=7.5, color=look.QUIET, va="top")  # fmt: skip
    step = min(1.5 * _LINE, (top - 2 * _LINE - _BOTTOM) / (len(spans) + 1))
    for line, cells in enumerate([HEADINGS, *corner_rows(spans, units)]):
        height, left = top - 1.6 * _LINE - line * step, _LEFT
        for column, (cell, wide) in enumerate(zip(cells, _WIDE, strict=True)):
            is_word = column in WORD_COLUMNS
            figure.text(left if is_word else left + wide - 0.012, height, cell, fontsize=7.5, va="top",
                        ha="left" if is_word else "right", color=look.INK if line else look.QUIET,
                        parse_math=False)  # fmt: skip
            left += wide


def _note_lines(session: Session) -> Iterator[tuple[str, bool]]:
    """The notes by corner as lines that fit the page, and whether each is a heading."""

    def corner_of(note: Note) -> str:
        corner = corner_at(session, note.lap_distance_m)
        return "On the way" if corner is None else corner_title(corner)

    for title, notes in groupby(filter(has_words, session.project.notes), key=corner_of):
        yield title, True
        for note in notes:
            for paragraph in note.text.splitlines():
                yield from ((line, False) for line in textwrap.wrap(paragraph, _NOTE_COLUMNS))
        yield "", False
