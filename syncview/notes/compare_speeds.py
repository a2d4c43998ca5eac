"""Speeds that a note claims, against the facts of a corner."""

from __future__ import annotations

from syncview.notes.check import Corners, ShownOver, Verdict
from syncview.notes.claims import Claim
from syncview.notes.comparing import in_other_unit, number, speed_words, units_of, unknown
from syncview.shown_units import KMH_MPS, MPH_MPS, SPEED
from syncview.track.corner_facts import Fact


def speed(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """A speed where it is said to be; a place that is vague (entry, exit, none) can only agree."""
    facts = at.facts
    places: dict[str, tuple[tuple[str, Fact], ...]] = {
        "slowest": (("slowest", facts.slowest.speed_mps), ("at the apex", facts.apex.speed_mps)),
        "brake": (("when the brakes go on", facts.brake.speed_mps),),
        "entry": (
            ("at the entry", facts.span.entry_speed_mps),
            ("when the brakes go on", facts.brake.speed_mps),
            ("where it turns in", facts.turn_in.speed_mps),
        ),
        "exit": (("at the exit", facts.span.exit_speed_mps),),
    }
    every = places["slowest"] + places["entry"] + places["exit"]
    known = [(words, fact.value) for words, fact in places.get(claim.role, every) if fact.value is not None]
    if not known:
        return unknown(claim, places.get(claim.role, every)[0][1])
    tolerance = _speed_tolerance(claim, shown)
    verdicts = [
        number(claim, value, tolerance, f"{speed_words(value, shown)} {words}", shown) for words, value in known
    ]
    best = next((v for v in verdicts if v.outcome == "agree"), verdicts[0])
    if best.outcome == "agree":
        return best
    if not claim.unit_said and speed(in_other_unit(claim, shown), at, shown).outcome == "agree":
        return Verdict(claim, "cannot tell", f"the unit is not said ({best.why})", best.measured)
    if claim.role == "slowest" or (claim.role == "brake" and claim.unit_said):
        return best  # “brake at eighty” may be a place
    return _vague_speed(claim, best, tolerance, shown, at)


def _vague_speed(claim: Claim, best: Verdict, tolerance: float, shown: ShownOver, at: Corners) -> Verdict:
    """A speed at an exit that is lower than the slowest is wrong wherever the exit is."""
    slowest = at.facts.slowest.speed_mps.value
    plain = claim.role == "exit" and claim.unit_said and not claim.about
    if plain and slowest is not None and claim.value is not None and claim.value < slowest - 2 * tolerance:
        words = f"{speed_words(slowest, shown)} at the slowest"
        return Verdict(claim, "disagree", words, slowest, slowest - claim.value)
    return Verdict(claim, "cannot tell", f"where exactly is not said ({best.why})", best.measured)


def _speed_tolerance(claim: Claim, shown: ShownOver) -> float:
    assert claim.value is not None
    unit = SPEED[units_of(shown)].si if not claim.unit_said else _unit_of(claim)
    said = round(claim.value / unit, 1)
    step = 10 if said % 10 == 0 else 5 if said % 5 == 0 else 1
    return max(shown.tolerances.speed_kmh * KMH_MPS, step / 2 * unit)


def _unit_of(claim: Claim) -> float:
    """Which unit a speed was said in: the one in which it is a whole number."""
    assert claim.value is not None
    mph = claim.value / MPH_MPS
    return MPH_MPS if abs(mph - round(mph)) < 1e-6 else KMH_MPS
