"""The shortest pace plan in which each note is heard and read at its place.

The rules, exactly. All times are exact; the answer is the same each time.

* Notes are said in order of place, those at one place in the order given. At its place each has a hold of its own, of
  0 to ``longest_hold_s`` (or its ``least_hold_s``, when longer); those of one place follow each other. The end of the
  section may be held for up to ``longest_hold_s``, too.
* A note begins at most ``most_early_s`` before its hold begins and at most ``most_late_s`` after it ends, and not
  before the plan begins. It takes ``need_s``; the next one begins at least ``pause_s`` after that; the plan ends no
  sooner.
* A note with ``least_hold_s`` begins in its hold, which lasts at least that long from then on.
* Media plays between full speed and ``slowest``, in a corner no faster than its highest speed. A corner that reaches
  within `SLIVER_S` of another one, of a place, or of the section's begin or end counts as reaching it.
* Between corners a stretch runs at full speed: see `full_speed_stretches`. Stretches that take time from notes that do
  not fit are given up, and the remarks say so.
* A pinned speed or hold is kept whatever the rules say (all notes of a place share its pinned hold); when notes do not
  fit then, there is no plan.

Of all such plans it is a shortest one; of these one with the least hold time, so it holds only where slow motion does
not do; of these one whose notes begin nearest to their holds. The media from one place to the next plays at one speed,
as far as corners, stretches and pins allow; with given speeds at two neighbouring ones, the slower one first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from syncview.plan.pace_checks import check_pace
from syncview.plan.pace_misfits import misfit_error
from syncview.plan.pace_pieces import Layout, Piece, Stretch, corners_inside, full_speed_stretches
from syncview.plan.pace_plan import PacePlan
from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed, SaidNote
from syncview.plan.pace_telling import told_spans
from syncview.plan.pace_times import Crowd, PaceTimes, Passage, Station, find_times


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
    layout, stations = _laid_out(begin_media_s, end_media_s, ordered, Layout(corners, (), speeds, holds, rules))
    remarks = list[str]()
    while True:
        passages = [layout.pieces(before.media_s, after.media_s) for before, after in pairwise(stations)]
        times = find_times(stations, [_bounds(pieces) for pieces in passages], rules)
        if isinstance(times, PaceTimes):
            plan = PacePlan(told_spans(stations, passages, times, rules))
            return SolvedPace(plan, _note_times(ordered, times), tuple(remarks))
        given_up = [s for s in layout.stretches if any(_touches(crowd, s, ordered) for crowd in times)]
        if not given_up:
            raise misfit_error(times, ordered, layout)
        words = "is kept at full speed: the notes there need the time"
        remarks += [f"no stretch between {stretch.between} {words}" for stretch in given_up]
        layout = replace(layout, stretches=[s for s in layout.stretches if s not in given_up])


def _laid_out(
    begin_media_s: Fraction, end_media_s: Fraction, notes: Sequence[SaidNote], asked: Layout
) -> tuple[Layout, tuple[Station, ...]]:
    """The corners and full-speed stretches as they are in the section, and its stations."""
    places = [note.media_s for note in notes] + [hold.media_s for hold in asked.holds]
    corners = corners_inside(asked.corners, begin_media_s, end_media_s, places)
    stretches = full_speed_stretches(corners, places, asked.speeds, least_s=asked.rules.least_full_speed_s)
    stations = _stations(begin_media_s, end_media_s, notes, asked.holds)
    return replace(asked, corners=corners, stretches=stretches), stations


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


def _note_times(notes: Sequence[SaidNote], times: PaceTimes) -> tuple[NoteTime, ...]:
    return tuple(
        NoteTime(note.key, note.media_s, begin_s, begin_s + note.need_s)
        for note, begin_s in zip(notes, times.begins_s, strict=True)
    )
