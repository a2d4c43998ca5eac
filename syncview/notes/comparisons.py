"""One comparison for each kind of claim: the claim against the facts of one corner."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from syncview.notes.check import Board, Corners, Outcome, ShownOver, Verdict
from syncview.notes.claims import Claim, Quantity
from syncview.notes.drafts import NEARLY_STRAIGHT, ORDINALS, STILL_TURNED
from syncview.shown_units import BAR_PA, KMH_MPS, LENGTH, MPH_MPS, PSI_PA, SPEED, YARD_M, Units
from syncview.track.brake_facts import NOT_BRAKED
from syncview.track.corner_facts import Fact


def _units(shown: ShownOver) -> Units:
    return "imperial" if shown.imperial else "metric"


def speed_words(speed_mps: float, shown: ShownOver) -> str:
    """A speed as the coach reads it."""
    unit = SPEED[_units(shown)]
    return f"{unit.of(speed_mps):.0f} {unit.label}"


def length_words(length_m: float, shown: ShownOver) -> str:
    """A length as the coach reads it."""
    unit = LENGTH[_units(shown)]
    return f"{unit.of(length_m):.0f} {unit.label}"


def gear_words(number: float) -> str:
    """A gear as it is said."""
    gear = round(number)
    return ORDINALS[gear - 1] if 1 <= gear <= len(ORDINALS) else f"gear {gear}"


def _within(claim: Claim, measured: float, tolerance: float, shown: ShownOver) -> bool:
    assert claim.value is not None
    over = measured - claim.value
    wide = tolerance * shown.tolerances.roughly
    if claim.about == "at_least":
        return over >= -tolerance
    if claim.about == "at_most":
        return over <= tolerance
    if claim.about == "nearly":
        return -wide <= over <= tolerance
    if claim.about == "over":
        return -tolerance <= over <= wide
    return abs(over) <= (wide if claim.about else tolerance)


def _unknown(claim: Claim, fact: Fact) -> Verdict:
    return Verdict(claim, "cannot tell", fact.why_unknown or "it is not known")


def _number(claim: Claim, measured: float, tolerance: float, words: str, shown: ShownOver) -> Verdict:
    """Agree or disagree on a number."""
    assert claim.value is not None
    if _within(claim, measured, tolerance, shown):
        return Verdict(claim, "agree", words, measured)
    return Verdict(claim, "disagree", words, measured, measured - claim.value)


def _in_other_unit(claim: Claim, shown: ShownOver) -> Claim:
    """The claim as it would be if its unsaid unit were the other system's."""
    assert claim.value is not None
    metric, imperial = (KMH_MPS, MPH_MPS) if claim.unit == "m/s" else (1.0, YARD_M)
    said = claim.value / (imperial if shown.imperial else metric)
    return replace(claim, value=said * (metric if shown.imperial else imperial), unit_said=True)


# --- speeds ---------------------------------------------------------------------------------------------------------


def speed(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """A speed where it is said to be; a place that is vague (entry, exit, none) can only agree."""
    facts = at.facts
    places: dict[str, tuple[tuple[str, Fact], ...]] = {
        "slowest": (("slowest", facts.slowest.speed_mps), ("at the apex", facts.apex.speed_mps)),
        "brake": (("when the brakes go on", facts.brake.speed_mps),),
        "entry": (("at the entry", facts.span.entry_speed_mps), ("when the brakes go on", facts.brake.speed_mps)),
        "exit": (("at the exit", facts.span.exit_speed_mps),),
    }
    every = places["slowest"] + places["entry"] + places["exit"]
    known = [(words, fact.value) for words, fact in places.get(claim.role, every) if fact.value is not None]
    if not known:
        return _unknown(claim, places.get(claim.role, every)[0][1])
    tolerance = _speed_tolerance(claim, shown)
    verdicts = [
        _number(claim, value, tolerance, f"{speed_words(value, shown)} {words}", shown) for words, value in known
    ]
    best = next((v for v in verdicts if v.outcome == "agree"), verdicts[0])
    if best.outcome == "agree":
        return best
    if not claim.unit_said and speed(_in_other_unit(claim, shown), at, shown).outcome == "agree":
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
    unit = SPEED[_units(shown)].si if not claim.unit_said else _unit_of(claim)
    said = round(claim.value / unit, 1)
    step = 10 if said % 10 == 0 else 5 if said % 5 == 0 else 1
    return max(shown.tolerances.speed_kmh * KMH_MPS, step / 2 * unit)


def _unit_of(claim: Claim) -> float:
    """Which unit a speed was said in: the one in which it is a whole number."""
    assert claim.value is not None
    mph = claim.value / MPH_MPS
    return MPH_MPS if abs(mph - round(mph)) < 1e-6 else KMH_MPS


# --- gears ----------------------------------------------------------------------------------------------------------


def gear(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """A gear that is changed from, to, or held."""
    gears = at.facts.gears
    if gears.lowest.value is None or gears.down is None:
        return _unknown(claim, gears.lowest)
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
        return _unknown(claim, at.facts.gears.lowest)
    if any(change.to_gear <= 0 for change in down):
        return Verdict(claim, "cannot tell", "the log shows neutral between the gears")
    count = sum(change.from_gear - change.to_gear for change in down)
    return _number(claim, float(count), 0.0, f"{count} gear{'' if count == 1 else 's'} down", shown)


# --- pedals ---------------------------------------------------------------------------------------------------------


def brake(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """Peak of the brake, as a share of its travel or as a pressure."""
    peak = at.facts.brake.peak
    if peak.value is None:
        if peak.why_unknown == NOT_BRAKED:
            return Verdict(claim, "disagree", "the brakes are not used")
        return _unknown(claim, peak)
    if peak.unit != claim.unit:
        kind = "pressure" if peak.unit == "Pa" else "a share of the pedal"
        return Verdict(claim, "cannot tell", f"the log holds the brake as {kind}")
    if claim.unit == "1":
        return _number(claim, peak.value, shown.tolerances.pedal, f"{100 * peak.value:.0f} % at most", shown)
    words = f"{peak.value / BAR_PA:.0f} bar at most" if not shown.imperial else f"{peak.value / PSI_PA:.0f} psi at most"
    return _number(claim, peak.value, shown.tolerances.pedal * peak.value, words, shown)


def not_held(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """What no fact holds."""
    return Verdict(claim, "cannot tell", "no fact of a corner holds it")


# --- places ---------------------------------------------------------------------------------------------------------


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
        return _unknown(claim, onset)
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
        verdict = _number(claim, off_m, tolerance, words, shown)
        if verdict.outcome == "disagree" and not claim.unit_said:
            other = _number(_in_other_unit(claim, shown), off_m, tolerance, words, shown)
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
        return _unknown(claim, fact)
    after_m = -fact.value if claim.role == "brake" else fact.value
    words = f"{length_words(abs(after_m), shown)} {'past' if after_m >= 0 else 'before'} the apex"
    tolerance = max(shown.tolerances.length_m, 0.1 * abs(claim.value or 0.0))
    return _number(claim, after_m, tolerance, words, shown)


def throttle_place(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:
    """The throttle before, at or after the apex."""
    who, _, side = claim.role.partition(" ")
    fact = at.facts.full.after_apex_m if who == "full" else at.facts.pickup.after_apex_m
    if fact.value is None:
        return _unknown(claim, fact)
    t = shown.tolerances
    right = {"before": fact.value <= t.length_m, "at": abs(fact.value) <= t.at_m, "after": fact.value >= -t.length_m}
    words = f"{length_words(abs(fact.value), shown)} {'past' if fact.value >= 0 else 'before'} the apex"
    agrees = right[side]
    if not agrees and who == "pickup" and fact.value < 0:
        return Verdict(claim, "cannot tell", f"it is picked up {words}, and may be held there", fact.value)
    return Verdict(claim, "agree" if agrees else "disagree", words, fact.value, None if agrees else fact.value)


# --- states ---------------------------------------------------------------------------------------------------------


def flat(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """Whether the throttle stays open and the brakes untouched."""
    facts = at.facts
    worked = "it is braked" if facts.brake.distance_m.known else "it is lifted" if facts.pickup.distance_m.known else ""
    if worked:
        return Verdict(claim, "agree" if claim.negated else "disagree", worked)
    not_braked = facts.brake.distance_m.why_unknown == NOT_BRAKED
    if at.corner.flat or (not_braked and _open(facts.pickup.distance_m)):
        return Verdict(claim, "disagree" if claim.negated else "agree", "the throttle stays open")
    return _unknown(claim, facts.pickup.distance_m)


def _open(pickup: Fact) -> bool:
    return pickup.why_unknown == "the throttle was not closed"


def lift(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """Whether the throttle is closed for a moment."""
    pickup = at.facts.pickup.distance_m
    if pickup.known:
        return Verdict(claim, "agree", "the throttle is closed for a moment")
    if _open(pickup):
        return Verdict(claim, "cannot tell" if _slows(at) else "disagree", "the throttle is not closed")
    return _unknown(claim, pickup)


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
    return _unknown(claim, onset)


PAST_DOUBT_TURNED = 0.95


def wheel(claim: Claim, at: Corners, shown: ShownOver) -> Verdict:  # noqa: ARG001
    """How far the wheel is turned when the throttle is full (or picked up)."""
    who, _, level = claim.role.partition(" ")
    facts = at.facts
    peak = facts.steering.peak_rad
    groups = [facts.full] if who == "full" else [facts.full, facts.pickup]
    held = [group.steering_rad.value for group in groups]
    if peak.value is None or peak.value <= 0 or held[0] is None:
        return _unknown(claim, peak if peak.value is None else facts.full.steering_rad)
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
        return _unknown(claim, after)
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
        return _unknown(claim, count)
    return _number(claim, count.value, 0.0, f"{count.value:.0f} steering corrections", shown)


def lap_time(claim: Claim, shown: ShownOver) -> Verdict:
    """The time of the lap."""
    if shown.lap_time_s is None:
        return Verdict(claim, "cannot tell", "the lap has no time")
    tolerance = shown.tolerances.time_s + 0.5 * 10.0**-claim.decimals
    minutes, seconds = divmod(shown.lap_time_s, 60)
    return _number(claim, shown.lap_time_s, tolerance, f"the lap is {minutes:.0f}:{seconds:06.3f}", shown)


COMPARISONS: dict[Quantity, Callable[[Claim, Corners, ShownOver], Verdict]] = {
    "gear": gear, "gears_down": gears_down, "brake": brake, "throttle": not_held, "pedal": not_held,
    "brake_pressure": brake, "speed": speed, "board": board, "from_apex": from_apex, "flat": flat, "lift": lift,
    "no_brakes": no_brakes, "wheel": wheel, "apex_timing": apex_timing, "throttle_place": throttle_place,
    "corrections": corrections,
}  # fmt: skip
