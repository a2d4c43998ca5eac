"""Gears that a note claims, against the facts of a corner."""

from __future__ import annotations

from syncview.notes.check import Corners, Outcome, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import gear_words, number, unknown


def gear(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """A gear that is changed from, to, or held."""
    gears = at.facts.gears
    if gears.lowest.value is None or gears.down is None:
        return unknown(claim, gears.lowest)
    froms, tos = [change.from_gear for change in gears.down], [change.to_gear for change in gears.down]
    lowest = float(min([round(gears.lowest.value), *tos]))
    if claim.role == "from":
        if not froms:
            return Verdict(claim, "cannot tell", "no gear is changed down")
        outcome: Outcome = "agree" if claim.value in froms else "disagree"
        return _gear_verdict(claim, outcome, float(froms[0]), f"it comes from {gear_words(froms[0])}")
    if claim.value in (lowest, gears.lowest.value):
        return Verdict(claim, "agree", f"{gear_words(lowest)} is the lowest", claim.value)
    why = f"{gear_words(lowest)} is the lowest"
    if claim.role == "through" and claim.value in (*froms, *tos):
        return Verdict(claim, "agree", "passed on the way down", claim.value)
    if claim.role != "to" and claim.value in (*froms, *tos):
        return Verdict(claim, "cannot tell", f"it is used on the way ({why})", lowest)
    if claim.role == "elsewhere":
        return Verdict(claim, "cannot tell", f"where exactly is not said ({why})", lowest)
    return _gear_verdict(claim, "disagree", lowest, why)


def _gear_verdict(claim: Claim, outcome: Outcome, measured: float, why: str) -> Verdict:
    assert claim.value is not None
    return Verdict(claim, outcome, why, measured, measured - claim.value if outcome == "disagree" else None)


def gears_down(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """How many gears are changed down."""
    down = at.facts.gears.down
    if down is None:
        return unknown(claim, at.facts.gears.lowest)
    if any(change.to_gear <= 0 for change in down):
        return Verdict(claim, "cannot tell", "the log shows neutral between the gears")
    count = sum(change.from_gear - change.to_gear for change in down)
    return number(claim, float(count), 0.0, f"{count} gear{'' if count == 1 else 's'} down", shown)
