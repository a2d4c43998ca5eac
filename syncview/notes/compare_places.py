"""Places that a note claims, against boards and against the apex."""

from __future__ import annotations

from dataclasses import dataclass

from syncview.notes.check import Board, Corners, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import in_other_unit, length_words, number, unknown, within
from syncview.track.brake_facts import NOT_BRAKED
from syncview.track.corner_facts import Fact


def _board_at(name: str, at: Corners, shown: ShownOver) -> Board | str:
    """The board of that name on the way to a corner, or why there is none."""
    found = [
        board
        for board in shown.boards
        if board.name.lower() == name.lower()
        and board.corner in (None, at.corner.number)
        and 0 <= (at.corner.apex_m - board.at_m) % shown.lap_length_m <= FURTHEST_BOARD_M
    ]
    if len(found) == 1:
        return found[0]
    what = f"a {name} board" if name[0].isdigit() else f"“{name}”"
    return f"no marker is known for {what} here" if not found else f"there are several markers for {what} here"


FURTHEST_BOARD_M = 500.0
"""Boards further from the apex belong to another corner. Common practice, no source."""


HANDS_BEFORE_PATH_S = 0.5
"""A driver turns in when the hands move; the fact is where the path bends, which is this much later at most (reaction
of steering and tyres, and a gentle first turn; common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Measured:
    """What is held against a board: where it is on the lap, and how much earlier it may have begun."""

    at_m: Fact
    words: str
    earlier_m: float = 0.0


def _measured(subject: str, at: Corners) -> _Measured | None:
    """What the facts hold of a subject; None when they hold nothing of it."""
    facts = at.facts
    if subject in ("brake", ""):
        return _Measured(facts.brake.distance_m, "brakes on")
    if subject == "turn_in":
        return _Measured(facts.turn_in.distance_m, "turns in", _hands_earlier_m(at))
    return None


def _hands_earlier_m(at: Corners) -> float:
    return HANDS_BEFORE_PATH_S * (at.facts.turn_in.speed_mps.value or 0.0)


def board(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Where the brakes go on, or the car turns in, against a board."""
    subject, _, relation = claim.role.partition(" ")
    if relation not in ("", "between", "at", "past", "before", "just past", "just before"):
        return Verdict(claim, "cannot tell", "what is there is not said")
    what = _measured(subject, at)
    if what is None:
        return Verdict(claim, "cannot tell", f"the facts hold where the brakes go on, not this ({subject})")
    names = claim.marker.split() if relation == "between" else [claim.marker]
    boards = [_board_at(name, at, shown) for name in names]
    missing = [one for one in boards if isinstance(one, str)]
    if missing:
        return Verdict(claim, "cannot tell", missing[0])
    if what.at_m.value is None:
        if what.at_m.why_unknown == NOT_BRAKED and subject:
            return Verdict(claim, "disagree", "the brakes are not used")
        return unknown(claim, what.at_m)
    half = shown.lap_length_m / 2
    past = [(what.at_m.value - one.at_m + half) % shown.lap_length_m - half for one in boards if isinstance(one, Board)]
    verdict = _board_verdict(claim, relation, past, names, what, shown)
    if not subject:
        return Verdict(claim, "cannot tell", f"what is there is not said ({verdict.why})", verdict.measured)
    return verdict


def _board_verdict(
    claim: Claim, relation: str, past: list[float], names: list[str], what: _Measured, shown: ShownOver
) -> Verdict:
    t, off_m = shown.tolerances, past[0]
    side = "past" if off_m >= 0 else "before"
    name = f"{names[0]} board" if names[0][0].isdigit() else names[0]
    words = f"{what.words} {length_words(abs(off_m), shown)} {side} the {name}"
    if not relation:
        return _so_far_past(claim, off_m, words, what.earlier_m, shown)
    if relation == "between":
        right = past[0] >= -t.length_m and past[1] <= t.length_m + what.earlier_m
        return Verdict(claim, "agree" if right else "disagree", words, off_m, None if right else off_m)
    low, high = {
        "at": (-t.at_m, t.at_m),
        "past": (-t.length_m, float("inf")),
        "before": (float("-inf"), t.length_m),
        "just past": (-t.length_m, t.near_m),
        "just before": (-t.near_m, t.length_m),
    }[relation]
    right = low <= off_m <= high + what.earlier_m
    return Verdict(claim, "agree" if right else "disagree", words, off_m, None if right else off_m)


def _so_far_past(claim: Claim, off_m: float, words: str, earlier_m: float, shown: ShownOver) -> Verdict:
    """So many metres past a board."""
    tolerance = max(shown.tolerances.length_m, 0.2 * abs(claim.value or 0.0))
    verdict = _began(claim, off_m, earlier_m, tolerance, words, shown)
    if verdict.outcome == "agree" or claim.unit_said:
        return verdict
    other = _began(in_other_unit(claim, shown), off_m, earlier_m, tolerance, words, shown)
    unsure = Verdict(claim, "cannot tell", f"the unit is not said ({words})", off_m)
    return unsure if other.outcome == "agree" else verdict


def _began(
    claim: Claim, measured_m: float, earlier_m: float, tolerance: float, words: str, shown: ShownOver
) -> Verdict:
    """A number that fits what was measured or anything up to `earlier_m` before it."""
    assert claim.value is not None
    nearest_m = min(max(claim.value, measured_m - earlier_m), measured_m)
    if within(claim, nearest_m, tolerance, shown):
        return Verdict(claim, "agree", words, measured_m)
    return number(claim, measured_m, tolerance, words, shown)


def from_apex(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Where the brakes go on, the car turns in, the throttle comes back or is full, in metres from the apex."""
    facts = at.facts
    known = {
        "brake": facts.brake.before_apex_m,
        "turn_in": facts.turn_in.before_apex_m,
        "slowest": facts.slowest.after_apex_m,
        "pickup": facts.pickup.after_apex_m,
        "full": facts.full.after_apex_m,
    }
    fact = known.get(claim.role)
    if fact is None:
        return Verdict(claim, "cannot tell", "what is there is not said, or no fact holds it")
    if fact.value is None:
        return unknown(claim, fact)
    after_m = -fact.value if claim.role in ("brake", "turn_in") else fact.value
    words = f"{length_words(abs(after_m), shown)} {'past' if after_m >= 0 else 'before'} the apex"
    tolerance = max(shown.tolerances.length_m, 0.1 * abs(claim.value or 0.0))
    earlier_m = _hands_earlier_m(at) if claim.role == "turn_in" else 0.0
    return _began(claim, after_m, earlier_m, tolerance, words, shown)


def throttle_place(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """The throttle before, at or after the apex."""
    who, _, side = claim.role.partition(" ")
    fact = at.facts.full.after_apex_m if who == "full" else at.facts.pickup.after_apex_m
    if fact.value is None:
        return unknown(claim, fact)
    t = shown.tolerances
    right = {"before": fact.value <= t.length_m, "at": abs(fact.value) <= t.at_m, "after": fact.value >= -t.length_m}
    words = f"{length_words(abs(fact.value), shown)} {'past' if fact.value >= 0 else 'before'} the apex"
    agrees = right[side]
    if not agrees and who == "pickup" and fact.value < 0:
        return Verdict(claim, "cannot tell", f"it is picked up {words}, and may be held there", fact.value)
    return Verdict(claim, "agree" if agrees else "disagree", words, fact.value, None if agrees else fact.value)
