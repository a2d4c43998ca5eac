"""Does a clock put the same place under every lap start? A quick look at the pictures there, and nowhere else.

Decoding is what costs. So the first look takes few lap starts, those that lie soon after a frame at which decoding can
begin, and only as much around them as shows that the place comes again at its moment and not earlier or later. Only
agreement is taken from it; whatever else it shows, more lap starts are looked at, with room around them to find where
the place really is.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import LogLaps
from syncview.clock.sight import CLOSE_S, Views, reduced, seen_lag_s

FloatArray = NDArray[np.float64]
Span = tuple[float, float]
Pictures = Callable[[list[Span]], Iterable[tuple[float, NDArray[np.uint8]]]]
"""Spans of media time -> small grey pictures in them with their media times."""

FIRST_STARTS = 4
"""Lap starts in the first look: six pairs."""
LEAST_SEEN = 0.5
"""Share of all pairs that must be comparable for agreement. No source."""
LEAST_DENIED = 0.3
"""So many pairs for each lap start but one suffice for contradiction: a wrong clock puts most places out of reach."""
BESIDE_S = 0.25
"""How much is seen on either side of a lap start at the least. A clock by sound is right to some milliseconds."""
OTHER_PLACE_S = CLOSE_S + BESIDE_S
"""On one side so much is seen, so that another place is seen, too."""
MOST_STARTS = 6
"""Lap starts in the second look."""
REACH_S = 1.0
"""How far around an expected lap start the same place is looked for then."""
AGREES_S = 0.060
"""Sight places a lap start to about 20 ms; lines differ by a metre or so from lap to lap. Found in trials."""
AGREE_SHARE = 0.7
CONTRADICTS_S = 0.15
"""Another lap, or another session's laps, are off by more than this as a rule; what lies between decides nothing."""

Verdict = Literal["agrees", "contradicts", "says nothing"]


@dataclass(frozen=True, slots=True)
class SightCheck:
    """What the pictures at the lap starts say about one clock."""

    verdict: Verdict
    errors_s: tuple[float, ...]
    """For each pair of lap starts that could be compared: seen less logged time between them."""
    compared: int
    """How many pairs were looked at."""

    @property
    def words(self) -> str:
        """One sentence."""
        if self.verdict == "says nothing":
            return "the pictures at the lap starts cannot be compared"
        worst = max(self.errors_s, key=abs)
        pairs = f"{len(self.errors_s)} of {self.compared} pairs of lap starts"
        return f"the pictures at {pairs} come again within {abs(worst) * 1000:.0f} ms"


@dataclass(frozen=True, slots=True)
class Window:
    """What is looked at around one lap start."""

    media_s: float
    """Where the clock puts the lap start."""
    begin_s: float
    end_s: float
    decoded_s: float
    """How much must be decoded for it, from the key frame before it on."""

    @property
    def span_s(self) -> Span:
        """Media times."""
        return self.begin_s, self.end_s


def check_sight(
    clock: ClockMap, laps: LogLaps, recording_s: float, pictures: Pictures, keys_s: FloatArray
) -> SightCheck:
    """Compare the places under the lap starts; `keys_s` are the media times of key frames, shape (k,), ascending."""
    shown = _shown(clock, laps, recording_s)
    if len(shown) < 2:
        return SightCheck("says nothing", (), 0)
    first = _cheapest([_narrow(media_s, keys_s, recording_s) for media_s in shown], FIRST_STARTS)
    check = judge(reduced(pictures([w.span_s for w in first])), first)
    if check.verdict == "agrees":
        return check
    wide = _cheapest([_wide(media_s, keys_s, recording_s) for media_s in shown], MOST_STARTS)
    return judge(reduced(pictures(_merged([w.span_s for w in wide]))), wide)


def judge(views: Views, windows: Sequence[Window]) -> SightCheck:
    """The verdict from views of these windows, every one against every other.

    In 60 made sessions the right clock agreed in 50 and never contradicted; with lap starts made wrong by 0.2 s or more
    one of 540 agreed and 477 contradicted.
    """
    pairs = list(itertools.combinations(windows, 2))
    errors = tuple(error for one, other in pairs if (error := _error_s(views, one, other)) is not None)
    verdict: Verdict = "says nothing"
    if errors and len(errors) >= LEAST_DENIED * (len(windows) - 1):
        agreeing = sum(abs(error) <= AGREES_S for error in errors) / len(errors)
        if agreeing >= AGREE_SHARE:
            verdict = "agrees" if len(errors) >= LEAST_SEEN * len(pairs) else "says nothing"
        elif float(np.median(np.abs(errors))) > CONTRADICTS_S:
            verdict = "contradicts"
    return SightCheck(verdict, errors, len(pairs))


def _error_s(views: Views, one: Window, other: Window) -> float | None:
    """Seen less expected time between two lap starts; None when the place is not seen again for certain.

    The nearest picture to a lap start may lie a step beside it; the next pass of that place is as much beside it.
    """
    shortest_s, longest_s = (edge - one.media_s for edge in other.span_s)
    seen_s = seen_lag_s(views, one.media_s, shortest_s, longest_s)
    return None if seen_s is None else seen_s - (other.media_s - one.media_s)


def _shown(clock: ClockMap, laps: LogLaps, recording_s: float) -> list[float]:
    """Media times of the lap starts that the recording shows with room around them."""
    media_s: FloatArray = clock.to_media_s(laps.starts_s)
    inside = np.isfinite(media_s) & (media_s > REACH_S) & (media_s < recording_s - REACH_S)
    return [float(m) for m in media_s[inside]]


def _cheapest(windows: list[Window], most: int) -> list[Window]:
    """At most so many, spread over the recording: of each part of it the one that costs least to look at."""
    parts = np.array_split(np.arange(len(windows)), min(most, len(windows)))
    return [min((windows[i] for i in part), key=lambda window: window.decoded_s) for part in parts]


def _narrow(media_s: float, keys_s: FloatArray, recording_s: float) -> Window:
    """From the key frame on, since everything from there is decoded anyway; another place is seen before the lap start
    where that lies far enough behind, else after it."""
    key_s = _key_before(media_s - BESIDE_S, keys_s)
    after_s = BESIDE_S if media_s - key_s >= OTHER_PLACE_S else OTHER_PLACE_S
    begin_s, end_s = max(key_s, media_s - REACH_S), min(media_s + after_s, recording_s)
    return Window(media_s, begin_s, end_s, end_s - key_s)


def _wide(media_s: float, keys_s: FloatArray, recording_s: float) -> Window:
    """Room to find the place where it really is."""
    begin_s, end_s = max(media_s - REACH_S - 0.2, 0.0), min(media_s + REACH_S + 0.2, recording_s)
    return Window(media_s, begin_s, end_s, end_s - _key_before(begin_s, keys_s))


def _key_before(media_s: float, keys_s: FloatArray) -> float:
    earlier = keys_s[keys_s <= media_s]
    return float(earlier[-1]) if earlier.size else 0.0


def _merged(spans: list[Span]) -> list[Span]:
    merged: list[Span] = []
    for begin, end in spans:
        if merged and begin <= merged[-1][1]:
            merged[-1] = (merged[-1][0], end)
        else:
            merged.append((begin, end))
    return merged
