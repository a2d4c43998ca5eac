"""How far a clock is from the truth."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tests.clock.sessions.making import Truth

if TYPE_CHECKING:
    from syncview.clock.clock_map import ClockMap

BESIDE_PAUSE_S = 0.5
"""How near to a pause the clock is still asked. No source."""

Triple = tuple[float, float, float]


def errors_of(truth: Truth, clock: ClockMap) -> tuple[Triple, Triple]:
    """Error and stated half width at the start, middle and end; of several parts the worst middle counts.

    The middle is also looked for on both sides of a pause, `BESIDE_PAUSE_S` away. An error is infinite where the
    clock says that a recorded moment was not recorded.
    """
    spans = truth.shared()
    last = len(spans) - 1
    middles = [(k, (begin + end) / 2) for k, (begin, end) in enumerate(spans)]
    if last:
        middles += [(0, spans[0][1] - BESIDE_PAUSE_S), (last, spans[last][0] + BESIDE_PAUSE_S)]

    def error(place: tuple[int, float]) -> float:
        off = float(clock.to_media_s(place[1]) - truth.pieces[place[0]].to_media_s(place[1]))
        return off if math.isfinite(off) else math.inf

    start, end = (0, spans[0][0]), (last, spans[last][1])
    middle = max(middles, key=lambda place: abs(error(place)))
    widths = [float(clock.half_width_s(place[1])) for place in (start, middle, end)]
    return (error(start), error(middle), error(end)), (widths[0], widths[1], widths[2])


def pause_errors_s(truth: Truth, clock: ClockMap) -> tuple[float, float] | None:
    """Given minus true place (log time) and length of the one pause; None unless both have exactly one."""
    if len(truth.pieces) != 2 or len(clock.pauses) != 1:
        return None
    before, after = truth.pieces
    begin_s = before.to_log_s(before.end_media_s)
    lost_s = (after.to_log_s(after.begin_media_s) - begin_s) * before.rate
    return clock.pauses[0].log_s - begin_s, clock.pauses[0].lost_s - lost_s
