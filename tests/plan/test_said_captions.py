"""Captions of a solved plan: each comes when its note is said, has its reading time, and stays while it is heard."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from syncview.plan.caption_breaks import reading_ms
from syncview.plan.caption_limits import CaptionLimits
from syncview.plan.caption_timing import Spoken, plan_captions
from syncview.plan.pace_rules import PaceRules, SaidNote
from syncview.plan.pace_solver import NoteTime, solve_pace
from syncview.plan.said_captions import note_reading_s, spoken_notes
from syncview.plan.speaking import speaking_s

F = Fraction
BOARD = "Brake ten metres later at the board"  # 7 words, 35 characters: 2.334 s at 180 words/min
LONG = "Wait for the nose to turn, then squeeze the throttle as the wheel unwinds and let the car run out to the kerb."


def test_a_note_gives_its_words_its_time_and_how_long_it_is_heard() -> None:
    times = [NoteTime("n1", F(10), F(37, 3), F(46, 3)), NoteTime("n2", F(20), F(17), F(18))]
    assert spoken_notes(times, {"n1": BOARD}, section_begin_s=F(100)) == (Spoken(112_333, BOARD, "n1", lasts_ms=3000),)


def test_reading_time_is_that_of_the_captions() -> None:
    assert note_reading_s(BOARD) == F(2334, 1000)
    slow = CaptionLimits(words_per_minute=120.0)
    assert note_reading_s(BOARD, limits=slow) == F(3500, 1000)


def test_a_caption_stays_while_its_note_is_heard() -> None:
    plan = plan_captions([Spoken(10_000, BOARD, "n1", lasts_ms=5000)], film_ms=60_000)
    assert [(cue.start_ms, cue.end_ms) for cue in plan.cues] == [(10_000, 15_000)]
    assert plan.unmet == ()


def test_a_caption_stays_no_longer_than_is_usual() -> None:
    plan = plan_captions([Spoken(10_000, BOARD, "n1", lasts_ms=12_000)], film_ms=60_000)
    assert [(cue.start_ms, cue.end_ms) for cue in plan.cues] == [(10_000, 17_000)]


def test_a_caption_that_is_read_slower_than_heard_has_its_reading_time() -> None:
    plan = plan_captions([Spoken(10_000, BOARD, "n1", lasts_ms=500)], film_ms=60_000)
    assert [(cue.start_ms, cue.end_ms) for cue in plan.cues] == [(10_000, 12_334)]


def test_the_parts_of_a_long_note_follow_the_voice() -> None:
    read = plan_captions([Spoken(0, LONG, "n1")], film_ms=60_000).cues
    heard = plan_captions([Spoken(0, LONG, "n1", lasts_ms=12_000)], film_ms=60_000).cues
    assert [cue.text for cue in heard] == [cue.text for cue in read]
    assert len(heard) > 1
    assert heard[-1].end_ms == 12_000
    # Each begins when the voice has said the characters before it, give or take the blanks between cues.
    widths = [len(cue.text) for cue in heard]
    for at, cue in enumerate(heard):
        assert abs(cue.start_ms - 12_000 * sum(widths[:at]) / sum(widths)) < 100


def test_the_voice_gives_way_where_captions_are_crowded() -> None:
    told = [Spoken(0, BOARD, "n1", lasts_ms=9000), Spoken(2500, BOARD, "n2")]
    plan = plan_captions(told, film_ms=60_000)
    assert [(cue.start_ms, cue.end_ms) for cue in plan.cues] == [(0, 2500), (2500, 4834)]
    assert plan.unmet == ()


texts = st.lists(
    st.sampled_from(["brake", "later,", "and", "wait.", "kerb", "100", "throttle"]), min_size=1, max_size=30
)


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(0, 30_000), texts, st.integers(500, 2500)), max_size=6), st.integers(0, 997))
def test_captions_of_a_solved_plan_keep_every_limit(drawn: list[tuple[int, list[str], int]], begin_count: int) -> None:
    """A voice from half to two and a half times the estimate; a section that begins at an odd time of the film."""
    said = {f"n{at}": " ".join(words) for at, (_, words, _) in enumerate(drawn)}
    notes = [
        SaidNote(key, F(place_ms, 1000), speaking_s(text) * F(share, 1000), note_reading_s(text))
        for (key, text), (place_ms, _, share) in zip(said.items(), drawn, strict=True)
    ]
    solved = solve_pace(F(0), F(31), notes, rules=PaceRules(longest_hold_s=F(60)))
    begin_s = F(begin_count, 997)
    told = spoken_notes(solved.notes, said, section_begin_s=begin_s)
    film_ms = int((begin_s + solved.plan.length_s) * 1000)
    plan = plan_captions(told, film_ms=film_ms)
    assert plan.unmet == ()
    starts = {cue.key: cue.start_ms for cue in plan.cues if not cue.continues}
    assert starts == {note.key: note.place_ms for note in told}
    for before, after in pairwise(plan.cues):
        assert before.end_ms <= after.start_ms
    for note in told:
        last = [cue for cue in plan.cues if cue.key == note.key][-1]
        heard_ms = note.place_ms + note.lasts_ms
        assert last.end_ms >= heard_ms or last.end_ms - last.start_ms >= CaptionLimits().most_ms
        assert note.lasts_ms >= reading_ms(note.text, limits=CaptionLimits()) - 1
