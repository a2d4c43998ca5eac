"""Film time and media time, exactly."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.plan.film_span import FilmSpan

times = st.fractions(0, 10_000, max_denominator=90_000)


@given(times, times, times)
def test_there_and_back_is_exact(begin: Fraction, length: Fraction, at: Fraction) -> None:
    span = FilmSpan(begin, begin + length + Fraction(1, 60))
    assert span.to_media_s(span.to_film_s(at)) == at
    assert span.to_film_s(span.begin_s) == 0
    assert span.shows(at) == (0 <= span.to_film_s(at) < span.end_s - span.begin_s)


def test_milliseconds_are_rounded_once() -> None:
    # NTSC frames: 100 frames of 1001/30000 s are 3336.666… ms.
    span = FilmSpan(Fraction(1001, 30000), Fraction(1001 * 101, 30000))
    assert span.film_ms == 3336
    assert span.to_film_ms(Fraction(1001 * 2, 30000)) == 33


def test_a_film_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="no length"):
        FilmSpan(Fraction(1), Fraction(1))
