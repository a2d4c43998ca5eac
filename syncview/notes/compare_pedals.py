"""What a note claims of the brake and of the throttle, against the facts of a corner."""

from __future__ import annotations

from syncview.notes.check import Corners, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import length_words, number, unknown
from syncview.shown_units import BAR_PA, PSI_PA
from syncview.track.brake_facts import NOT_BRAKED
from syncview.track.corner_facts import Fact


def brake(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Peak of the brake, as a share of its travel or as a pressure."""
    peak = at.facts.brake.peak
    if peak.value is None:
        if peak.why_unknown == NOT_BRAKED:
            return Verdict(claim, "disagree", "the brakes are not used")
        return unknown(claim, peak)
    if peak.unit != claim.unit:
        kind = "pressure" if peak.unit == "Pa" else "a share of the pedal"
        return Verdict(claim, "cannot tell", f"the log holds the brake as {kind}")
    if claim.unit == "1":
        return number(claim, peak.value, shown.tolerances.pedal, f"{100 * peak.value:.0f} % at most", shown)
    words = f"{peak.value / BAR_PA:.0f} bar at most" if not shown.imperial else f"{peak.value / PSI_PA:.0f} psi at most"
    return number(claim, peak.value, shown.tolerances.pedal * peak.value, words, shown)


def not_held(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """What no fact holds."""
    return Verdict(claim, "cannot tell", "no fact of a corner holds it")


def flat(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """Whether the throttle stays open and the brakes untouched."""
    facts = at.facts
    worked = "it is braked" if facts.brake.distance_m.known else "it is lifted" if facts.pickup.distance_m.known else ""
    if worked:
        return Verdict(claim, "agree" if claim.negated else "disagree", worked)
    not_braked = facts.brake.distance_m.why_unknown == NOT_BRAKED
    if at.corner.flat or (not_braked and _open(facts.pickup.distance_m)):
        return Verdict(claim, "disagree" if claim.negated else "agree", "the throttle stays open")
    return unknown(claim, facts.pickup.distance_m)


def _open(pickup: Fact) -> bool:
    return pickup.why_unknown == "the throttle was not closed"


def lift(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """Whether the throttle is closed for a moment."""
    pickup = at.facts.pickup.distance_m
    if pickup.known:
        return Verdict(claim, "agree", "the throttle is closed for a moment")
    if _open(pickup):
        return Verdict(claim, "cannot tell" if _slows(at) else "disagree", "the throttle is not closed")
    return unknown(claim, pickup)


def _slows(at: Corners) -> bool:
    """A part-throttle lift does not close the throttle."""
    return not at.corner.flat


def no_brakes(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Whether the brakes stay untouched."""
    onset = at.facts.brake.before_apex_m
    if onset.value is not None:
        return Verdict(claim, "disagree", f"brakes on {length_words(onset.value, shown)} before the apex")
    if onset.why_unknown == NOT_BRAKED:
        return Verdict(claim, "agree", "the brakes are not used")
    return unknown(claim, onset)
