"""The lesson as planned: its sections in order, when each note is said and read, its chapters.

First a card with the day's conditions, then the lap at full speed, then the breakdown in which the pace plan waits for
the words, then the lap time with the cautions. Each lap section has its own pace plan; the lesson strings them together
and is the only converter between lesson time and media time.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

import numpy as np

from syncview.lesson.chapters import corner_title
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.drafting import corner_at
from syncview.lesson.lap_film import LapFilm, lap_film
from syncview.lesson.lesson_cards import closing_card, corner_words, intro_card
from syncview.notes.note import Note, has_words
from syncview.plan.caption_limits import CaptionLimits
from syncview.plan.chapter_rules import ChapterPlan, fit_chapters
from syncview.plan.film_rate import film_rate
from syncview.plan.lesson_choices import LessonChoices, checked_choices, speed_of, speeds_of
from syncview.plan.pace_plan import PacePlan
from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed, SaidNote
from syncview.plan.pace_solver import NoteTime, solve_pace
from syncview.plan.said_captions import note_reading_s
from syncview.plan.speaking import speaking_s
from syncview.track.laps import format_ms
from syncview_codecs.chapters.chapter import Chapter

if TYPE_CHECKING:
    from syncview.gauges.title_card import TitleCard
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording
    from syncview.track.laps import Lap

SectionKind = Literal["card", "hot lap", "breakdown"]
LEAST_DRAWN_S = Fraction(3)
"""A still that is drawn on stands at least this long, so that it can be taken in. No source."""


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the lesson."""

    kind: SectionKind
    title: str
    """How chapters call it."""
    begin_s: Fraction
    """Lesson time."""
    length_s: Fraction
    pace: PacePlan | None = None
    """None for a card."""
    card: TitleCard | None = None

    @property
    def end_s(self) -> Fraction:
        """Lesson time."""
        return self.begin_s + self.length_s

    def to_media_s(self, lesson_s: Fraction) -> Fraction | None:
        """Media time shown at a lesson time of this section; None on a card."""
        return None if self.pace is None else self.pace.to_media_s(lesson_s - self.begin_s)


@dataclass(frozen=True, slots=True)
class SaidAt:
    """A note in the lesson."""

    note: Note
    media_s: Fraction
    """The moment of the recording that it speaks of."""
    begin_s: Fraction
    """Lesson time at which it begins to be said."""
    end_s: Fraction
    """Lesson time at which it has been heard and read."""
    speaking_s: Fraction
    is_estimate: bool
    """Whether the speaking time is worked out from the count of words."""


@dataclass(frozen=True, slots=True, eq=False)
class LessonPlan:
    """Everything about the lesson that does not depend on how it is rendered."""

    film: LapFilm
    spans: tuple[CornerSpan, ...]
    sections: tuple[Section, ...]
    said: tuple[SaidAt, ...]
    """In order of lesson time."""
    chapters: ChapterPlan
    remarks: tuple[str, ...]

    @property
    def length_s(self) -> Fraction:
        """Lesson time."""
        return self.sections[-1].end_s

    @property
    def rate(self) -> Fraction:
        """Pictures of the lesson per second."""
        return lesson_rate(self.film.recording)

    @property
    def frame_count(self) -> int:
        """How many pictures the lesson has: number k is shown from lesson time k / rate."""
        return math.ceil(self.length_s * self.rate)

    @property
    def breakdown(self) -> Section:
        """The section in which the notes are said."""
        return next(section for section in self.sections if section.kind == "breakdown")

    def section_at(self, lesson_s: Fraction) -> Section:
        """The section on screen at a lesson time; raises `ValueError` outside the lesson."""
        for section in self.sections:
            if section.begin_s <= lesson_s < section.end_s:
                return section
        raise ValueError(f"lesson time {float(lesson_s)} s is not in the lesson")


def plan_lesson(
    session: Session,
    recording: Recording,
    lap: Lap,
    *,
    voices_s: Mapping[str, Fraction] | None = None,
) -> LessonPlan:
    """Plan the lesson of a lap as the project's choices say.

    `voices_s` has the length of each note's voice by the note's key; the others are estimated from their words. Raises
    `PlanError` when the notes cannot be said where they belong, `ChoiceError` for a choice that cannot be, and
    what `lap_film` raises.
    """
    choices = checked_choices(session.project.lesson)
    film = lap_film(session, recording, lap, before_s=choices.before_s, after_s=choices.after_s)
    spans = corner_spans(session, lap)
    placed, remarks = _placed_notes(film)
    wanted = [_to_be_said(note, media_s, choices, voices_s or {}) for note, media_s in placed]
    solved = solve_pace(
        film.span.begin_s,
        film.span.end_s,
        wanted,
        corners=_paced_corners(film, spans, placed, choices),
        rules=pace_rules(choices),
        pins=_pins(film, placed, choices),
    )
    sections = tuple(_sections(film, spans, solved.plan, choices))
    breakdown = next(section for section in sections if section.kind == "breakdown")
    said = _said(placed, wanted, solved.notes, breakdown, voices_s or {})
    chapters = _chapters(film, spans, sections)
    return LessonPlan(film, spans, sections, said, chapters, (*remarks, *solved.remarks, *chapters.notes))


def pace_rules(choices: LessonChoices) -> PaceRules:
    """The pace plan's rules as the coach chose them."""
    return PaceRules(
        slowest=speed_of(choices.slowest),
        speeds=speeds_of(choices.speeds),
        longest_hold_s=_fraction(choices.longest_hold_s),
        least_full_speed_s=_fraction(choices.least_full_speed_s),
    )


def lesson_rate(recording: Recording) -> Fraction:
    """Pictures a second that a lesson of this recording has."""
    steps = np.diff(recording.frames.pts)
    usual = Fraction(int(np.median(steps))) * recording.frames.time_base if steps.size else 1 / recording.nominal_rate
    return film_rate(recording.nominal_rate, usual_step_s=usual, is_variable=recording.is_variable_rate)


def caption_limits(rate: Fraction) -> CaptionLimits:
    """The usual limits, with the least gap of two pictures of this film."""
    return CaptionLimits(gap_ms=-int(-2000 // rate))


def _fraction(value: float) -> Fraction:
    """A number that a person wrote, to the microsecond."""
    return Fraction(round(value * 1_000_000), 1_000_000)


def _placed_notes(film: LapFilm) -> tuple[list[tuple[Note, Fraction]], list[str]]:
    """The notes that this lap passes, with the moments at which it does, and a sentence for each of the others."""
    placed, remarks = [], []
    for note in film.session.project.notes:
        media_s = film.media_s_at(note.lap_distance_m)
        if not has_words(note):
            remarks.append(f"note {note.key} has no words yet: left out")
        elif math.isnan(media_s):
            length = film.session.track.lap_length_m
            remarks.append(
                f"note {note.key} lies at {note.lap_distance_m:.0f} m, past the lap's {length:.0f} m: left out"
            )
        else:
            placed.append((note, min(max(_fraction(media_s), film.span.begin_s), film.span.end_s)))
    return placed, remarks


def _to_be_said(note: Note, media_s: Fraction, choices: LessonChoices, voices_s: Mapping[str, Fraction]) -> SaidNote:
    spoken = voices_s.get(note.key)
    if spoken is None:
        spoken = speaking_s(note.text, words_per_minute=choices.words_per_minute)
    return SaidNote(
        key=note.key,
        media_s=media_s,
        speaking_s=spoken,
        reading_s=note_reading_s(note.text),
        least_hold_s=LEAST_DRAWN_S if note.drawings else Fraction(0),
    )


def _paced_corners(
    film: LapFilm, spans: Sequence[CornerSpan], placed: Sequence[tuple[Note, Fraction]], choices: LessonChoices
) -> list[PacedCorner]:
    """The corners in media time; those that a note is about play no faster than the coach allows."""
    spoken_of = {corner_at(film.session, note.lap_distance_m) for note, _ in placed}
    highest = speed_of(choices.corner_speed)
    found = []
    for span in spans:
        begin, end = (
            min(max(_fraction(film.clock.to_media_s(log_s)), film.span.begin_s), film.span.end_s)
            for log_s in (span.begin_log_s, span.end_log_s)
        )
        if begin < end:
            about = span.corner in spoken_of
            found.append(PacedCorner(begin, end, corner_words(span), highest if about else Fraction(1)))
    return found


def _pins(
    film: LapFilm, placed: Sequence[tuple[Note, Fraction]], choices: LessonChoices
) -> list[PinnedSpeed | PinnedHold]:
    pins: list[PinnedSpeed | PinnedHold] = [
        PinnedHold(media_s, _fraction(note.hold_s)) for note, media_s in placed if note.hold_s is not None
    ]
    for pin in choices.pinned:
        begin, end = (film.media_s_at(place) for place in (pin.begin_m, min(pin.end_m, _last_place(film))))
        if begin < end:
            pins.append(PinnedSpeed(_fraction(begin), _fraction(end), speed_of(pin.speed)))
    return pins


def _last_place(film: LapFilm) -> float:
    return math.nextafter(film.session.track.lap_length_m, 0)


def _sections(
    film: LapFilm, spans: Sequence[CornerSpan], breakdown: PacePlan, choices: LessonChoices
) -> Iterator[Section]:
    begin = Fraction(0)
    rate = lesson_rate(film.recording)
    lap_words = f"Lap {film.lap.number}, {format_ms(film.lap.time_ms)}"
    if choices.intro_s > 0:
        card = intro_card(film, choices)
        length = _whole_pictures(choices.intro_s, rate)
        yield Section("card", card.heading, begin, length, card=card)
        begin += length
    if choices.hot_lap:
        full = PacePlan.at_full_speed(film.span.begin_s, film.span.end_s, why="the hot lap runs at full speed")
        yield Section("hot lap", f"{lap_words} at full speed", begin, full.length_s, pace=full)
        begin += full.length_s
    yield Section("breakdown", f"{lap_words} in slow motion", begin, breakdown.length_s, pace=breakdown)
    begin += breakdown.length_s
    if choices.closing_s > 0:
        length = _whole_pictures(choices.closing_s, rate)
        yield Section("card", "Lap time", begin, length, card=closing_card(film, spans))


def _whole_pictures(seconds: float, rate: Fraction) -> Fraction:
    """The shortest time of whole pictures that is not below `seconds`."""
    return math.ceil(_fraction(seconds) * rate) / rate


def _said(
    placed: Sequence[tuple[Note, Fraction]],
    wanted: Sequence[SaidNote],
    times: Sequence[NoteTime],
    breakdown: Section,
    voices_s: Mapping[str, Fraction],
) -> tuple[SaidAt, ...]:
    by_key = {time.key: time for time in times}
    said = [
        SaidAt(
            note,
            media_s,
            breakdown.begin_s + by_key[note.key].begin_lesson_s,
            breakdown.begin_s + by_key[note.key].end_lesson_s,
            asked.speaking_s,
            is_estimate=note.key not in voices_s,
        )
        for (note, media_s), asked in zip(placed, wanted, strict=True)
    ]
    return tuple(sorted(said, key=lambda item: item.begin_s))


def _chapters(film: LapFilm, spans: Sequence[CornerSpan], sections: Sequence[Section]) -> ChapterPlan:
    """A chapter for each section, and in the breakdown one for each corner."""
    starts: list[tuple[Fraction, str]] = []
    for section in sections:
        starts.append((section.begin_s, section.title))
        if section.kind == "breakdown" and section.pace is not None:
            for span in spans:
                media_s = _fraction(film.clock.to_media_s(span.begin_log_s))
                if section.pace.begin_media_s < media_s < section.pace.end_media_s:
                    starts.append((section.begin_s + section.pace.to_lesson_s(media_s), corner_title(span.corner)))
    film_ms = int(sections[-1].end_s * 1000)
    begins = [(round(begin * 1000), words) for begin, words in starts]
    ends = [begin for begin, _ in begins[1:]] + [film_ms]
    chapters = [Chapter(begin, end, words) for (begin, words), end in zip(begins, ends, strict=True) if end > begin]
    return fit_chapters(chapters, film_ms=film_ms)
