"""The products of a lesson, by name, written to one folder."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from syncview.lesson.captions import FilmCaptions, film_captions
from syncview.lesson.chapters import film_chapters
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.render import FilmOptions, lap_title, render_clip, render_lap
from syncview.output_file import ready_folder, refuse_bad_target, safe_name, write_text
from syncview.progress import Progress, part_of, silent
from syncview_codecs.captions import subrip, webvtt
from syncview_codecs.captions.cue import Cue
from syncview_codecs.chapters import description, ffmetadata

if TYPE_CHECKING:
    from syncview.media.film_writer import EncoderSettings
    from syncview.plan.chapter_rules import ChapterPlan

Product = Literal["captions", "chapters", "film", "clips"]
PRODUCTS: tuple[Product, ...] = ("captions", "chapters", "film", "clips")


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


def export(
    film: LapFilm,
    folder: Path,
    products: Sequence[Product],
    *,
    options: ExportOptions | None = None,
    progress: Progress = silent,
) -> Exported:
    """Write the products of a lap film into `folder` (made when missing).

    Nothing is written when any of the files exists and may not be replaced, so that old and new never mix.
    Raises OutputError, MediaError or Cancelled; what was finished before a fault stays.
    """
    options = options or ExportOptions()
    work = _Work(film, ready_folder(folder), options)
    _refuse_existing(work, products, overwrite=options.overwrite)
    files: list[tuple[str, Path]] = []
    remarks: list[str] = []
    steps = {"captions": work.captions, "chapters": work.chapters, "film": work.film, "clips": work.clips}
    shares = {"captions": 0.5, "chapters": 0.5, "film": 40.0, "clips": 60.0}
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
        stem = f"lap-{self.lap_film.lap.number}"
        names = {
            "captions": [f"{stem}.srt", f"{stem}.vtt"],
            "chapters": [f"{stem}-chapters.ffmeta", f"{stem}-chapters.txt"],
            "film": [f"{stem}.mp4"],
            "clips": [f"{stem}-{safe_name(f'{s.corner.number:02d} {s.corner.name}'.strip())}.mp4" for s in self.spans],
        }
        return [self._folder / name for name in names[product]]

    def captions(self, _progress: Progress) -> _Written:
        cues = self._captions.cues
        if not cues:
            return [], ["there are no notes on this lap, so no captions were written"]
        srt, vtt = self.paths("captions")
        write_text(srt, subrip.write(cues), overwrite=self._options.overwrite)
        write_text(vtt, _webvtt_clear_of_gauges(self.lap_film, cues), overwrite=self._options.overwrite)
        return [srt, vtt], list(self._captions.remarks)

    def chapters(self, _progress: Progress) -> _Written:
        ffmeta, listing = self.paths("chapters")
        tags = {"title": lap_title(self.lap_film)}
        write_text(ffmeta, ffmetadata.write(self._chapters.chapters, tags=tags), overwrite=self._options.overwrite)
        write_text(listing, description.write(self._chapters.chapters), overwrite=self._options.overwrite)
        return [ffmeta, listing], list(self._chapters.notes)

    def film(self, progress: Progress) -> _Written:
        (path,) = self.paths("film")
        how = FilmOptions(settings=self._options.settings, overwrite=self._options.overwrite)
        report = render_lap(self.lap_film, self.spans, path, chapters=self._chapters, options=how, progress=progress)
        return [path], list(report.notes)

    def clips(self, progress: Progress) -> _Written:
        written: list[Path] = []
        remarks: list[str] = []
        how = FilmOptions(settings=self._options.settings, overwrite=self._options.overwrite)
        for i, (span, path) in enumerate(zip(self.spans, self.paths("clips"), strict=True)):
            report = part_of(progress, i / len(self.spans), (i + 1) / len(self.spans))
            made = render_clip(self.lap_film, self.spans, span, path, options=how, progress=report)
            written.append(path)
            remarks.extend(made.notes)
        return written, remarks


def _webvtt_clear_of_gauges(film: LapFilm, cues: Sequence[Cue]) -> str:
    """WebVTT whose cues stand in the part of the picture that the gauges leave free."""
    from syncview.gauges.arrangement import arrange

    width, height = film.recording.display_width, film.recording.display_height
    free = arrange(width, height).captions
    return webvtt.write(
        cues,
        line=f"{100 * free.top / height:.0f}%",
        position=f"{100 * free.left / width:.0f}%",
        size=f"{100 * (free.right - free.left) / width:.0f}%",
        align="start",
    )


def _refuse_existing(work: _Work, products: Sequence[Product], *, overwrite: bool) -> None:
    for product in products:
        for path in work.paths(product):
            refuse_bad_target(path, overwrite=overwrite)
