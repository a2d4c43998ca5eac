"""The notes of a project as captions of a film."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from syncview.lesson.drafting import corner_at
from syncview.lesson.lap_film import LapFilm
from syncview.notes.note import Note, has_words
from syncview.plan.caption_limits import CaptionLimits
from syncview.plan.caption_timing import CaptionPlan, Spoken, plan_captions
from syncview.plan.film_span import FilmSpan
from syncview.track.corners import Corner
from syncview_codecs.captions.cue import Cue


@dataclass(frozen=True, slots=True)
class FilmCaptions:
    """Captions in film time and what a person should know about them."""

    cues: tuple[Cue, ...]
    remarks: tuple[str, ...]
    """Notes that could not be shown, and what of legibility could not be kept, summed up in a few sentences."""
    unmet: tuple[str, ...]
    """Every limit of legibility that a caption does not keep, one sentence each."""


def clip_captions(film: LapFilm, corner: Corner, span: FilmSpan) -> FilmCaptions:
    """Time the notes about one corner over a clip of it; what is said on the way to it is said from the start."""
    session = film.session
    about = tuple(n for n in session.project.notes if corner_at(session, n.lap_distance_m) == corner)
    return _timed(film, about, span, pull_in=True)


def film_captions(film: LapFilm, notes: tuple[Note, ...]) -> FilmCaptions:
    """Time the notes as captions over a film of this lap."""
    return _timed(film, notes, film.span, pull_in=False)


def _timed(film: LapFilm, notes: tuple[Note, ...], shown: FilmSpan, *, pull_in: bool) -> FilmCaptions:
    spoken, remarks = [], []
    for note in notes:
        media_s = film.media_s_at(note.lap_distance_m)
        if not has_words(note):
            remarks.append(f"note {note.key} has no words yet: not shown")
        elif media_s != media_s:  # NaN: no such place on this lap
            length = film.session.track.lap_length_m
            remarks.append(
                f"note {note.key} lies at {note.lap_distance_m:.0f} m, past the lap's {length:.0f} m: not shown"
            )
        elif shown.shows(media_s) or (pull_in and media_s < shown.begin_s):
            spoken.append(Spoken(max(shown.to_film_ms(media_s), 0), note.text, note.key))
        else:
            remarks.append(f"note {note.key} lies outside the film: not shown")
    plan = plan_captions(spoken, film_ms=shown.film_ms, limits=_limits(film.recording.nominal_rate))
    return FilmCaptions(tuple(to_cues(plan)), (*remarks, *summed_up(plan)), tuple(u.words for u in plan.unmet))


_SUMMARIES = (
    (("chars_per_s", "words_per_minute", "least_ms"), "stay for less time than reading them comfortably takes"),
    (("earliest_before_ms", "latest_after_ms"), "come earlier or later than the place they speak of allows"),
    (("chars_per_line", "lines"), "have words too long for a line"),
)


def summed_up(plan: CaptionPlan) -> list[str]:
    """What of legibility could not be kept: a sentence per kind of limit with its worst case."""
    sentences = []
    for limits, words in _SUMMARIES:
        faults = [fault for fault in plan.unmet if fault.limit in limits]
        if faults:
            worst = max(faults, key=lambda fault: max(fault.actual / fault.allowed, fault.allowed / fault.actual))
            count = len({fault.cue for fault in faults})
            sentences.append(f"{count} of {len(plan.cues)} captions {words}; worst, {worst.words}")
    return sentences


def _limits(frames_per_s: Fraction) -> CaptionLimits:
    """The usual limits, with the least gap of two frames in this film's frames."""
    return CaptionLimits(gap_ms=-int(-2000 // frames_per_s))


def to_cues(plan: CaptionPlan) -> list[Cue]:
    """The plan's captions, each named after its note."""
    counts: dict[str, int] = {}
    cues = []
    for cue in plan.cues:
        counts[cue.key] = counts.get(cue.key, 0) + 1
        identifier = cue.key if counts[cue.key] == 1 else f"{cue.key}-{counts[cue.key]}"
        cues.append(Cue(cue.start_ms, cue.end_ms, cue.text, identifier))
    return cues
