"""Whether a pace plan can be asked for like this: what a person entered is refused with its place and the remedy."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations

from syncview.plan.pace_rules import PacedCorner, PaceRules, PinnedHold, PinnedSpeed, PlanError, SaidNote


def check_pace(
    begin_media_s: Fraction,
    end_media_s: Fraction,
    notes: Sequence[SaidNote],
    *,
    corners: Sequence[PacedCorner],
    rules: PaceRules,
    speeds: Sequence[PinnedSpeed],
    holds: Sequence[PinnedHold],
) -> None:
    """Raise `PlanError` for the first thing that cannot be."""
    section = _words(begin_media_s, end_media_s)
    if end_media_s <= begin_media_s:
        raise PlanError(f"the section {section} has no length", "Choose a lap or a part of one.")
    _check_rules(rules)
    for note in notes:
        _check_note(note)
    if len({note.key for note in notes}) < len(notes):
        raise PlanError("two notes have the same key", "Give each note a key of its own.")
    places = [(f"note {note.key}", note.media_s) for note in notes]
    places += [(f"the hold set at {_s(pin.media_s)}", pin.media_s) for pin in holds]
    places += [
        (f"the speed set for {_pin(pin)}", mark) for pin in speeds for mark in (pin.begin_media_s, pin.end_media_s)
    ]
    for what, media_s in places:
        if not begin_media_s <= media_s <= end_media_s:
            problem = f"{what} lies at {_s(media_s)}, outside the section {section}"
            raise PlanError(problem, "Leave it out, or show more of the recording.")
    for corner in corners:
        _check_corner(corner, rules)
    _check_speeds(speeds)
    _check_holds(holds, notes)


def _check_rules(rules: PaceRules) -> None:
    if not 0 < rules.slowest <= 1:
        raise PlanError(f"{rules.slowest} cannot be the slowest speed", "Give a share of full speed, such as 1/4.")
    for speed in rules.speeds or ():
        if not rules.slowest <= speed <= 1:
            problem = f"the speed {speed} is not between the slowest, {rules.slowest}, and full speed"
            raise PlanError(problem, "Leave it out, or lower the slowest.")
    times = {
        "longest hold": rules.longest_hold_s,
        "least full speed": rules.least_full_speed_s,
        "pause between notes": rules.pause_s,
        "time that a note may begin early": rules.most_early_s,
        "time that a note may begin late": rules.most_late_s,
    }
    for name, time_s in times.items():
        if time_s < 0:
            raise PlanError(f"{_s(time_s)} cannot be the {name}", "Give 0 s or more.")


def _check_note(note: SaidNote) -> None:
    for name, time_s in (("voice", note.speaking_s), ("reading time", note.reading_s), ("hold", note.least_hold_s)):
        if time_s < 0:
            raise PlanError(f"the {name} of note {note.key} cannot last {_s(time_s)}", "Give 0 s or more.")


def _check_corner(corner: PacedCorner, rules: PaceRules) -> None:
    if corner.end_media_s <= corner.begin_media_s:
        problem = f"{corner.name} {_words(corner.begin_media_s, corner.end_media_s)} has no length"
        raise PlanError(problem, "Check the circuit's corners.")
    if not rules.floor <= corner.highest_speed <= 1:
        problem = f"the highest speed of {corner.name}, {corner.highest_speed}, is not between {rules.floor} and 1"
        raise PlanError(problem, "Raise it, or allow a slower speed.")


def _check_speeds(speeds: Sequence[PinnedSpeed]) -> None:
    for pin in speeds:
        if pin.end_media_s <= pin.begin_media_s:
            raise PlanError(f"the speed set for {_pin(pin)} is for no media", "Give the earlier place first.")
        if not 0 < pin.speed <= 1:
            problem = f"{pin.speed} cannot be the speed for {_pin(pin)}"
            raise PlanError(problem, "Give a share of full speed, such as 1/2; for a still, set a hold.")
    for before, after in combinations(sorted(speeds, key=lambda pin: (pin.begin_media_s, pin.end_media_s)), 2):
        if after.begin_media_s < before.end_media_s and after.speed != before.speed:
            problem = f"{_pin(before)} is set to {before.speed} and {_pin(after)} to {after.speed}"
            raise PlanError(f"two speeds are set for the same media: {problem}", "Take one of them back.")


def _check_holds(holds: Sequence[PinnedHold], notes: Sequence[SaidNote]) -> None:
    set_s: dict[Fraction, Fraction] = {}
    for pin in holds:
        if pin.lesson_s < 0:
            raise PlanError(f"a hold at {_s(pin.media_s)} cannot last {_s(pin.lesson_s)}", "Give 0 s or more.")
        other_s = set_s.setdefault(pin.media_s, pin.lesson_s)
        if other_s != pin.lesson_s:
            problem = f"two holds are set at {_s(pin.media_s)}: {_s(other_s)} and {_s(pin.lesson_s)}"
            raise PlanError(problem, "Take one of them back.")
    for note in notes:
        held_s = set_s.get(note.media_s)
        if held_s is not None and held_s < note.least_hold_s:
            problem = f"the hold of {_s(held_s)} set at note {note.key} is shorter than its drawing needs"
            raise PlanError(f"{problem}, {_s(note.least_hold_s)}", "Set a longer hold there, or none.")


def _pin(pin: PinnedSpeed) -> str:
    return _words(pin.begin_media_s, pin.end_media_s)


def _words(begin_s: Fraction, end_s: Fraction) -> str:
    return f"{float(begin_s):.2f} to {float(end_s):.2f} s"


def _s(time_s: Fraction) -> str:
    return f"{float(time_s):.2f} s"
