"""Speaking time from words a minute: words counted by hand, as an English speaker says them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.plan.speaking import speaking_s, spoken_words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Wait for the car to turn", 6),
        ("Brake at the 100 board", 6),  # one hundred
        ("from 210 to 72 km/h", 10),  # from | two hundred ten | to | seventy two | kilometres per hour
        ("1.85 g", 5),  # one point eight five | g
        ("1,85 g", 5),
        ("12,500 rpm", 5),  # twelve thousand five hundred | rpm
        ("50 % brake – then off", 5),  # fifty percent brake then off
        ("don’t trail-brake", 3),
        ("… — !", 0),
        ("", 0),
        ("20 21 30 99", 6),
        ("ブレーキを踏む", Fraction(7, 2)),  # seven signs at half a word
    ],
)
def test_words_are_counted_as_they_are_said(text: str, words: Fraction) -> None:
    assert spoken_words(text) == words


def test_a_hundred_and_fifty_words_a_minute() -> None:
    assert speaking_s("Brake at the 100 board") == Fraction(24, 10)  # 6 / 150 min
    assert speaking_s("Brake at the 100 board", words_per_minute=120.0) == 3


@pytest.mark.parametrize("words_per_minute", [0.0, -1.0])
def test_no_speech_is_no_speed(words_per_minute: float) -> None:
    with pytest.raises(ValueError, match="are no speech"):
        speaking_s("Go", words_per_minute=words_per_minute)


@given(st.text(max_size=60), st.text(max_size=60))
def test_any_text_takes_time_and_parts_add_up(first: str, second: str) -> None:
    assert speaking_s(f"{first}\n{second}") == speaking_s(first) + speaking_s(second) >= 0
