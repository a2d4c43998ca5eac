"""Where playing is after a while: exact, at any speed, round and round."""

from fractions import Fraction
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.picture.play_run import SPEEDS, Loop, PlayRun, begin_of, next_speed

SECONDS = st.fractions(0, 500, max_denominator=1000)


@given(st.sampled_from(SPEEDS), SECONDS)
def test_media_time_runs_at_the_speed_and_stops_at_the_end(speed: Fraction, played_s: Fraction) -> None:
    place = PlayRun(Fraction(10), Fraction(60), speed).at(played_s)
    assert place.media_s == min(Fraction(10) + speed * played_s, Fraction(60))
    assert place.is_over == (10 + speed * played_s >= 60)


@given(st.sampled_from(SPEEDS), SECONDS, st.fractions(20, 24, max_denominator=50))
def test_what_is_seen_in_a_loop_is_what_the_stretches_say(speed: Fraction, played_s: Fraction, begin: Fraction) -> None:
    run = PlayRun(begin, Fraction(60), speed, Loop(Fraction(20), Fraction(25), "corner 3"))
    place, left_s = run.at(played_s), speed * played_s
    for turn, (begin_s, end_s) in enumerate(run.stretches()):
        if left_s < end_s - begin_s:
            assert (place.turn, place.media_s) == (turn, begin_s + left_s)
            break
        left_s -= end_s - begin_s
    assert not place.is_over


def test_a_loop_is_heard_again_and_again_a_run_once() -> None:
    loop = Loop(Fraction(20), Fraction(25), "corner 3")
    assert list(islice(PlayRun(Fraction(22), Fraction(60), Fraction(1), loop).stretches(), 3)) == [
        (Fraction(22), Fraction(25)),
        (Fraction(20), Fraction(25)),
        (Fraction(20), Fraction(25)),
    ]
    assert list(PlayRun(Fraction(22), Fraction(60), Fraction(1, 2)).stretches()) == [(Fraction(22), Fraction(60))]
    assert PlayRun(Fraction(22), Fraction(60), Fraction(1, 2)).length_s == 76
    assert PlayRun(Fraction(22), Fraction(60), Fraction(1, 2), loop).length_s is None


def test_playing_begins_in_the_loop_and_never_on_the_last_frame() -> None:
    loop = Loop(Fraction(20), Fraction(25), "corner 3")

    def begin(media_s: int, loop: Loop | None) -> Fraction:
        return begin_of(Fraction(media_s), last_s=Fraction(59), home_s=Fraction(5), loop=loop)

    assert begin(22, loop) == 22
    assert begin(3, loop) == begin(25, loop) == 20
    assert begin(59, None) == 5
    assert begin(58, None) == 58


def test_speeds_have_ends_and_reach_from_an_eighth_to_double() -> None:
    assert (SPEEDS[0], SPEEDS[-1]) == (Fraction(1, 8), Fraction(2))
    assert next_speed(Fraction(2), 1) == 2
    assert next_speed(Fraction(1, 8), -1) == Fraction(1, 8)
    assert next_speed(Fraction(1), -1) < 1 < next_speed(Fraction(1), 1)


def test_a_loop_has_a_length() -> None:
    with pytest.raises(ValueError, match="no length"):
        Loop(Fraction(3), Fraction(3), "corner 1")
