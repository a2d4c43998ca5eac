"""Figures beside the picture."""

from fractions import Fraction

from syncview.desk.picture.readout import clock_words, count_words, place_words


def test_times_show_the_milliseconds_that_have_passed() -> None:
    assert clock_words(Fraction("83.4567")) == "1:23.456"
    assert clock_words(59.9996) == "0:59.999"
    assert clock_words(Fraction(-1, 2)) == "−0:00.500"
    assert clock_words(36_000) == "10:00:00.000"
    assert clock_words(3599.5, hours=True) == "0:59:59.500"


def test_without_a_lap_there_is_the_frame_and_its_time() -> None:
    assert count_words(1234567) == "1\u202f234\u202f567"
    words = place_words(Fraction(5, 2), number=75, film=None, lap_distance_m=None, units="metric")
    assert words == ("# 75", "0:02.500")
