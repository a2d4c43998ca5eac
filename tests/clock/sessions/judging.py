"""How far a clock is from the truth."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tests.clock.sessions.making import Truth

if TYPE_CHECKING:
    from syncview.clock.clock_map import ClockMap

Triple = tuple[float, float, float]


def errors_of(truth: Truth, clock: ClockMap) -> tuple[Triple, Triple]:
    """Error and stated half width at the start, middle and end; of several parts the worst middle counts.

    Beside a pause the middle is also looked for half a second to either side: nearer, a frame more or less of the
    pause's place does not matter to anybody.
    """
    spans = truth.shared()
    last = len(spans) - 1
    middles = [(k, (begin + end) / 2) for k, (begin, end) in enumerate(spans)]
    if last:
        middles += [(0, spans[0][1] - 0.5), (last, spans[last][0] + 0.5)]

    def error(place: tuple[int, float]) -> float:
        off = float(clock.to_media_s(place[1]) - truth.pieces[place[0]].to_media_s(place[1]))
        return off if math.isfinite(off) else math.inf  # the clock says that this was not recorded, but it was

    start, end = (0, spans[0][0]), (last, spans[last][1])
    middle = max(middles, key=lambda place: abs(error(place)))
    widths = [float(clock.half_width_s(place[1])) for place in (start, middle, end)]
    return (error(start), error(middle), error(end)), (widths[0], widths[1], widths[2])
