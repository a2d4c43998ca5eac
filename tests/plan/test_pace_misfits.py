"""Notes that cannot fit, and what a person may not ask for: named, with numbers and the remedy."""

from __future__ import annotations

import pickle
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings

from syncview.plan.pace_rules import Misfit, PacedCorner, PaceRules, PinnedHold, PinnedSpeed, PlanError, SaidNote
from syncview.plan.pace_solver import solve_pace
from tests.plan.pace_cases import Case, cases

F = Fraction
STRICT = PaceRules(pause_s=F(0), most_early_s=F(0), most_late_s=F(0), longest_hold_s=F(2))


def note(key: str, media_s: float, need_s: float, *, least_hold_s: int = 0) -> SaidNote:
    return SaidNote(key, F(media_s), F(need_s), F(0), F(least_hold_s))


def test_a_note_that_is_too_long_is_named_with_its_surplus() -> None:
    # 1 s of media at a quarter speed and a hold of 2 s at each of the two places: 8 s for 14 s of words.
    with pytest.raises(PlanError) as caught:
        solve_pace(F(0), F(20), [note("n1", 10, 14), note("n2", 11, 1)], rules=STRICT)
    assert caught.value.misfits == (Misfit(("n1",), F(6)),)
    assert str(caught.value) == (
        "pace plan: note n1 (14.0 s) is 6.0 s too long: note n2 would come too late. "
        "Shorten what is said, allow holds longer than 2 s, or allow slower than 1/4 speed."
    )


def test_notes_that_are_too_long_together_are_named_together() -> None:
    # Before n3 8 s at a quarter speed and 2 s at each of three places: 14 s for 16 s; then 4 s and 2 s at the end.
    notes = [note("n1", 10, 8), note("n2", 11, 8), note("n3", 12, 6)]
    with pytest.raises(
        PlanError, match=r"notes n1 \(8\.0 s\) and n2 \(8\.0 s\) are together 2\.0 s too long"
    ) as caught:
        solve_pace(F(0), F(13), notes, rules=STRICT)
    assert caught.value.misfits == (Misfit(("n1", "n2"), F(2)),)


def test_all_crowds_are_named() -> None:
    # 6 s too long as above; from 38 to the end at 39: 4 s at a quarter speed and 2 s twice for 9 s.
    notes = [note("n1", 10, 14), note("n2", 11, 1), note("n3", 38, 9)]
    with pytest.raises(
        PlanError, match=r"n1 .* n2 would come too late; note n3 .* the section would be over"
    ) as caught:
        solve_pace(F(0), F(39), notes, rules=STRICT)
    assert caught.value.misfits == (Misfit(("n1",), F(6)), Misfit(("n3",), F(1)))


def test_pins_that_keep_notes_out_are_mentioned() -> None:
    pins: list[PinnedSpeed | PinnedHold] = [
        PinnedSpeed(F(10), F(14), F(1)),
        PinnedHold(F(10), F(0)),
        PinnedHold(F(14), F(0)),
    ]
    with pytest.raises(PlanError, match=r"n1 \(6\.0 s\) is 2\.0 s too long.*or loosen what was set by hand there"):
        solve_pace(F(0), F(20), [note("n1", 10, 6), note("n2", 14, 1)], rules=STRICT, pins=pins)


def test_two_drawings_that_a_pinned_hold_is_too_short_for_are_told() -> None:
    # n2 begins 3 s into the hold and needs 3 s of it: 6 s for a hold of 5 s.
    notes = [note("n1", 10, 3, least_hold_s=3), note("n2", 10, 3, least_hold_s=3)]
    with pytest.raises(PlanError) as caught:
        solve_pace(F(0), F(20), notes, rules=STRICT, pins=[PinnedHold(F(10), F(5))])
    assert caught.value.misfits == (Misfit(("n1",), F(1)),)


@settings(max_examples=80)
@given(cases())
def test_a_first_misfit_is_told_to_the_last_millisecond(case: Case) -> None:
    """Shortened by what is named, the notes named fit; by a little less, they do not."""
    try:
        case.solve()
        return
    except PlanError as error:
        if not error.misfits:  # a drawing needs more than a pinned hold
            return
        misfit = error.misfits[0]
    known = {note.key: note for note in case.notes}
    first = known[misfit.keys[0]]
    if len(misfit.keys) > 1 or first.least_hold_s or first.need_s < misfit.short_s:
        return
    for shorter_s, fits in ((misfit.short_s, True), (misfit.short_s - F(1, 1000), False)):
        need_s = first.need_s - shorter_s
        notes = tuple(
            replace(note, speaking_s=need_s, reading_s=F(0)) if note is first else note for note in case.notes
        )
        try:
            replace(case, notes=notes).solve()
            named = False
        except PlanError as error:
            named = error.misfits[0].keys == misfit.keys
        assert named is not fits


def test_an_error_crosses_a_process_border_whole() -> None:
    error = PlanError("it is too long", "Shorten it.", misfits=(Misfit(("n1",), F(1, 3)),))
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.misfits, type(again)) == (str(error), error.misfits, PlanError)


REFUSED: list[tuple[str, dict[str, object]]] = [
    ("note n1 lies at 21.00 s, outside the section 0.00 to 20.00 s", {"notes": [note("n1", 21, 1)]}),
    ("two notes have the same key", {"notes": [note("n1", 1, 1), note("n1", 2, 1)]}),
    ("the voice of note n1 cannot last -1.00 s", {"notes": [note("n1", 1, -1)]}),
    ("0 cannot be the slowest speed", {"rules": PaceRules(slowest=F(0))}),
    ("the speed 1/8 is not between the slowest, 1/4, and full speed", {"rules": PaceRules(speeds=(F(1, 8), F(1)))}),
    ("-1.00 s cannot be the longest hold", {"rules": PaceRules(longest_hold_s=F(-1))}),
    ("the highest speed of corner 1, 1/8, is not", {"corners": [PacedCorner(F(1), F(2), "corner 1", F(1, 8))]}),
    ("corner 1 2.00 to 2.00 s has no length", {"corners": [PacedCorner(F(2), F(2), "corner 1")]}),
    ("the speed set for 5.00 to 25.00 s lies at 25.00 s", {"pins": [PinnedSpeed(F(5), F(25), F(1))]}),
    ("3/2 cannot be the speed for 5.00 to 6.00 s", {"pins": [PinnedSpeed(F(5), F(6), F(3, 2))]}),
    ("the speed set for 6.00 to 6.00 s is for no media", {"pins": [PinnedSpeed(F(6), F(6), F(1))]}),
    (
        "two speeds are set for the same media: 0.00 to 10.00 s is set to 1/2 and 8.00 to 9.00 s to 1",
        {"pins": [PinnedSpeed(F(8), F(9), F(1)), PinnedSpeed(F(2), F(3), F(1, 2)), PinnedSpeed(F(0), F(10), F(1, 2))]},
    ),
    (
        "the hold of 1.00 s set at note n1 is shorter than its drawing needs, 3.00 s. Set a longer hold there, or none",
        {"notes": [note("n1", 10, 2, least_hold_s=3)], "pins": [PinnedHold(F(10), F(1))]},
    ),
    ("a hold at 3.00 s cannot last -1.00 s", {"pins": [PinnedHold(F(3), F(-1))]}),
    ("two holds are set at 3.00 s: 1.00 s and 2.00 s", {"pins": [PinnedHold(F(3), F(1)), PinnedHold(F(3), F(2))]}),
]


@pytest.mark.parametrize(("words", "asked"), REFUSED, ids=[words for words, _ in REFUSED])
def test_what_cannot_be_is_refused(words: str, asked: dict[str, object]) -> None:
    with pytest.raises(PlanError) as caught:
        solve_pace(F(0), F(20), **asked)  # type: ignore[arg-type]
    assert words in str(caught.value)
    assert caught.value.misfits == ()


def test_a_section_without_length_is_refused() -> None:
    with pytest.raises(PlanError, match="has no length"):
        solve_pace(F(3), F(3))


def test_pins_that_agree_are_no_contradiction() -> None:
    pins = (PinnedSpeed(F(1), F(3), F(1, 2)), PinnedSpeed(F(2), F(4), F(1, 2)), PinnedHold(F(2), F(1)))
    assert solve_pace(F(0), F(5), pins=pins + pins).plan.length_s == 9


def test_what_is_too_long_is_rounded_up_so_that_shortening_by_it_is_enough() -> None:
    with pytest.raises(PlanError, match=r"is 0\.1 s too long"):
        solve_pace(F(0), F(20), [note("n1", 10, 8.01), note("n2", 11, 1)], rules=STRICT)
