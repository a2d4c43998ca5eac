"""A lap and its corners as films with the gauges burned in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from syncview.gauges.choice import ALL_GAUGES, GaugeChoice
from syncview.lesson.captions import clip_captions, film_captions
from syncview.lesson.chapters import corner_title
from syncview.lesson.corner_span import CornerSpan
from syncview.lesson.film import FilmReport, render_film
from syncview.lesson.film_picture import PanelOptions
from syncview.lesson.gauge_feed import gauge_feed, map_outline, usual_reference
from syncview.lesson.lap_film import LapFilm, span_of
from syncview.lesson.session import Session
from syncview.media.caption_stream import CaptionTrack
from syncview.media.cut_plan import plan_cut
from syncview.media.edge_cut import cut_clip
from syncview.media.encoders import WEB, EncoderSettings
from syncview.media.stream_copy import CopyExtras, CopyReport, copy_span
from syncview.plan.chapter_rules import ChapterPlan
from syncview.plan.film_span import FilmSpan
from syncview.progress import Progress, silent
from syncview.track.laps import Lap, format_ms

CLIP_BEFORE_S, CLIP_AFTER_S = 2.0, 1.5
"""A clip begins this long before the braking point and ends this long after the exit. No source."""
LOCK_MARGIN = 1.05


@dataclass(frozen=True, slots=True)
class FilmOptions:
    """How a film is made."""

    gauges: bool = True
    notes: bool = False
    """Write the notes on the picture of the lap's film; clips of corners always have theirs."""
    settings: EncoderSettings | None = None
    """None for the usual quality for the web."""
    overwrite: bool = False


def render_lap(
    film: LapFilm,
    spans: tuple[CornerSpan, ...],
    output: Path,
    *,
    chapters: ChapterPlan,
    options: FilmOptions,
    progress: Progress = silent,
) -> FilmReport:
    """Write the whole lap at full speed; see `render_film` for errors."""
    said = film_captions(film, film.session.project.notes).cues if options.notes else ()
    return render_film(
        film.recording,
        begin_s=film.span.begin_s,
        end_s=film.span.end_s,
        values_at=gauge_feed(film, spans, notes=said, reference=_reference(film)) if options.gauges else None,
        panel=panel_options(film.session),
        output=output,
        settings=options.settings or WEB,
        chapters=chapters.chapters,
        title=lap_title(film),
        overwrite=options.overwrite,
        progress=progress,
    )


def render_clip(
    film: LapFilm,
    spans: tuple[CornerSpan, ...],
    corner: CornerSpan,
    output: Path,
    *,
    options: FilmOptions,
    progress: Progress = silent,
) -> FilmReport:
    """Write one corner of the lap, with some seconds before and after it; see `render_film` for errors."""
    span = _clip_span(film, corner)
    said = clip_captions(film, corner.corner, span).cues
    return render_film(
        film.recording,
        begin_s=span.begin_s,
        end_s=span.end_s,
        values_at=gauge_feed(film, spans, span=span, notes=said, reference=_reference(film))
        if options.gauges
        else None,
        panel=panel_options(film.session),
        output=output,
        settings=options.settings or WEB,
        title=f"{corner_title(corner.corner)}, {lap_title(film)}",
        overwrite=options.overwrite,
        progress=progress,
    )


def copy_lap(
    film: LapFilm, output: Path, *, chapters: ChapterPlan, overwrite: bool, progress: Progress = silent
) -> CopyReport:
    """Cut the lap out without coding it again, with the notes as a caption track; see `copy_span` for errors."""
    cues = film_captions(film, film.session.project.notes).cues
    tracks = (CaptionTrack(cues, title="Notes"),) if cues else ()
    return copy_span(
        film.recording,
        begin_s=film.span.begin_s,
        end_s=film.span.end_s,
        output=output,
        extras=CopyExtras(tracks, chapters.chapters, lap_title(film)),
        overwrite=overwrite,
        progress=progress,
    )


def cut_corner(
    film: LapFilm, corner: CornerSpan, output: Path, *, options: FilmOptions, progress: Progress = silent
) -> tuple[str, ...]:
    """Write one corner without gauges, its note as a caption track: its edges coded again, its middle copied.

    Where the recording does not allow that the whole clip is coded again, and one of the sentences returned says why.
    """
    span = _clip_span(film, corner)
    cues = clip_captions(film, corner.corner, span).cues
    title = f"{corner_title(corner.corner)}, {lap_title(film)}"
    plan = plan_cut(film.recording, span.begin_s, span.end_s)
    if plan.why_not is None:
        tracks = (CaptionTrack(cues, title="Notes"),) if cues else ()
        cut_clip(film.recording, plan, output=output, extras=CopyExtras(tracks, title=title),
                 overwrite=options.overwrite, progress=progress)  # fmt: skip
        return ()
    report = render_film(
        film.recording,
        begin_s=span.begin_s,
        end_s=span.end_s,
        values_at=None,
        output=output,
        settings=options.settings or WEB,
        title=title,
        overwrite=options.overwrite,
        progress=progress,
    )
    return (f"The clips were coded again as a whole: {plan.why_not}.", *report.notes)


def _clip_span(film: LapFilm, corner: CornerSpan) -> FilmSpan:
    begin_s = film.clock.to_media_s(corner.begin_log_s) - CLIP_BEFORE_S
    end_s = film.clock.to_media_s(corner.end_log_s) + CLIP_AFTER_S
    return span_of(film.recording, begin_s, end_s)


def _reference(film: LapFilm) -> Lap | None:
    """The lap that the gap is shown against."""
    return usual_reference(film.session, film.lap)


def lap_title(film: LapFilm) -> str:
    """`Lap 2, 0:58.507`."""
    return f"Lap {film.lap.number}, {format_ms(film.lap.time_ms)}"


def panel_options(session: Session, *, choice: GaugeChoice = ALL_GAUGES) -> PanelOptions:
    """Units of the project, the map, and a steering arc as wide as the wheel was ever turned on the timed laps."""
    options = PanelOptions(session.project.units, choice=choice, outline=map_outline(session) if choice.map else None)
    steering = session.facts.steering_rad
    if steering is None or not session.track.timed:
        return options
    timed = session.track.timed
    driven = (session.log.time_s >= timed[0].start_s) & (session.log.time_s <= timed[-1].end_s)
    most = np.nanmax(np.abs(steering[driven]), initial=0.0)
    return replace(options, steering_lock_rad=float(most) * LOCK_MARGIN) if most > 0 else options
