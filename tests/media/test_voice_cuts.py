"""Cuts in pauses: against all possible choices, and on a recording of known pauses."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.errors import MediaError
from syncview.media.voice_cuts import LEAST_PIECE_S, Cut, Pause, cut_voice, cuts_near, pauses_in
from syncview.media.voice_file import open_voice
from tests.media.made_sounds import silence, sine, write_sound_file

F = Fraction


def _pauses(*borders: tuple[float, float]) -> tuple[Pause, ...]:
    return tuple(Pause(F(begin).limit_denominator(1000), F(end).limit_denominator(1000)) for begin, end in borders)


def test_pauses_lie_between_words() -> None:
    levels = np.full(300, -80, dtype=np.float32)
    for begin, end in ((20, 60), (70, 100), (140, 200), (225, 250)):
        levels[begin:end] = -20
    # Gaps of 0.10, 0.40 and 0.25 s; the silence before and after the speech is none.
    assert pauses_in(levels, -40) == _pauses((1.0, 1.4), (2.0, 2.25))
    assert pauses_in(np.full(10, -80, dtype=np.float32), -40) == ()


def test_a_cut_moves_to_the_nearest_place_in_the_nearest_pause() -> None:
    pauses = _pauses((4.0, 5.0), (7.0, 7.5))
    times = {3.0: 4.1, 4.4: 4.4, 4.95: 4.9, 5.8: 4.9, 6.2: 7.1, 8.0: 7.4}
    for wanted, expected in times.items():
        (cut,) = cuts_near(pauses, [F(wanted).limit_denominator(100)])
        assert float(cut.time_s) == pytest.approx(expected)
        assert cut.pause is not None


def test_two_cuts_never_share_a_pause() -> None:
    pauses = _pauses((4.0, 4.4), (6.0, 6.4))
    first, second = cuts_near(pauses, [F(39, 10), F(9, 2)])
    assert (first.pause, second.pause) == pauses


def test_without_a_pause_in_reach_the_cut_stays() -> None:
    assert cuts_near(_pauses((10.0, 11.0)), [F(5)]) == (Cut(F(5), F(5), None),)
    assert cuts_near((), []) == ()


def _cost(cut: Cut, reach_s: Fraction) -> Fraction:
    return reach_s if cut.pause is None else abs(cut.time_s - cut.wanted_s)


moments = st.integers(0, 200).map(lambda tenths: F(tenths, 10))


@given(
    st.lists(st.tuples(moments, st.integers(3, 15)), max_size=5, unique_by=lambda pair: pair[0]),
    st.lists(moments, max_size=3, unique=True),
)
def test_no_other_choice_moves_less(pairs: list[tuple[Fraction, int]], wanted: list[Fraction]) -> None:
    """Brute force over every combination of a pause or none for each cut."""
    pauses: list[Pause] = []
    for begin, tenths in sorted(pairs):
        if not pauses or begin > pauses[-1].end_s:
            pauses.append(Pause(begin, begin + F(tenths, 10)))
    spread: list[Fraction] = []
    for time_s in sorted(wanted):
        if not spread or time_s - spread[-1] >= LEAST_PIECE_S:
            spread.append(time_s)
    reach = F(3)
    chosen = cuts_near(pauses, spread, reach_s=reach)
    assert all(b.time_s - a.time_s >= LEAST_PIECE_S for a, b in pairwise(chosen))
    best = None
    for combination in product([None, *pauses], repeat=len(spread)):
        cuts = [Cut(t if p is None else p.nearest(t), t, p) for p, t in zip(combination, spread, strict=True)]
        used = [p for p in combination if p is not None]
        ordered = all(b.time_s - a.time_s >= LEAST_PIECE_S for a, b in pairwise(cuts))
        if not ordered or len(set(used)) < len(used) or any(_cost(cut, reach) > reach for cut in cuts):
            continue
        total = sum((_cost(cut, reach) for cut in cuts), F(0))
        best = total if best is None else min(best, total)
    assert sum((_cost(cut, reach) for cut in chosen), F(0)) == best


def _recording(folder: Path) -> Path:
    """Tones of 2 s with pauses of 0.5 s between them: 0.5-2.5, 3-5, 5.5-7.5 s."""
    parts = [silence(0.5), sine(2), silence(0.5), sine(2), silence(0.5), sine(2), silence(0.5)]
    return write_sound_file(folder / "whole.flac", np.concatenate(parts)[np.newaxis], codec="flac")


def test_a_recording_is_cut_in_its_pauses(tmp_path: Path) -> None:
    cut = cut_voice(open_voice(_recording(tmp_path)), [F(2), F(6)])
    assert [float(c.time_s) for c in cut.cuts] == pytest.approx([2.6, 5.4])
    assert [float(p.begin_s) for p in cut.pieces if p] == pytest.approx([0.45, 2.95, 5.45])
    assert [float(p.end_s) for p in cut.pieces if p] == pytest.approx([2.6, 5.15, 7.65])
    assert cut.notes == ()


def test_what_should_be_listened_to_is_said(tmp_path: Path) -> None:
    voice = open_voice(_recording(tmp_path))
    cut = cut_voice(voice, [F(1, 5), F(4)], reach_s=F(1, 2))
    assert cut.pieces[0] is None
    assert cut.notes == (
        "No pause lies within 0.5 s of 4.00 s: the cut there goes through a word.",
        "Nobody speaks from 0.00 to 0.20 s.",
    )
    with pytest.raises(MediaError, match=r"cannot be cut at 9\.00 s: it lasts 8\.00 s"):
        cut_voice(voice, [F(9)])
    with pytest.raises(MediaError, match="leave half a second"):
        cut_voice(voice, [F(3), F(33, 10)])
