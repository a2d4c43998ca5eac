"""Verdicts: by how much, in whose units, at which corner; and drafts, which must agree with their facts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.notes.check import Corners, ShownOver, Tolerances, check_note
from syncview.notes.claims import read_claims
from syncview.notes.drafts import draft_note
from syncview.notes.spoken import sentences
from syncview.shown_units import Units
from syncview.track.corner_facts import NO_TURN_IN, CornerFacts, GearDown, GearFacts
from syncview.track.markers import Marker
from tests.notes.said_of import (
    EAGER_FACTS,
    HAIRPIN,
    HAIRPIN_FACTS,
    KINK,
    KINK_FACTS,
    SHOWN,
    fact,
    place,
    shown,
    speed,
    throttle,
)

HAIRPIN_SHOWN = SHOWN["hairpin"]


def outcomes(text: str, over: ShownOver = HAIRPIN_SHOWN) -> list[str]:
    return [verdict.outcome for verdict in check_note(text, over)]


def test_by_how_much() -> None:
    (verdict,) = check_note("75 km/h at the apex", HAIRPIN_SHOWN)
    # 64.1 - 75 = -10.9 km/h.
    assert verdict.off_by is not None
    assert verdict.off_by * 3.6 == pytest.approx(-10.9)
    assert verdict.why == "64 km/h slowest"
    (verdict,) = check_note("Brake at the fifty", HAIRPIN_SHOWN)
    assert verdict.off_by == pytest.approx(415.7 - 448.0)
    (verdict,) = check_note("Down to third", HAIRPIN_SHOWN)
    assert verdict.off_by == -1.0


def test_only_a_plain_sentence_is_called_wrong() -> None:
    assert outcomes("Brake at the fifty.") == ["disagree"]
    assert outcomes("Brake at the fifty?") == ["cannot tell"]
    (verdict,) = check_note("My mate brakes at the fifty.", HAIRPIN_SHOWN)
    assert verdict.outcome == "cannot tell"
    assert "“mate”" in verdict.why
    named = replace(HAIRPIN_SHOWN, own=Corners(replace(HAIRPIN, name="Ropewalk"), HAIRPIN_FACTS))
    assert outcomes("Ropewalk: brake at the fifty.", named) == ["disagree"]
    assert outcomes("Ropewalk: brake at the fifty.") == ["cannot tell"]
    assert outcomes("My mate brakes after the hundred.") == ["agree"]


def test_the_hands_turn_in_before_the_path_does() -> None:
    """The path bends 7 m past the fifty board, at 112 km/h: half a second before that the car was 16 m further back."""
    (verdict,) = check_note("Turn in at the fifty board.", HAIRPIN_SHOWN)
    assert verdict.why == "turns in 7 m past the 50 board"
    assert outcomes("Turn in 10 m before the fifty board.") == ["agree"]
    assert outcomes("Turn in 30 m before the fifty board.") == ["disagree"]
    assert outcomes("Turn in 30 m past the fifty board.") == ["disagree"]
    assert outcomes("Turn in 55 m before the apex.") == ["agree"]
    assert outcomes("Turn in 80 m before the apex.") == ["disagree"]
    unmeasured = replace(HAIRPIN_SHOWN, own=Corners(HAIRPIN, replace(HAIRPIN_FACTS, turn_in=NO_TURN_IN)))
    assert outcomes("Turn in at the hundred board.", unmeasured) == ["cannot tell"]


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("seventy-two", 72), ("one eighty-three", 183), ("a hundred and ten", 110), ("one hundred and five", 105),
        ("two ten", 210), ("one oh five", 105), ("three hundred", 300), ("fifty-eight point five", 58.5),
        ("fifty-eight and a half", 58.5), ("ninety", 90), ("12,5", 12.5), ("6,500", 6500), ("1:32.45", 92.45),
    ],
)  # fmt: skip
def test_numbers_as_they_are_said(words: str, value: float) -> None:
    """Common English usage; no source."""
    (sentence,) = sentences(f"about {words} there")
    assert [number.value for number in sentence.numbers] == [value]
    assert sentence.said.strip() == "about #0# there"


@given(st.integers(20, 399))
def test_any_speed_said_in_digits_is_read_back(kmh: int) -> None:
    (claim,) = read_claims(f"Carry {kmh} km/h through the apex.")
    assert claim.value is not None
    assert claim.value * 3.6 == pytest.approx(kmh)


@given(st.text(max_size=80))
def test_no_text_breaks_the_reading(text: str) -> None:
    for claim in read_claims(text, landmarks=("bridge", "kerb (red)")):
        assert 0 <= claim.begin < claim.end <= len(text)


def test_a_very_long_note_is_read_in_good_time() -> None:
    import time

    begin = time.monotonic()
    check_note(("brake at 72 km/h, down to second and then the " * 250)[:10_000], HAIRPIN_SHOWN)
    assert time.monotonic() - begin < 20.0


def test_units_of_the_project_and_units_that_were_not_said() -> None:
    imperial = replace(HAIRPIN_SHOWN, imperial=True)
    # 64.1 km/h = 39.8 mph.
    assert outcomes("Forty at the apex.", imperial) == ["agree"]
    assert outcomes("Sixty-four at the apex.", imperial) == ["cannot tell"]
    assert outcomes("Sixty at the apex.", imperial) == ["cannot tell"], "60 km/h would not be far off"
    assert outcomes("Ninety at the apex.", imperial) == ["disagree"]
    assert outcomes("Ninety km/h at the apex.", imperial) == ["disagree"]


def test_tolerances_are_the_coachs() -> None:
    strict = replace(HAIRPIN_SHOWN, tolerances=Tolerances(speed_kmh=0.5, length_m=1.0))
    assert outcomes("66 km/h at the apex") == ["agree"]
    assert outcomes("66 km/h at the apex", strict) == ["disagree"]
    assert outcomes("Brake 12 m past the hundred") == ["agree"]
    assert outcomes("Brake 12 m past the hundred", strict) == ["disagree"]


def test_what_fits_a_neighbour_is_not_called_wrong() -> None:
    alone = shown(HAIRPIN, HAIRPIN_FACTS)
    kink = SHOWN["kink"].own
    assert kink is not None
    beside = replace(alone, beside=(kink,))
    assert outcomes("Down to fifth.", alone) == ["disagree"]
    (verdict,) = check_note("Down to fifth.", beside)
    assert (verdict.outcome, verdict.why) == ("cannot tell", "it fits corner 4, which the note may mean")


def test_a_claim_that_only_a_neighbour_can_settle_is_settled_there() -> None:
    own = SHOWN["kink"]
    hairpin = HAIRPIN_SHOWN.own
    assert hairpin is not None
    over = replace(own, beside=(hairpin,))
    (verdict,) = check_note("Braking from 171 km/h.", over)
    assert (verdict.outcome, verdict.why) == ("agree", "corner 3: 171 km/h when the brakes go on")


def test_between_corners_only_the_lap_time_is_compared() -> None:
    nowhere = replace(HAIRPIN_SHOWN, own=None)
    assert outcomes("Down to second, a lap of 58.5.", nowhere) == ["cannot tell", "agree"]


def test_boards_across_the_start_line_and_of_other_corners() -> None:
    corner = replace(HAIRPIN, entry_m=20.0, apex_m=60.0, exit_m=100.0)
    facts = replace(HAIRPIN_FACTS, brake=replace(HAIRPIN_FACTS.brake, distance_m=fact(1890.0)))
    over = shown(corner, facts)
    board = replace(over.boards[1], at_m=1870.0)
    assert outcomes("Brake 20 m past the hundred.", replace(over, boards=(board,))) == ["agree"]
    assert outcomes("Brake 20 m past the hundred.", replace(over, boards=(replace(board, corner=9),))) == [
        "cannot tell"
    ]
    twice = (board, replace(board, at_m=1700.0))
    assert outcomes("Brake 20 m past the hundred.", replace(over, boards=twice)) == ["cannot tell"]


CASES: tuple[CornerFacts, ...] = (
    HAIRPIN_FACTS,
    EAGER_FACTS,
    replace(HAIRPIN_FACTS, slowest=place(-18.0, 61.0)),
    replace(HAIRPIN_FACTS, brake=replace(HAIRPIN_FACTS.brake, peak=fact(61.9e5, "Pa"))),
    replace(HAIRPIN_FACTS, full=throttle(31.2, -0.1)),
    replace(HAIRPIN_FACTS, gears=GearFacts((GearDown(6, 5, 1.0, 440.0, 60.0, 60.0),), fact(5.0, "1"))),
    replace(HAIRPIN_FACTS, steering=replace(HAIRPIN_FACTS.steering, reversals=fact(2.0, "1"))),
    replace(
        HAIRPIN_FACTS,
        brake=replace(HAIRPIN_FACTS.brake, past_marker_m=fact(17.7), marker=Marker("m1", "board", 398.0, "100 board")),
    ),
)


@pytest.mark.parametrize("units", ["metric", "imperial"])
@pytest.mark.parametrize("facts", CASES)
def test_drafts_agree_with_the_facts_they_came_from(facts: CornerFacts, units: Units) -> None:
    text = draft_note(facts, HAIRPIN, units=units)
    verdicts = check_note(text, replace(shown(HAIRPIN, facts), imperial=units == "imperial"))
    assert len(verdicts) >= 6
    assert {(verdict.outcome, verdict.why) for verdict in verdicts if verdict.outcome != "agree"} == set(), text


def test_a_flat_draft_agrees() -> None:
    text = draft_note(KINK_FACTS, KINK, units="metric")
    assert outcomes(text, SHOWN["kink"]) == ["agree"] * 3


@given(st.floats(10.0, 95.0), st.floats(0.0, 0.9), st.floats(30.0, 150.0), st.sampled_from(["metric", "imperial"]))
def test_drafts_of_any_facts_never_disagree_with_them(
    slowest_mps: float, peak: float, before_m: float, units: Units
) -> None:
    facts = replace(
        HAIRPIN_FACTS,
        slowest=place(1.0, slowest_mps * 3.6),
        apex=place(0.0, slowest_mps * 3.6),
        brake=replace(
            HAIRPIN_FACTS.brake,
            before_apex_m=fact(before_m),
            distance_m=fact(500.0 - before_m),
            speed_mps=speed(slowest_mps * 3.6 + 60),
            peak=fact(peak, "1"),
        ),
    )
    text = draft_note(facts, HAIRPIN, units=units)
    verdicts = check_note(text, replace(shown(HAIRPIN, facts), imperial=units == "imperial"))
    assert "disagree" not in {verdict.outcome for verdict in verdicts}, text
