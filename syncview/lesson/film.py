"""Renders a part of the recording as a film with the gauges burned in."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.errors import MediaError
from syncview.lesson.film_picture import FilmPicture, PanelOptions
from syncview.lesson.film_sound import SoundFeed
from syncview.media.ahead import made_ahead
from syncview.media.film_writer import WEB, EncoderSettings, FilmWriter, PictureShape
from syncview.media.reading import FrameReader
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from av.video.frame import VideoFrame

    from syncview.gauges.values import GaugeValues
    from syncview.media.film_writer import ChapterMark
    from syncview.media.recording import Recording

_USUAL_PANEL = PanelOptions()


@dataclass(frozen=True, slots=True)
class FilmReport:
    """What was written."""

    output: Path
    frames: int
    duration_s: float
    size_bytes: int
    width: int
    height: int
    notes: tuple[str, ...]
    """What differs from the recording and why, each a sentence."""


def render_film(
    recording: Recording,
    *,
    begin_s: Fraction | float,
    end_s: Fraction | float,
    values_at: Callable[[Fraction], GaugeValues] | None,
    output: Path,
    panel: PanelOptions = _USUAL_PANEL,
    settings: EncoderSettings = WEB,
    chapters: Sequence[ChapterMark] = (),
    title: str | None = None,
    overwrite: bool = False,
    progress: Progress = silent,
) -> FilmReport:
    """Write the frames with begin_s <= media_s < end_s, upright, with their sound and with the frames' own times.

    `values_at` gets each frame's exact media time; None draws no gauges. Film time is media time less that of the
    first frame. Raises MediaError when no frame lies in the span, OutputError when the film cannot be written,
    Cancelled when `progress` says so; then nothing is left under `output` or beside it.
    """
    span = _Span.chosen(recording, begin_s, end_s)
    picture = FilmPicture(recording, options=None if values_at is None else panel)
    with closing(SoundFeed(recording, span.begin_media_s, span.end_media_s)) as sound:
        with (
            FilmWriter(
                output,
                picture=_shape(recording, picture),
                sound=sound.shape,
                settings=settings,
                chapters=chapters,
                title=title,
                sources=(recording.path,),
                overwrite=overwrite,
            ) as writer,
            FrameReader(recording) as reader,
            closing(made_ahead(_finished(reader, span, picture, values_at))) as pictures,
        ):
            for number, frame in pictures:
                media_s = recording.frames.media_s(number)
                sound.feed(writer, film_s=media_s - span.begin_media_s)
                writer.write_picture(frame, pts=span.film_pts(number), duration=span.film_duration(number))
                progress((number + 1 - span.begin) / (span.end - span.begin), "writing the film")
            sound.feed(writer, film_s=None)
        lost = [float(recording.frames.media_s(number)) for number in reader.missing]
    return _report(output, span, picture, [*picture.notes, *sound.notes], lost)


def _finished(
    reader: FrameReader, span: _Span, picture: FilmPicture, values_at: Callable[[Fraction], GaugeValues] | None
) -> Iterator[tuple[int, VideoFrame]]:
    for number, decoded in reader.frames(span.begin, span.end):
        values = None if values_at is None else values_at(span.recording.frames.media_s(number))
        yield number, picture.finished(decoded, values)


@dataclass(frozen=True, slots=True)
class _Span:
    """Which frames the film shows, and their stamps in it."""

    recording: Recording
    begin: int
    end: int
    end_media_s: Fraction
    """Where the last frame leaves the screen: its own end, or the asked end where that comes first."""

    @classmethod
    def chosen(cls, recording: Recording, begin_s: Fraction | float, end_s: Fraction | float) -> _Span:
        index = recording.frames
        begin, end = index.first_from(begin_s), index.first_from(end_s)
        if begin >= end:
            raise MediaError(
                f"no frame lies between {float(begin_s):.3f} s and {float(end_s):.3f} s",
                f"Choose a part of its {recording.duration_s:.3f} s.",
                where=recording.path,
            )
        return cls(recording, begin, end, min(Fraction(end_s), index.end_s))

    @property
    def begin_media_s(self) -> Fraction:
        return self.recording.frames.media_s(self.begin)

    def film_pts(self, number: int) -> int:
        pts = self.recording.frames.pts
        return int(pts[number]) - int(pts[self.begin])

    def film_duration(self, number: int) -> int:
        index = self.recording.frames
        own = int(index.duration[number])
        if number + 1 < self.end:
            return own
        return max(1, min(own, round((self.end_media_s - index.media_s(number)) / index.time_base)))


def _shape(recording: Recording, picture: FilmPicture) -> PictureShape:
    return PictureShape(
        width=picture.width,
        height=picture.height,
        pixel_format=picture.pixel_format,
        time_base=recording.frames.time_base,
        nominal_rate=recording.nominal_rate,
        colour=picture.colour,
        sample_aspect=picture.sample_aspect,
    )


def _report(output: Path, span: _Span, picture: FilmPicture, notes: list[str], lost: list[float]) -> FilmReport:
    if lost:
        count = "One damaged frame is" if len(lost) == 1 else f"{len(lost)} damaged frames are"
        notes.append(f"{count} missing, the first at {lost[0]:.3f} s of the recording.")
    last = span.end - 1
    ticks = span.film_pts(last) + span.film_duration(last)
    return FilmReport(
        output=output,
        frames=span.end - span.begin - len(lost),
        duration_s=float(ticks * span.recording.frames.time_base),
        size_bytes=output.stat().st_size,
        width=picture.width,
        height=picture.height,
        notes=tuple(notes),
    )
