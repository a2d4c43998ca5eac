"""Line and time limits: BBC Subtitle Guidelines 3.1, 3.3 and 4; the worked values are plain arithmetic."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.plan.caption_breaks import break_note, reading_ms, split_words
from syncview.plan.caption_limits import LIMIT_SOURCES, CaptionLimits, by_chars_ms, by_words_ms, needed_ms, width

LIMITS = CaptionLimits()
BOARD = "Brake ten metres later at the board"

WORDS = ["brake", "later,", "the", "and", "at", "100", "m", "kerb.", "wait", "turn-in;", "בלום", "é́", "🏁", "x" * 44]
notes = st.lists(st.sampled_from(WORDS) | st.text(max_size=8), max_size=60).flatmap(
    lambda words: st.sampled_from([" ", "  ", "\n"]).map(lambda blank: blank.join(words))
)


def test_worked_reading_times() -> None:
    # 7 words and 35 characters: 180 words/min -> 7/3 s = 2.333 s; 17 characters/s -> 35/17 s = 2.059 s.
    words = split_words(BOARD)
    assert (len(words), width(BOARD)) == (7, 35)
    assert by_words_ms(words, limits=LIMITS) == 2334
    assert by_chars_ms(words, limits=LIMITS) == 2059
    assert needed_ms(words, limits=LIMITS) == reading_ms(BOARD, limits=LIMITS) == 2334
    assert reading_ms("Wait", limits=LIMITS) == 1000
    # BBC 4.1: about 0.3 s a word, 4 words 1.2 s; that is 200 words/min.
    assert by_words_ms(["a"] * 4, limits=dataclasses.replace(LIMITS, words_per_minute=200.0)) == 1200


def test_every_limit_has_a_source() -> None:
    assert set(LIMIT_SOURCES) == {field.name for field in dataclasses.fields(CaptionLimits)}


def test_lines_break_where_a_reader_pauses() -> None:
    assert break_note(BOARD, limits=LIMITS) == (BOARD,)
    assert break_note("Brake at the 100 m board, hard, and straight.", limits=LIMITS) == (
        "Brake at the 100 m board,\nhard, and straight.",
    )
    assert break_note("Keep the wheel straight until you reach the kerb", limits=LIMITS) == (
        "Keep the wheel straight\nuntil you reach the kerb",
    )


def test_long_notes_become_several_cues_at_phrase_ends() -> None:
    text = (
        "Come down to second gear before the kerb, then let the brake go slowly while you turn in; "
        "wait for the car to rotate, and only then pick up the throttle. The exit kerb is flat, so use all of it."
    )
    found = break_note(text, limits=LIMITS)
    assert len(found) == 4
    assert all(cue[-1] in ",;." for cue in found)


def test_numbers_stay_with_their_units_and_no_break_spaces_hold() -> None:
    assert "100\n" not in "".join(break_note("Look for the second board then brake 100 m before it", limits=LIMITS))
    assert split_words("at 100\u00a0m") == ["at", "100\u00a0m"]


def test_marks_and_joiners_are_no_characters_to_read() -> None:
    assert width("e\u0301\u202b\u200dx") == 2  # a letter with its accent, direction mark, joiner, a letter


@given(notes, st.integers(5, 42), st.integers(1, 3))
def test_words_survive_and_shapes_keep_the_limits(text: str, chars: int, lines: int) -> None:
    limits = CaptionLimits(chars_per_line=chars, lines=lines)
    cues = break_note(text, limits=limits)
    assert " ".join(cues).split() == text.split()
    for cue in cues:
        rows = cue.split("\n")
        assert len(rows) <= lines
        assert all(width(row) <= chars or len(split_words(row)) == 1 for row in rows)
        words = split_words(cue)
        assert len(words) == 1 or needed_ms(words, limits=limits) <= limits.most_ms - limits.gap_ms


@pytest.mark.parametrize(
    "fault", [{"chars_per_line": 0}, {"words_per_minute": -1.0}, {"gap_ms": -1}, {"least_ms": 7000}]
)
def test_impossible_limits_are_refused(fault: dict[str, int]) -> None:
    with pytest.raises(ValueError, match="caption"):
        CaptionLimits(**fault)
