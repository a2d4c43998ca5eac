"""Writes the lesson's film: pictures, engine and voices, captions and chapters."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from syncview import __version__
from syncview.lesson.engine_sound import SoundPart
from syncview.lesson.film import FilmReport
from syncview.lesson.gauge_feed import GaugeFeed, usual_reference
from syncview.lesson.lesson_pictures import LessonLook, LessonPictures
from syncview.lesson.lesson_sound import LessonSound, MixOptions, PlacedVoice, lesson_sound
from syncview.lesson.ready_lesson import ReadyLesson
from syncview.lesson.render import panel_options
from syncview.media.ahead import made_ahead
from syncview.media.caption_stream import CaptionTrack
from syncview.media.encoders import WEB, EncoderSettings, fitted
from syncview.media.loudness import LoudnessTarget
from syncview.media.segments import FilmExtras, FilmSound, SegmentedFilm
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from syncview.gauges.values import GaugeValues

_SOUND_SHARE, _PICTURE_SHARE = 0.06, 0.98
"""Of the time that the whole film takes, until sound and pictures are done; measured on the sample."""


@dataclass(frozen=True, slots=True)
class LessonFilmOptions:
    """How the film is made."""

    gauges: bool = True
    settings: EncoderSettings = WEB
    overwrite: bool = False


def write_lesson(
    lesson: ReadyLesson, output: Path, *, options: LessonFilmOptions, progress: Progress = silent
) -> FilmReport:
    """Write the film, or go on with one that was broken off.

    Raises MediaError, OutputError or Cancelled; then nothing is left under `output`.
    """
    plan, recording = lesson.plan, lesson.plan.film.recording
    pictures = lesson_pictures(lesson, gauges=options.gauges)
    shape, converted = fitted(pictures.shape, options.settings)
    with SegmentedFilm(
        output,
        picture=shape,
        digest=_digest(lesson, options, pictures),
        settings=options.settings,
        sources=(recording.path,),
        overwrite=options.overwrite,
    ) as film, _sound(lesson, output, part_of(progress, 0, _SOUND_SHARE)) as sound:  # fmt: skip
        begin = film.next_picture
        with closing(made_ahead(pictures.frames(begin))) as frames:
            for number, frame in enumerate(frames, begin):
                film.write_picture(frame, pts=number, duration=1)
                done = (number + 1) / plan.frame_count
                progress(_SOUND_SHARE + (_PICTURE_SHARE - _SOUND_SHARE) * done, "writing the lesson's pictures")
        film.finish(_extras(lesson, sound), progress=part_of(progress, _PICTURE_SHARE, 1))
    notes = [*pictures.notes, *converted, *sound.notes, *_lost_words(pictures.lost)]
    if begin:
        notes.append(f"The first {float(begin / plan.rate):.0f} s were finished by an earlier run and were kept.")
    return FilmReport(
        output=output,
        frames=plan.frame_count,
        duration_s=float(plan.frame_count / plan.rate),
        size_bytes=output.stat().st_size,
        width=shape.width,
        height=shape.height,
        notes=tuple(dict.fromkeys(notes)),
    )


def lesson_pictures(lesson: ReadyLesson, *, gauges: bool = True) -> LessonPictures:
    """The lesson's pictures as the coach chose them."""
    choices, session = lesson.choices, lesson.plan.film.session
    look = LessonLook(choices.shape, choices.slow_pictures, panel_options(session) if gauges else None)
    return LessonPictures(lesson.plan, look, _values(lesson))


def _values(lesson: ReadyLesson) -> Callable[[Fraction, Fraction], GaugeValues]:
    """What the gauges show: the data at the picture's media time, and the caption at the lesson time."""
    film = lesson.plan.film
    feed = GaugeFeed(film, lesson.plan.spans, reference=usual_reference(film.session, film.lap))
    written = lesson.choices.captions in ("picture", "both")
    cues = lesson.captions.cues if written else ()

    def values_at(media_s: Fraction, lesson_s: Fraction) -> GaugeValues:
        lesson_ms = lesson_s * 1000
        said = next((cue.text for cue in cues if cue.start_ms <= lesson_ms < cue.end_ms), None)
        return feed.at(media_s, note=said)

    return values_at


@contextmanager
def _sound(lesson: ReadyLesson, output: Path, progress: Progress) -> Iterator[LessonSound]:
    parts = []
    for section in lesson.plan.sections:
        if section.pace is None:
            parts.append(SoundPart(Fraction(0), Fraction(0), section.length_s))
        else:
            parts += [SoundPart(s.begin_media_s, s.end_media_s, s.lesson_s) for s in section.pace.spans]
    voices = [
        PlacedVoice(said.begin_s, lesson.voices[said.note.key].piece, f"the voice of note {said.note.key}")
        for said in lesson.plan.said
        if said.note.key in lesson.voices
    ]
    options = MixOptions(target=LoudnessTarget(lesson.choices.loudness_lufs))
    recording = lesson.plan.film.recording
    with lesson_sound(recording, parts, voices, options=options, temp_folder=output.parent, progress=progress) as mix:
        yield mix


def _extras(lesson: ReadyLesson, sound: LessonSound) -> FilmExtras:
    as_track = lesson.choices.captions in ("track", "both") and lesson.captions.cues
    return FilmExtras(
        sound=None if sound.shape is None else FilmSound(sound.shape, sound.blocks()),
        chapters=lesson.plan.chapters.chapters,
        captions=(CaptionTrack(lesson.captions.cues, title="Notes"),) if as_track else (),
        title=lesson.plan.sections[0].title,
    )


def _digest(lesson: ReadyLesson, options: LessonFilmOptions, pictures: LessonPictures) -> str:
    """Names everything that the pictures depend on; the log's file stands for the data."""
    plan, project = lesson.plan, lesson.plan.film.session.project
    facts = (
        __version__, project.recording, project.log, project.roles, project.column_units, project.units,
        plan.film.clock, plan.film.lap, project.lesson, plan.film.session.corners, options.gauges, pictures.shape,
        [(section.kind, section.begin_s, section.pace, section.card) for section in plan.sections],
        [(said.note, said.begin_s) for said in plan.said], lesson.captions.cues,
    )  # fmt: skip
    return hashlib.sha256(repr(facts).encode()).hexdigest()


def _lost_words(lost: list[float]) -> list[str]:
    if not lost:
        return []
    return [f"{len(lost)} damaged frames of the recording are missing, the first at {lost[0]:.3f} s."]
