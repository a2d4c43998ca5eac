"""Sound played slower or faster at the same pitch, by FFmpeg's atempo filter, with exactly as many samples as asked."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.media.filter_run import FilterRun, samples_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

SLOWEST_TEMPO = Fraction(1, 32)
"""Slower than this the sound is a flutter without sense."""
FASTEST_TEMPO = Fraction(32)
PRE_ROLL_S = Fraction(1, 5)
"""Sound given to the filter before the first sample that is used: it begins in the middle of a fade."""
POST_ROLL_S = Fraction(3, 10)
"""Sound given after the last one that is used: a chain at 1/4 keeps about 130 ms of what it makes to itself."""
LEAD_S = Fraction(1, 250)
"""The filter is early by about this much of the sound's own time. What is left depends on the sound: measured with
bursts of noise, a tone and engine harmonics, 11 ms early to 14 ms late at 1/2, 30 ms early to 35 ms late at 1/4."""

_STAGE_SLOWEST, _STAGE_FASTEST = 0.5, 2.0
"""The filter refuses less than 0.5, and above 2 it leaves samples out instead of blending them."""


def stages(tempo: Fraction) -> tuple[float, ...]:
    """Tempos of the filters to chain, all alike, each from 0.5 to 2; empty for 1.

    Raises ValueError below 1/32 and above 32.
    """
    if not SLOWEST_TEMPO <= tempo <= FASTEST_TEMPO:
        raise ValueError(f"tempo {float(tempo):g} is not between 1/32 and 32")
    if tempo == 1:
        return ()
    limit = _STAGE_SLOWEST if tempo < 1 else _STAGE_FASTEST
    count = max(1, math.ceil(round(math.log(tempo) / math.log(limit), 9)))
    return (float(tempo) ** (1 / count),) * count


def stretched(
    blocks: Iterable[NDArray[np.float32]], *, rate_hz: int, rate_out_hz: int, tempo: Fraction, skip: int, count: int
) -> Iterator[NDArray[np.float32]]:
    """Blocks of shape (channels, n) at `rate_hz`, played at `tempo`: `count` samples at `rate_out_hz` after `skip`.

    Silence is added when the blocks give fewer. Raises ValueError for a tempo that `stages` refuses.
    """
    chain = [("atempo", f"tempo={stage!r}") for stage in stages(tempo)]
    if rate_hz != rate_out_hz:
        chain.insert(0, ("aresample", str(rate_out_hz)))
    channels = 0
    position, end = 0, skip + count
    for block in _filtered(blocks, chain, rate_hz):
        channels = block.shape[0]
        taken = block[:, max(0, skip - position) : end - position]
        position += block.shape[1]
        if taken.shape[1]:
            yield taken
        if position >= end:
            return
    missing = end - max(position, skip)
    while missing > 0 and channels:
        piece = min(missing, rate_out_hz)
        yield np.zeros((channels, piece), dtype=np.float32)
        missing -= piece


def _filtered(
    blocks: Iterable[NDArray[np.float32]], chain: list[tuple[str, str]], rate_hz: int
) -> Iterator[NDArray[np.float32]]:
    if not chain:
        yield from blocks
        return
    run: FilterRun | None = None
    for block in blocks:
        run = run or FilterRun(chain, rate_hz=rate_hz, channels=block.shape[0])
        for frame in run.push(block):
            yield samples_of(frame)
    if run is not None:
        for frame in run.finish():
            yield samples_of(frame)
