"""One comparison for each kind of claim: the claim against the facts of one corner, or against the lap."""

from __future__ import annotations

from collections.abc import Callable

from syncview.notes.check import Corners, ShownOver, Verdict
from syncview.notes.claims import Claim, Quantity
from syncview.notes.compare_gears import gear, gears_down
from syncview.notes.compare_pedals import brake, flat, lift, no_brakes, not_held
from syncview.notes.compare_places import board, from_apex, throttle_place
from syncview.notes.compare_speeds import speed
from syncview.notes.compare_turning import apex_timing, corrections, wheel
from syncview.notes.comparing import number


def lap_time(claim: Claim, shown: ShownOver) -> Verdict:
    """The time of the lap."""
    if shown.lap_time_s is None:
        return Verdict(claim, "cannot tell", "the lap has no time")
    tolerance = shown.tolerances.time_s + 0.5 * 10.0**-claim.decimals
    minutes, seconds = divmod(shown.lap_time_s, 60)
    return number(claim, shown.lap_time_s, tolerance, f"the lap is {minutes:.0f}:{seconds:06.3f}", shown)


COMPARISONS: dict[Quantity, Callable[[Claim, Corners, ShownOver], Verdict]] = {
    "gear": gear, "gears_down": gears_down, "brake": brake, "throttle": not_held, "pedal": not_held,
    "brake_pressure": brake, "speed": speed, "board": board, "from_apex": from_apex, "flat": flat, "lift": lift,
    "no_brakes": no_brakes, "wheel": wheel, "apex_timing": apex_timing, "throttle_place": throttle_place,
    "corrections": corrections,
}  # fmt: skip
