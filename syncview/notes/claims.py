"""What a note claims about the driving: gears, pedals, speeds, places, “flat”, the wheel, the lap time.

Reading is by patterns over English sentences (`claim_patterns`). A word that could mean something else makes no claim,
or a claim whose `doubt` says why it cannot be held against the data: a claim read wrongly would accuse a coach of an
error that they did not make.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from syncview.notes.claim_reading import Reading

Quantity = Literal[
    "gear", "gears_down", "brake", "throttle", "pedal", "brake_pressure", "speed", "board", "from_apex", "flat", "lift",
    "no_brakes", "wheel", "apex_timing", "throttle_place", "lap_time", "corrections",
]  # fmt: skip
About = Literal["", "about", "nearly", "over", "at_least", "at_most"]


@dataclass(frozen=True, slots=True)
class Claim:
    """One claim, and where in the text it stands."""

    quantity: Quantity
    begin: int
    end: int
    """The words are `text[begin:end]`."""
    value: float | None = None
    """SI (`unit`); a gear's number; None where the claim has no number."""
    unit: str = ""
    """`m/s`, `m`, `1`, `Pa`, `s`, or empty."""
    role: str = ""
    """What it is the value of: see `claim_patterns` for each quantity's roles."""
    about: About = ""
    """How roughly it was said."""
    marker: str = ""
    """The board's number, or a landmark's words, that a place is counted from."""
    unit_said: bool = True
    """False when the unit was taken from the project."""
    decimals: int = 0
    negated: bool = False
    doubt: str = ""
    """Why it cannot be held against the data, whatever they are; empty when it can."""
    strange: tuple[str, ...] = ()
    """Words of its sentence that no plain instruction needs: it may agree, but is not called wrong."""


def read_claims(text: str, *, imperial: bool = False, landmarks: tuple[str, ...] = ()) -> tuple[Claim, ...]:
    """All claims of a note in the order in which they stand.

    `imperial` says in which units the coach speaks where none is named; `landmarks` are the words of markers that are
    no boards (“bridge”).
    """
    from syncview.notes.claim_reading import Reading
    from syncview.notes.spoken import sentences

    claims: list[Claim] = []
    for sentence in sentences(text):
        reading = Reading(sentence, imperial, landmarks)
        for read in _readers():
            read(reading)
        claims.extend(reading.claims)
    return tuple(sorted(claims, key=lambda claim: (claim.begin, claim.end)))


def _readers() -> tuple[Callable[[Reading], None], ...]:
    """In this order: what one has understood is out of the way of the next."""
    from syncview.notes import claim_places, claim_states, claim_values

    return (
        claim_places.read_boards,
        claim_places.read_until_board,
        claim_places.read_from_apex,
        claim_places.read_lap_time,
        claim_values.read_pedals,
        claim_values.read_corrections,
        claim_values.read_speeds,
        claim_values.read_gears,
        claim_states.read_no_brakes,
        claim_states.read_flat,
        claim_states.read_states,
    )
