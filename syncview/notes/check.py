"""What the data say to each claim of a note: agree, disagree by how much, or cannot tell and why.

A false “disagree” accuses a coach wrongly, so whatever is not plain is *cannot tell*: a place that the claim does not
name, a channel that the log lacks, a corner that a note may not be about, a unit that was not said.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from syncview.notes.claims import Claim, read_claims
from syncview.track.corner_facts import CornerFacts
from syncview.track.corners import Corner

Outcome = Literal["agree", "disagree", "cannot tell"]


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far what is said may be from what was measured. A coach speaks in round numbers; no source."""

    speed_kmh: float = 3.0
    """A number that ends in 0 may be 5 km/h (or mph) off in any case, one that ends in 5 half as much."""
    length_m: float = 8.0
    """Places: metres to the apex, metres past a board, before or after it."""
    at_m: float = 12.0
    """“at the board”, “at the apex”."""
    near_m: float = 25.0
    """“just past the board” is no further than this."""
    pedal: float = 0.1
    """Of full travel; brake pressure: of the pressure measured."""
    time_s: float = 0.05
    """Beyond the digit that was said."""
    roughly: float = 2.0
    """“about” widens a tolerance by this factor."""


@dataclass(frozen=True, slots=True)
class Board:
    """A marker that places are counted from."""

    name: str
    """Its number (“100”) or its words (“bridge”)."""
    at_m: float
    """Lap distance."""
    corner: int | None = None
    """The only corner that it is used for."""


@dataclass(frozen=True, slots=True)
class Corners:
    """A corner on the lap that a note is shown over."""

    corner: Corner
    facts: CornerFacts


@dataclass(frozen=True, slots=True)
class ShownOver:
    """What a note is held against."""

    own: Corners | None
    """The corner at the note's place; None between corners."""
    beside: tuple[Corners, ...] = ()
    """Neighbours that the note may speak of as well: what fits one of them is not called wrong."""
    boards: tuple[Board, ...] = ()
    lap_length_m: float = 0.0
    lap_time_s: float | None = None
    imperial: bool = False
    tolerances: Tolerances = Tolerances()


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the data say to one claim."""

    claim: Claim
    outcome: Outcome
    why: str
    """A phrase: what was measured, or why it cannot be told."""
    measured: float | None = None
    """In the claim's SI unit."""
    off_by: float | None = None
    """Measured minus said, where both are numbers and disagree."""


def check_note(text: str, shown: ShownOver) -> tuple[Verdict, ...]:
    """A verdict for each claim of a note, in the order in which they stand."""
    landmarks = tuple(board.name for board in shown.boards if not board.name[0].isdigit())
    claims = read_claims(text, imperial=shown.imperial, landmarks=landmarks)
    return tuple(_settled(text, claim, claims, shown) for claim in claims)


SEQUENCE = re.compile(
    r"\b(?:then|again|once more|first (?:one|part|apex)|second (?:one|part|apex)|next|between the two|both|"
    r"tighter one|two apexes|followed by)\b",
    re.IGNORECASE,
)
"""Words by which a note speaks of more than one corner."""
_OTHER_PEDAL_WORK = re.compile(r"\b(?:brak\w+|lift\w*|throttle|power|gas|down to|wait|past|after)\b", re.IGNORECASE)


def _settled(text: str, claim: Claim, claims: Sequence[Claim], shown: ShownOver) -> Verdict:
    verdict = _compared(text, claim, claims, shown)
    strange = _strange(claim, shown) if verdict.outcome == "disagree" else None
    if strange is None:
        return verdict
    return Verdict(claim, "cannot tell", f"with “{strange}” it may mean something else ({verdict.why})")


def _strange(claim: Claim, shown: ShownOver) -> str | None:
    """The first word of the claim's sentence that is neither plain nor a name of this circuit."""
    corners = [at.corner for at in (shown.own, *shown.beside) if at is not None]
    names = [corner.name for corner in corners] + [board.name for board in shown.boards]
    known = set(re.findall(r"[^\W\d_]+", " ".join(names).lower()))
    return next((word for word in claim.strange if word not in known), None)


def _compared(text: str, claim: Claim, claims: Sequence[Claim], shown: ShownOver) -> Verdict:
    from syncview.notes.comparisons import COMPARISONS, lap_time

    if claim.doubt:
        return Verdict(claim, "cannot tell", claim.doubt)
    if claim.negated and claim.quantity != "flat":
        return Verdict(claim, "cannot tell", "it says what is not so")
    if claim.quantity == "lap_time":
        return lap_time(claim, shown)
    if shown.own is None:
        return Verdict(claim, "cannot tell", "the note is at no corner")
    compare = COMPARISONS[claim.quantity]
    verdict = compare(claim, shown.own, shown)
    if verdict.outcome == "cannot tell" and verdict.measured is None:
        fits = (replace(v, why=f"corner {o.corner.number}: {v.why}") for o, v in _beside(compare, claim, shown))
        return next((v for v in fits if v.outcome == "agree"), verdict)
    if verdict.outcome != "disagree":
        return verdict
    for other, there in _beside(compare, claim, shown):
        if there.outcome == "agree":
            return Verdict(claim, "cannot tell", f"it fits corner {other.corner.number}, which the note may mean")
    if claim.quantity in ("flat", "lift") and _OTHER_PEDAL_WORK.search(text[: claim.begin] + " " + text[claim.end :]):
        return Verdict(claim, "cannot tell", "the note speaks of other work with the pedals too")
    if claim.quantity == "gear" and claim.role == "to" and _on_the_way(claim, claims, shown.own):
        return Verdict(claim, "agree", "passed on the way down")
    return verdict


def _beside(
    compare: Callable[[Claim, Corners, ShownOver], Verdict], claim: Claim, shown: ShownOver
) -> list[tuple[Corners, Verdict]]:
    return [(other, compare(claim, other, shown)) for other in shown.beside]


def _on_the_way(claim: Claim, claims: Sequence[Claim], own: Corners) -> bool:
    """“down to third, then second”: the note names the lowest gear as well."""
    lowest = own.facts.gears.lowest.value
    passed = {change.to_gear for change in own.facts.gears.down or ()}
    named = {other.value for other in claims if other.quantity == "gear"}
    return claim.value in passed and lowest is not None and lowest in named
