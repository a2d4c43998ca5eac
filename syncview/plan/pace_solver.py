"""The shortest pace plan in which each note is heard and read at its place.

The rules, exactly. All times are exact; the answer is the same each time.

* Note ``i`` begins at ``s`` with ``arrive - most_early_s <= s <= leave + most_late_s``, where the picture reaches its
  place at ``arrive`` and goes on from it at ``leave``, and not before the plan begins. It takes
  ``max(speaking_s, reading_s, least_hold_s)``; the next one begins at least ``pause_s`` after it ends; the last one
  ends before the plan does. Notes are said in order of place, those at one place in the order given.
* A note with ``least_hold_s`` begins while the picture stands, and it stands at least that long from then on.
* Media plays between full speed and ``slowest``, in a corner no faster than its highest speed. At its place each note
  may hold up to ``longest_hold_s`` (or its ``least_hold_s``, when longer); the end may be held as long.
* Between corners a stretch runs at full speed: see `full_speed_stretches`. A stretch that leaves too little time for
  notes is given up, and said so in the remarks.
* A pinned speed or hold is kept whatever the rules say; if notes do not fit it, there is no plan.

Of all such plans it is a shortest one; of these one with the least hold time, so a hold begins only where slow motion
does not do; of these one whose notes begin nearest to their places. The media from one place to the next plays at one
speed, as far as corners, stretches and pins allow; with given speeds at two neighbouring ones, the slower one first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby, pairwise

from syncview.plan.pace_checks import check_pace
from syncview.plan.pace_misfits import misfit_error
from syncview.plan.pace_pieces import Layout, Piece, Stretch, full_speed_stretches
from syncview.plan.pace_plan import PacePlan, PaceSpan
from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed, SaidNote
from syncview.plan.pace_speeds import Played, play_pieces
from syncview.plan.pace_times import Crowd, PaceTimes, Passage, Station, find_times
from syncview.plan.pace_words import hold_why, played_why


@dataclass(frozen=True, slots=True)
class NoteTime:
    """When a note is said, in lesson time of the plan."""

    key: str
    media_s: Fraction
    """Its place."""
    begin_lesson_s: Fraction
    end_lesson_s: Fraction
    """When it has been heard and read, and its drawings seen."""


@dataclass(frozen=True, slots=True)
class SolvedPace:
    """A plan, when each note is said in it, and what a person should know about it."""

    plan: PacePlan
    notes: tuple[NoteTime, ...]
    """In the order in which they are said."""
    remarks: tuple[str, ...] = ()


def solve_pace(
    begin_media_s: Fraction,
    end_media_s: Fraction,
    notes: Sequence[SaidNote] = (),
    *,
    corners: Sequence[PacedCorner] = (),
    rules: PaceRules | None = None,
    pins: Sequence[PinnedSpeed | PinnedHold] = (),
) -> SolvedPace:
    """The shortest plan for a section of media; corners count as far as they lie in it.

    Raises:
        PlanError: Notes do not fit (``misfits`` names them), pins contradict each other, something lies outside the
            section, or a rule is none.
    """
    rules = rules or PaceRules()
    ordered = sorted(notes, key=lambda note: note.media_s)
    speeds = tuple(pin for pin in pins if isinstance(pin, PinnedSpeed))
    holds = tuple(pin for pin in pins if isinstance(pin, PinnedHold))
    check_pace(begin_media_s, end_media_s, ordered, corners=corners, rules=rules, speeds=speeds, holds=holds)
    inside = _inside(corners, begin_media_s, end_media_s)
    stations = _stations(begin_media_s, end_media_s, ordered, holds)
    places = [note.media_s for note in ordered] + [hold.media_s for hold in holds]
    stretches = full_speed_stretches(inside, places, speeds, least_s=rules.least_full_speed_s)
    remarks = list[str]()
    while True:
        layout = Layout(inside, stretches, speeds, holds, rules)
        passages = [layout.pieces(before.media_s, after.media_s) for before, after in pairwise(stations)]
        times = find_times(stations, [_bounds(pieces) for pieces in passages], rules)
        if isinstance(times, PaceTimes):
            return _solved(stations, passages, times, rules, tuple(remarks))
        kept = tuple(s for s in stretches if not any(_touches(crowd, s, ordered) for crowd in times))
        if kept == stretches:
            raise misfit_error(times, ordered, layout)
        words = "nothing need run at full speed: the notes there need the time"
        remarks += [f"between {stretch.between} {words}" for stretch in stretches if stretch not in kept]
        stretches = kept


def _inside(corners: Sequence[PacedCorner], begin_media_s: Fraction, end_media_s: Fraction) -> tuple[PacedCorner, ...]:
    """The corners as far as they lie in the section."""
    return tuple(
        replace(
            corner,
            begin_media_s=max(corner.begin_media_s, begin_media_s),
            end_media_s=min(corner.end_media_s, end_media_s),
        )
        for corner in corners
        if corner.begin_media_s < end_media_s and corner.end_media_s > begin_media_s
    )


def _stations(
    begin_media_s: Fraction, end_media_s: Fraction, notes: Sequence[SaidNote], holds: Sequence[PinnedHold]
) -> tuple[Station, ...]:
    said = {media_s: tuple(group) for media_s, group in groupby(notes, key=lambda note: note.media_s)}
    pinned = {hold.media_s: hold.lesson_s for hold in holds}
    return tuple(
        Station(media_s, said.get(media_s, ()), pinned.get(media_s))
        for media_s in sorted({begin_media_s, end_media_s, *said})
    )


def _bounds(pieces: Sequence[Piece]) -> Passage:
    """The least and the most time that pieces may take together."""
    least_s = sum((piece.lasts_s(piece.fastest) for piece in pieces), Fraction(0))
    return Passage(least_s, sum((piece.lasts_s(piece.slowest) for piece in pieces), Fraction(0)))


def _touches(crowd: Crowd, stretch: Stretch, notes: Sequence[SaidNote]) -> bool:
    """Whether a full-speed stretch takes time from a crowd of notes."""
    after_place = stretch.end_media_s > notes[crowd.first].media_s
    return after_place and (crowd.after == len(notes) or stretch.begin_media_s < notes[crowd.after].media_s)


def _solved(
    stations: Sequence[Station],
    passages: Sequence[tuple[Piece, ...]],
    times: PaceTimes,
    rules: PaceRules,
    remarks: tuple[str, ...],
) -> SolvedPace:
    notes = [note for station in stations for note in station.notes]
    said = tuple(
        NoteTime(note.key, note.media_s, begin_s, begin_s + note.need_s)
        for note, begin_s in zip(notes, times.begins_s, strict=True)
    )
    telling = _Telling(stations, notes, said, rules)
    for index, held_s in enumerate(times.holds_s):
        telling.hold(index, held_s)
        if index < len(passages):
            telling.play(index, play_pieces(passages[index], times.passages_s[index], speeds=rules.speeds))
    return SolvedPace(PacePlan(tuple(telling.spans)), said, remarks)


@dataclass(slots=True)
class _Telling:
    """Turns the solution into spans, each with its reason."""

    stations: Sequence[Station]
    notes: Sequence[SaidNote]
    said: Sequence[NoteTime]
    rules: PaceRules
    spans: list[PaceSpan] = field(default_factory=list)
    lesson_s: Fraction = Fraction(0)

    def hold(self, index: int, held_s: Fraction) -> None:
        """A hold at a station."""
        station = self.stations[index]
        heard = self._heard(station, held_s)
        drawn = [note for note in station.notes if note.least_hold_s]
        pinned = station.pinned_hold_s is not None
        why = hold_why(held_s, drawn, heard, pinned=pinned, rules=self.rules)
        self._add(station.media_s, station.media_s, held_s, why)

    def play(self, index: int, played: Sequence[Played]) -> None:
        """What plays from a station to the next."""
        following = self.stations[index + 1].notes
        before = f"the place of {following[0].key}" if following else "the end"
        heard = self._heard(self.stations[index], sum((part.lesson_s for part in played), Fraction(0)))
        for part in played:
            if part.piece.hold_s:
                why = hold_why(part.lesson_s, (), (), pinned=True, rules=self.rules)
            else:
                why = played_why(part.piece, part.speed, heard, before=before, rules=self.rules)
            self._add(part.begin_media_s, part.end_media_s, part.lesson_s, why)

    def _heard(self, station: Station, lasts_s: Fraction) -> list[SaidNote]:
        """The notes of this place and those before it that are heard in the coming time."""
        end_s = self.lesson_s + lasts_s
        return [
            note
            for note, time in zip(self.notes, self.said, strict=True)
            if time.begin_lesson_s < end_s and time.end_lesson_s > self.lesson_s and note.media_s <= station.media_s
        ]

    def _add(self, begin_media_s: Fraction, end_media_s: Fraction, lesson_s: Fraction, why: str) -> None:
        """Append a span, or lengthen the last one when nothing changes."""
        if not lesson_s:
            return
        self.lesson_s += lesson_s
        span = PaceSpan(begin_media_s, end_media_s, lesson_s, why)
        last = self.spans[-1] if self.spans else None
        if last is not None and not span.is_hold and (last.speed, last.why) == (span.speed, why):
            span = PaceSpan(last.begin_media_s, end_media_s, last.lesson_s + lesson_s, why)
            self.spans.pop()
        self.spans.append(span)
