"""What every fact means: thresholds, hysteresis, and where each search begins and ends. The one place for it.

None of these limits stands in a norm; all are common practice without a source, chosen so that noise of a usual
sensor (0.5 % of a pedal, 0.1 m/s, 0.5°) does not reach them. Between two samples, a crossing lies on the line
through them; the first rise of a pedal from rest is instead extended backwards along its steepest side, since a foot
stands still until it moves (that matters at 10 Hz).

Words used below:
- *pedal level*: share of the way from the pedal's rest to its full travel **on this log**. Rest and full are what
  the log shows (`REST_QUANTILE`, `FULL_QUANTILE`, `PLATEAU_SHARE`), so that a sensor that idles at 3 % or tops out at
  97 % does no harm. A brake has no full travel in use: its full is the hardest braking of the session.
- *before it*, *after it*: the neighbouring corners that are not flat.

brake onset:
    the application that slows the car for the corner: of those that begin between the apex before it and its
    own apex and reach `BRAKE_REAL`, the last, together with earlier ones not parted from it by an opened
    throttle (`THROTTLE_OPEN`). Its onset is where the level last rises through `BRAKE_ON` before `BRAKE_REAL`.
    Dabs that stay below `BRAKE_REAL` are no braking, nor is a braking after which the throttle is fully opened
    before the entry (without a throttle channel: that ends more than `RELEASED_TOO_EARLY_S` before it). Without
    a brake channel: where deceleration passes `BRAKE_DECELERATION_MPS2`.
onset past a marker:
    metres from the last marker passed, within `PAST_MARKER_M` before the onset, unless a marker no more than
    `JUST_BEFORE_MARKER_M` ahead is nearer (then negative). Markers that belong to another corner do not count. A
    marker's place is the circuit file's.
turn-in, apex, slowest place, throttle beside a marker:
    signed metres past the nearest marker (negative before it), when one lies within `AT_MARKER_M`.
turn-in:
    where curvature of this lap, smoothed as for the apex, first exceeds `TURNING_SHARE` of its peak in the corner.
peak brake:
    greatest value in the channel's own unit (fraction, or pressure in Pa) from onset to release.
time to peak:
    from onset to the first value within `NEAR_PEAK` of that peak.
release:
    the level falls below `BRAKE_OFF` for the last time before the throttle is opened.
release while turning:
    metres from the later of turn-in and onset to release; 0 if released before turn-in.
gears down:
    every fall of the gear between the apex before it (after its full throttle) and the exit, with its place.
minimum speed:
    least speed from entry to exit; vertex of a parabola through the samples within `SPEED_FIT_S`.
apex:
    centre of the top of this lap's curvature in the corner, smoothed by `LAP_CURVATURE_SMOOTHING_M`: the part above
    a share of the peak, weighted by what stands out. The share is near 1 where the path itself is measured well
    (`TOP_OF_PATH`, less `TOP_SCATTERS` times the scatter of its curvature) and lower for sensors (`TOP_OF_SENSOR`),
    whose very top is noise.
throttle pickup:
    the level rises through `THROTTLE_ON` and stays on: applications shorter than `BLIP_S`, or wholly under
    braking, are blips. Sought from brake onset (or entry, when not braked) to the entry of the corner after it.
full throttle:
    the level first passes `THROTTLE_FULL` and stays there for `FULL_HOLD_S`. Sought from pickup to the apex of
    the corner after it.
steering held:
    steering wheel angle at that moment, counted into the corner (negative: opposite lock) from straight ahead.
    Straight ahead: the median where the path is straight (`STRAIGHT_1PM`).
coasting:
    time from approach to exit with brake below `BRAKE_OFF` and throttle below `THROTTLE_ON`.
overlap:
    time from approach to exit with brake above `BRAKE_ON` and throttle above `THROTTLE_OVERLAP`.
approach:
    from the exit of the corner before it, but not more than `APPROACH_S` before the entry.
steering reversals:
    opposite corrections: the wheel goes out by `CATCH_RAD` or more and comes in again by as much, and is beyond
    half of that depth for no more than `CATCH_S`, between turn-in and the entry of the corner after it, at most
    `CATCH_AFTER_S` past the exit; a second turn-in at a second apex does not count.
entry speed, exit speed:
    speed at the corner's entry and exit.
time in corner:
    from entry to exit.
time against the reference lap:
    this lap minus that lap (plus: slower) from the earlier of both brake onsets (entry when neither brakes) to
    the exit.
"""

from __future__ import annotations

REST_QUANTILE = 0.05
"""A pedal is at rest for more than a twentieth of any lap."""
FULL_QUANTILE = 0.995
"""Above this only spikes are left."""
LEAST_TRAVEL = 0.2
LEAST_BRAKE = 0.05
"""Pedals that move less than these shares were not recorded."""
PLATEAU_SHARE = 0.05
"""Samples this near (in shares of the travel) to a quantile lie at the pedal's end: their median is rest, or full."""

BRAKE_ON = 0.05
BRAKE_OFF = 0.03
BRAKE_REAL = 0.15
"""Brake-light dabs stay below it."""
NEAR_PEAK = 0.98
RELEASED_TOO_EARLY_S = 3.0
BRAKE_DECELERATION_MPS2 = 4.0
"""Above what drag and engine take at any speed of a track car (about 3 m/s² at 70 m/s)."""
DECELERATION_OFF_MPS2 = 2.5

THROTTLE_ON = 0.06
THROTTLE_OFF = 0.04
THROTTLE_OPEN = 0.2
THROTTLE_OVERLAP = 0.1
THROTTLE_FULL = 0.95
THROTTLE_NOT_FULL = 0.90
BLIP_S = 0.35
FULL_HOLD_S = 0.1

PAST_MARKER_M = 150.0
"""Boards stand 50 m apart (common practice, no source); further on nobody measures against them."""
JUST_BEFORE_MARKER_M = 15.0
AT_MARKER_M = 15.0
"""Three car lengths."""

TURNING_SHARE = 0.2
TOP_OF_PATH = 0.985
TOP_SCATTERS = 4.0
"""Fewer let the noise of a wide bend choose its apex (22 m off at worst in generated sessions, 2 m with this);
more move the apex of an uneven bend towards its middle."""
TOP_OF_SENSOR = 0.8
LAP_CURVATURE_SMOOTHING_M = 3.0
STRAIGHT_1PM = 1 / 1000

SPEED_FIT_S = 0.2
"""Half a width: five samples at 10 Hz against noise, and short enough for a V-shaped slowest place (with 10 m/s²
before and 4 m/s² after it, 0.25 m/s too fast)."""
FOOT_QUANTILE = 0.9
RISE_ENDED = 0.9
"""A rise that is over by the next sample (at this share of the level that follows) says nothing of its own speed;
the foot is then taken to be as quick as in nine tenths of the session's brakings."""
APPROACH_S = 6.0

CATCH_RAD = 0.14
"""8° at the wheel."""
CATCH_S = 0.8
CATCH_AFTER_S = 1.0
