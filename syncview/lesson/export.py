"""The products of a lesson, by name, written to one folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from syncview.lesson import timeline_files
from syncview.lesson.captions import FilmCaptions, film_captions
from syncview.lesson.chapters import film_chapters
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.lesson_files import write_lesson_files
from syncview.lesson.lesson_film import LessonFilmOptions
from syncview.lesson.ready_lesson import ReadyLesson, ready_lesson
from syncview.lesson.render import FilmOptions, copy_lap, cut_corner, lap_title, render_clip, render_lap
from syncview.lesson.text_products import FilmText, caption_paths, chapter_paths, write_captions, write_chapters
from syncview.media.encoders import WEB
from syncview.output_file import ready_folder, refuse_bad_target, safe_name
from syncview.progress import Progress, part_of, silent
from syncview_codecs.timeline import otio

if TYPE_CHECKING:
    from syncview.media.film_writer import EncoderSettings
    from syncview.plan.chapter_rules import ChapterPlan

Product = Literal["captions", "chapters", "film", "clips", "lesson", "timeline"]
PRODUCTS: tuple[Product, ...] = get_args(Product)


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written, and what a person should know about it."""

    files: tuple[tuple[str, Path], ...]
    """Product and file, in the order of writing."""
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExportOptions:
    """How the products are made."""

    overwrite: bool = False
    settings: EncoderSettings | None = None
    """None for the usual quality for the web."""
    copy: bool = False
    """Films and clips of the lap without gauges, copied instead of coded again, notes as a caption track."""


def export(
    film: LapFilm,
    folder: Path,
    products: Sequence[Product],
    *,
    options: ExportOptions | None = None,
    progress: Progress = silent,
) -> Exported:
    """Write the products of a lap film into `folder` (made when missing).

    Of everything, the timeline is left out where its library is not installed, and a remark says so.
    Nothing is written when any of the files exists and may not be replaced, so that old and new never mix.
    Raises OutputError, MediaError or Cancelled; what was finished before a fault stays.
    """
    options = options or ExportOptions()
    remarks: list[str] = []
    missing = otio.why_not() if set(products) == set(PRODUCTS) else None
    if missing is not None:
        products = [product for product in products if product != "timeline"]
        remarks.append(f"no timeline was written: {missing}")
    work = _Work(film, ready_folder(folder), options)
    _refuse_existing(work, products, overwrite=options.overwrite)
    files: list[tuple[str, Path]] = []
    steps = {
        "captions": work.captions, "chapters": work.chapters, "film": work.film, "clips": work.clips,
        "lesson": work.lesson, "timeline": work.timeline,
    }  # fmt: skip
    shares = {"captions": 0.5, "chapters": 0.5, "film": 40.0, "clips": 60.0, "lesson": 120.0, "timeline": 0.5}
    whole = sum(shares[product] for product in products)
    done = 0.0
    for product in PRODUCTS:
        if product in products:
            report = part_of(progress, done / whole, (done + shares[product]) / whole)
            written, said = steps[product](report)
            files.extend((product, path) for path in written)
            remarks.extend(said)
            done += shares[product]
    return Exported(tuple(files), tuple(dict.fromkeys(remarks)))


def target_paths(film: LapFilm, folder: Path, products: Sequence[Product]) -> tuple[Path, ...]:
    """The files that `export` would write, in order; nothing is written."""
    work = _Work(film, folder, ExportOptions())
    return tuple(path for product in PRODUCTS if product in products for path in work.paths(product))


_Written = tuple[list[Path], list[str]]


class _Work:
    """One export: what several products share is made once."""

    def __init__(self, film: LapFilm, folder: Path, options: ExportOptions) -> None:
        self.lap_film, self._folder, self._options = film, folder, options
        self.spans: tuple[CornerSpan, ...] = corner_spans(film.session, film.lap)
        self._captions: FilmCaptions = film_captions(film, film.session.project.notes)
        self._chapters: ChapterPlan = film_chapters(film, self.spans)

    def paths(self, product: Product) -> list[Path]:
        """The files that a product will be."""
        stem = self._stem
        names = {
            "captions": [path.name for path in caption_paths(self._folder, stem)],
            "chapters": [path.name for path in chapter_paths(self._folder, stem)],
            "film": [f"{stem}.mp4"],
            "lesson": [
                "lesson.mp4",
                "lesson-plan.json",
                *(path.name for path in caption_paths(self._folder, "lesson")),
                *(path.name for path in chapter_paths(self._folder, "lesson")),
            ],
            "timeline": list(timeline_files.NAMES),
            "clips": [f"{stem}-{safe_name(f'{s.corner.number:02d} {s.corner.name}'.strip())}.mp4" for s in self.spans],
        }
        return [self._folder / name for name in names[product]]

    def captions(self, _progress: Progress) -> _Written:
        cues = self._captions.cues
        if not cues:
            return [], ["there are no notes on this lap, so no captions were written"]
        written = write_captions(self._text, self._folder, self._stem, overwrite=self._options.overwrite)
        return written, list(self._captions.remarks)

    def chapters(self, _progress: Progress) -> _Written:
        written = write_chapters(self._text, self._folder, self._stem, overwrite=self._options.overwrite)
        return written, list(self._chapters.notes)

    @property
    def _stem(self) -> str:
        return f"lap-{self.lap_film.lap.number}"

    @property
    def _text(self) -> FilmText:
        recording = self.lap_film.recording
        return FilmText(
            self._captions.cues,
            self._chapters.chapters,
            lap_title(self.lap_film),
            recording.display_width,
            recording.display_height,
        )

    @cached_property
    def _ready(self) -> ReadyLesson:
        film = self.lap_film
        return ready_lesson(film.session, film.recording, film.lap)

    def lesson(self, progress: Progress) -> _Written:
        how = LessonFilmOptions(settings=self._options.settings or WEB, overwrite=self._options.overwrite)
        return write_lesson_files(self._ready, self._folder, options=how, progress=progress)

    def timeline(self, _progress: Progress) -> _Written:
        plan = self._ready.plan
        return timeline_files.write_timeline(plan, self._folder, overwrite=self._options.overwrite), []

    def film(self, progress: Progress) -> _Written:
        (path,) = self.paths("film")
        if self._options.copy:
            copied = copy_lap(self.lap_film, path, chapters=self._chapters, overwrite=self._options.overwrite,
                              progress=progress)  # fmt: skip
            return [path], list(copied.notes)
        how = FilmOptions(settings=self._options.settings, overwrite=self._options.overwrite)
        report = render_lap(self.lap_film, self.spans, path, chapters=self._chapters, options=how, progress=progress)
        return [path], list(report.notes)

    def clips(self, progress: Progress) -> _Written:
        written: list[Path] = []
        remarks: list[str] = []
        how = FilmOptions(settings=self._options.settings, overwrite=self._options.overwrite)
        for i, (span, path) in enumerate(zip(self.spans, self.paths("clips"), strict=True)):
            report = part_of(progress, i / len(self.spans), (i + 1) / len(self.spans))
            if self._options.copy:
                remarks.extend(cut_corner(self.lap_film, span, path, options=how, progress=report))
            else:
                made = render_clip(self.lap_film, self.spans, span, path, options=how, progress=report)
                remarks.extend(made.notes)
            written.append(path)
        return written, remarks


def _refuse_existing(work: _Work, products: Sequence[Product], *, overwrite: bool) -> None:
    for product in products:
        for path in work.paths(product):
            refuse_bad_target(path, overwrite=overwrite)
