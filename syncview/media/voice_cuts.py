"""Cuts one long voice recording into pieces, in the pauses nearest to given times: pure functions of its levels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError
from syncview.media.voice_file import STEP_S, VoiceFile, VoicePiece

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_PAUSE_S = Fraction(1, 4)
"""Shorter silence lies between words too: stop consonants close the mouth for up to about 150 ms (from memory)."""
REACH_S = Fraction(3)
"""A cut is not moved further than this to find a pause."""
LEAST_PIECE_S = Fraction(1, 2)
"""Two cuts are never nearer to each other."""
_EDGE_S = Fraction(1, 10)
"""A cut keeps this far from the words on both sides where the pause is long enough."""


@dataclass(frozen=True, slots=True)
class Pause:
    """A stretch of silence inside a recording, on its clock."""

    begin_s: Fraction
    end_s: Fraction

    def nearest(self, time_s: Fraction) -> Fraction:
        """The time in the pause, away from its edges, that is nearest to `time_s`."""
        edge_s = min(_EDGE_S, (self.end_s - self.begin_s) / 2)
        return min(max(time_s, self.begin_s + edge_s), self.end_s - edge_s)


@dataclass(frozen=True, slots=True)
class Cut:
    """Where a recording is cut."""

    time_s: Fraction
    wanted_s: Fraction
    pause: Pause | None
    """None: there is no pause in reach, so the cut is where it was wanted."""


def pauses_in(
    levels_db: NDArray[np.float32], above_db: float, *, least_s: Fraction = LEAST_PAUSE_S
) -> tuple[Pause, ...]:
    """The silences of at least `least_s` between the first and the last speech, in order."""
    loud = np.flatnonzero(levels_db > above_db)
    gaps = np.flatnonzero(np.diff(loud) > least_s / STEP_S)
    pauses = (Pause((int(loud[gap]) + 1) * STEP_S, int(loud[gap + 1]) * STEP_S) for gap in gaps)
    return tuple(pause for pause in pauses if pause.end_s - pause.begin_s >= least_s)


def cuts_near(pauses: Sequence[Pause], wanted_s: Sequence[Fraction], *, reach_s: Fraction = REACH_S) -> tuple[Cut, ...]:
    """One cut for each wanted time (ascending), each in a pause of its own, moved as little as possible in all.

    Where all pauses are further than `reach_s`, or taken by a neighbour, the cut stays where it was wanted; that
    counts as if it had been moved by `reach_s`. Raises ValueError when wanted times are nearer than half a second.
    """
    for before, after in pairwise(wanted_s):
        if after - before < LEAST_PIECE_S:
            raise ValueError(f"cuts at {float(before):.2f} and {float(after):.2f} s: leave half a second between them")
    # For each way of placing the last cut, the cheapest way of placing all before it.
    chains: list[tuple[Fraction, tuple[Cut, ...]]] = [(Fraction(0), ())]
    for time_s in wanted_s:
        longer = []
        for cut, cost in _choices(pauses, time_s, reach_s):
            fitting = [(paid + cost, chain) for paid, chain in chains if _follows(chain, cut)]
            if fitting:
                paid, chain = min(fitting, key=lambda item: item[0])
                longer.append((paid, (*chain, cut)))
        chains = longer
    return min(chains, key=lambda item: item[0])[1]


def _choices(pauses: Sequence[Pause], time_s: Fraction, reach_s: Fraction) -> list[tuple[Cut, Fraction]]:
    choices = [(Cut(time_s, time_s, None), reach_s)]
    for pause in pauses:
        moved_s = abs(pause.nearest(time_s) - time_s)
        if moved_s <= reach_s:
            choices.append((Cut(pause.nearest(time_s), time_s, pause), moved_s))
    return choices


def _follows(chain: tuple[Cut, ...], cut: Cut) -> bool:
    if not chain:
        return True
    last = chain[-1]
    return cut.time_s - last.time_s >= LEAST_PIECE_S and (cut.pause is None or cut.pause != last.pause)


@dataclass(frozen=True, slots=True)
class CutVoice:
    """The pieces of one recording, in order, one more than there are cuts."""

    pieces: tuple[VoicePiece | None, ...]
    """Without the silence around their speech; None where nobody speaks."""
    cuts: tuple[Cut, ...]
    notes: tuple[str, ...]
    """What a person should listen to, each a sentence."""


def cut_voice(voice: VoiceFile, wanted_s: Sequence[Fraction], *, reach_s: Fraction = REACH_S) -> CutVoice:
    """Cut a recording in the pauses nearest to `wanted_s` (its own clock, ascending), for instance at its corners.

    Raises MediaError when a time lies outside the recording, or when two are nearer than half a second.
    """
    for time_s in wanted_s:
        if not 0 < time_s < voice.length_s:
            raise MediaError(
                f"it cannot be cut at {float(time_s):.2f} s: it lasts {float(voice.length_s):.2f} s",
                "Give times inside the recording.",
                where=voice.path,
            )
    try:
        cuts = cuts_near(pauses_in(voice.levels_db, voice.speech_above_db), wanted_s, reach_s=reach_s)
    except ValueError as error:
        raise MediaError(str(error), "Leave out one of them.", where=voice.path) from error
    borders = (Fraction(0), *(cut.time_s for cut in cuts), voice.length_s)
    pieces = tuple(_piece(voice, begin, end) for begin, end in pairwise(borders))
    notes = [
        f"No pause lies within {float(reach_s):g} s of {float(cut.time_s):.2f} s: the cut there goes through a word."
        for cut in cuts
        if _is_spoken(voice, cut.time_s)
    ]
    notes += [
        f"Nobody speaks from {float(begin):.2f} to {float(end):.2f} s."
        for piece, (begin, end) in zip(pieces, pairwise(borders), strict=True)
        if piece is None
    ]
    return CutVoice(pieces, cuts, tuple(notes))


def _is_spoken(voice: VoiceFile, time_s: Fraction) -> bool:
    step = int(time_s / STEP_S)
    return bool((voice.levels_db[max(step - 1, 0) : step + 2] > voice.speech_above_db).any())


def _piece(voice: VoiceFile, begin_s: Fraction, end_s: Fraction) -> VoicePiece | None:
    try:
        return voice.piece(begin_s, end_s)
    except MediaError:
        return None
