"""Places that a note claims, against boards and against the apex."""

from __future__ import annotations

from syncview.notes.check import Board, Corners, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import in_other_unit, length_words, number, unknown
from syncview.track.brake_facts import NOT_BRAKED


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


def board(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Where the brakes go on against a board."""
    subject, _, relation = claim.role.partition(" ")
    if relation not in ("", "between", "at", "past", "before", "just past", "just before"):
        return Verdict(claim, "cannot tell", "what is there is not said")
    if subject not in ("brake", ""):
        return Verdict(claim, "cannot tell", f"the facts hold where the brakes go on, not this ({subject})")
    names = claim.marker.split() if relation == "between" else [claim.marker]
    boards = [_board_at(name, at, shown) for name in names]
    missing = [one for one in boards if isinstance(one, str)]
    if missing:
        return Verdict(claim, "cannot tell", missing[0])
    onset = at.facts.brake.distance_m
    if onset.value is None:
        if onset.why_unknown == NOT_BRAKED and subject:
            return Verdict(claim, "disagree", "the brakes are not used")
        return unknown(claim, onset)
    half = shown.lap_length_m / 2
    past = [(onset.value - one.at_m + half) % shown.lap_length_m - half for one in boards if not isinstance(one, str)]
    verdict = _board_verdict(claim, relation, past, names, shown)
    if verdict.outcome == "disagree" and not subject:
        return Verdict(claim, "cannot tell", f"what is there is not said ({verdict.why})", verdict.measured)
    return verdict


def _board_verdict(claim: Claim, relation: str, past: list[float], names: list[str], shown: ShownOver) -> Verdict:
    t, off_m = shown.tolerances, past[0]
    side = "past" if off_m >= 0 else "before"
    what = f"{names[0]} board" if names[0][0].isdigit() else names[0]
    words = f"brakes on {length_words(abs(off_m), shown)} {side} the {what}"
    if not relation:
        tolerance = max(t.length_m, 0.2 * abs(claim.value or 0.0))
        verdict = number(claim, off_m, tolerance, words, shown)
        if verdict.outcome == "disagree" and not claim.unit_said:
            other = number(in_other_unit(claim, shown), off_m, tolerance, words, shown)
            if other.outcome == "agree":
                return Verdict(claim, "cannot tell", f"the unit is not said ({words})", off_m)
        return verdict
    if relation == "between":
        right = past[0] >= -t.length_m and past[1] <= t.length_m
        return Verdict(claim, "agree" if right else "disagree", words, off_m, None if right else off_m)
    low, high = {
        "at": (-t.at_m, t.at_m),
        "past": (-t.length_m, float("inf")),
        "before": (float("-inf"), t.length_m),
        "just past": (-t.length_m, t.near_m),
        "just before": (-t.near_m, t.length_m),
    }[relation]
    right = low <= off_m <= high
    return Verdict(claim, "agree" if right else "disagree", words, off_m, None if right else off_m)


def from_apex(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Where the brakes go on, the throttle comes back or is full, in metres from the apex."""
    facts = at.facts
    known = {
        "brake": facts.brake.before_apex_m,
        "slowest": facts.slowest.after_apex_m,
        "pickup": facts.pickup.after_apex_m,
        "full": facts.full.after_apex_m,
    }
    fact = known.get(claim.role)
    if fact is None:
        return Verdict(claim, "cannot tell", "what is there is not said, or no fact holds it")
    if fact.value is None:
        return unknown(claim, fact)
    after_m = -fact.value if claim.role == "brake" else fact.value
    words = f"{length_words(abs(after_m), shown)} {'past' if after_m >= 0 else 'before'} the apex"
    tolerance = max(shown.tolerances.length_m, 0.1 * abs(claim.value or 0.0))
    return number(claim, after_m, tolerance, words, shown)


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
