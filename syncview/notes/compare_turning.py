"""What a note claims of the wheel and of the path, against the facts of a corner."""

from __future__ import annotations

from syncview.notes.check import Corners, Outcome, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import length_words, number, unknown
from syncview.notes.drafts import NEARLY_STRAIGHT, STILL_TURNED

PAST_DOUBT_TURNED = 0.95


def wheel(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """How far the wheel is turned when the throttle is full (or picked up)."""
    who, _, level = claim.role.partition(" ")
    facts = at.facts
    peak = facts.steering.peak_rad
    groups = [facts.full] if who == "full" else [facts.full, facts.pickup]
    held = [group.steering_rad.value for group in groups]
    if peak.value is None or peak.value <= 0 or held[0] is None:
        return unknown(claim, peak if peak.value is None else facts.full.steering_rad)
    shares = [value / peak.value for value in held if value is not None]
    words = f"{100 * max(shares[0], 0.0):.0f} % of the steering is held at full throttle"
    most = NEARLY_STRAIGHT if level == "straight" else STILL_TURNED
    wrong_above = STILL_TURNED if level == "straight" else PAST_DOUBT_TURNED
    if all(share <= most for share in shares) or (who == "pickup" and level == "opens" and shares[0] <= most):
        return Verdict(claim, "agree", words, shares[0])
    outcome: Outcome = "disagree" if all(share > wrong_above for share in shares) else "cannot tell"
    return Verdict(claim, outcome, words, shares[0])


CLEARLY_LATE_M = 5.0
"""An apex this far from the corner's usual one is early or late."""


def apex_timing(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Early or late against the corner's usual apex; where the car comes near the inside is not in the data."""
    after = at.facts.apex.after_apex_m
    if after.value is None:
        return unknown(claim, after)
    side = "later" if after.value >= 0 else "earlier"
    words = f"the path turns most {length_words(abs(after.value), shown)} {side} than usual"
    wanted = after.value if claim.role == "late" else -after.value
    if wanted >= CLEARLY_LATE_M:
        return Verdict(claim, "agree", words, after.value)
    return Verdict(claim, "cannot tell", f"where the car meets the inside is not measured; {words}", after.value)


def corrections(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Steering corrections."""
    count = at.facts.steering.reversals
    if count.value is None:
        return unknown(claim, count)
    return number(claim, count.value, 0.0, f"{count.value:.0f} steering corrections", shown)
