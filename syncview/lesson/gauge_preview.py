"""The gauges over one frame of the recording, without rendering a film."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError, OutputError
from syncview.gauges.choice import ALL_GAUGES, GaugeChoice
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.film_picture import FilmPicture
from syncview.lesson.gauge_feed import GaugeFeed
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.render import panel_options
from syncview.media.framing import ASPECTS
from syncview.media.reading import FrameReader
from syncview.output_file import whole_file

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.track.laps import Lap

_INTO_BRAKING_S = 0.3
"""By then the pedal is well down, so that the bar shows."""


def write_gauge_preview(
    film: LapFilm,
    path: Path,
    *,
    media_s: float | None = None,
    shape: str = "as recorded",
    choice: GaugeChoice = ALL_GAUGES,
    reference: Lap | None = None,
    overwrite: bool = False,
) -> tuple[float, tuple[str, ...]]:
    """Write a PNG; returns the media time of its frame, and notes on it, each a sentence.

    `media_s` None takes the braking point, or else the apex, of the lap's first corner. Raises OutputError or
    MediaError.
    """
    from PIL import Image

    if path.suffix.lower() != ".png":
        raise OutputError("the picture of the gauges is a PNG", "End the name with .png.", where=path)
    with whole_file(path, overwrite=overwrite, sources=(film.recording.path,)) as part:
        rgb, frame_s, notes = gauge_preview(film, media_s=media_s, shape=shape, choice=choice, reference=reference)
        Image.fromarray(rgb).save(part, format="PNG")
    return frame_s, notes


def gauge_preview(
    film: LapFilm,
    *,
    media_s: float | None = None,
    shape: str = "as recorded",
    choice: GaugeChoice = ALL_GAUGES,
    reference: Lap | None = None,
) -> tuple[NDArray[np.uint8], float, tuple[str, ...]]:
    """The picture, shape (rows, columns, 3); the media time of its frame; notes. See `write_gauge_preview`."""
    spans = corner_spans(film.session, film.lap)
    moment_s = _first_braking(film, spans) if media_s is None else media_s
    if not 0 <= moment_s < film.recording.duration_s:
        raise MediaError(
            f"the recording has no picture at {moment_s:g} s",
            f"Give 0 to {film.recording.duration_s:.1f} seconds.",
            where=film.recording.path,
        )
    picture = FilmPicture(film.recording, options=panel_options(film.session, choice=choice), aspect=ASPECTS.get(shape))
    frames = film.recording.frames
    number = frames.index_at(moment_s)
    exact_s = frames.media_s(number)
    values = GaugeFeed(film, spans, reference=reference).at(exact_s)
    with FrameReader(film.recording) as reader:
        frame = picture.finished(reader.frame(number), values)
    return picture.as_rgb(frame), float(exact_s), tuple(picture.notes)


def _first_braking(film: LapFilm, spans: tuple[CornerSpan, ...]) -> float:
    """Media time just into the first braking of the lap; without brakes the first apex, without corners the middle."""
    for span in spans:
        onset_s = span.facts.brake.log_s.value
        if onset_s is not None:
            return film.clock.to_media_s(onset_s + _INTO_BRAKING_S)
    corners = film.session.corners
    apex_s = film.media_s_at(corners[0].apex_m) if corners else math.nan
    return apex_s if math.isfinite(apex_s) else film.clock.to_media_s((film.lap.start_s + film.lap.end_s) / 2)
