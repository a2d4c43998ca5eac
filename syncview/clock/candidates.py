"""From scores over all offsets to candidate clocks: each is measured stretch by stretch and judged.

The stretches are independent measurements. That they agree is the proof of a match, how they scatter is its
uncertainty, how they lean is the drift. A log that does not belong has peaks too, but its stretches contradict each
other. All kinds of evidence are judged alike; `Criteria` holds where they differ.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.clock.clock_map import ClockMap
from syncview.clock.line_fit import PRIOR_DRIFT, Line, robust_line
from syncview.clock.places import LocalOffsets, OffsetScores

FloatArray = NDArray[np.float64]

MOST_CANDIDATES = 5
RIVAL_SHARE = 0.4
"""Peaks lower than this share of the highest are not measured."""
APART_S = 2.0
FIRST_REACH_S, SECOND_REACH_S = 1.5, 0.25
ROUGH_PRIOR = 1e-3
LEAST_STRETCHES = 4
LEAST_AGREEMENT = 0.6
MOST_DRIFT = 1500e-6

Local = Callable[[FloatArray, FloatArray, float], LocalOffsets]
"""Measures offsets at log times (n,), near what is expected there (n,), within a reach in seconds."""


@dataclass(frozen=True, slots=True)
class Criteria:
    """Where kinds of evidence differ. Found in trials with made sessions, no source."""

    kind: str
    """In words."""
    stretch_s: float
    """Distance between the middles of stretches, so that they do not overlap."""
    least_score: float
    """Foreign logs stay below it."""
    sigma_s: float
    """Spread of one stretch on a good recording; widened to what the stretches show."""
    floor_s: float
    """Part of the uncertainty that no number of stretches removes: what the two sensors time differently."""
    agree_s: float
    """A stretch agrees when it lies this near to the line."""
    most_scatter_s: float
    spread_s: Callable[[FloatArray], FloatArray] | None = None
    """Spread of stretches from their strength, where that tells good ones from bad ones; else all have `sigma_s`."""
    least_strength: float = 0.0
    """Stretches less clear than this, in the median, may all be off by `unclear_s`."""
    unclear_s: float = 0.0
    places_pauses: bool = True
    """Whether it tells to half a second where a recording was paused; turning does not, on a straight."""

    def floor_of(self, strength: FloatArray) -> float:
        """The part of the uncertainty that stays, for stretches of these strengths."""
        return max(self.floor_s, self.unclear_s) if np.median(strength) < self.least_strength else self.floor_s


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One clock that a kind of evidence allows."""

    criteria: Criteria
    clock: ClockMap
    score: float
    """Standard deviations above chance, of the whole session at rate one."""
    stretches: LocalOffsets
    line: Line | None
    agrees: NDArray[np.bool_]
    """Shape (n,), which stretches agree with the line."""
    agreement: float
    """Share of the measured stretches that agree with the line."""
    scatter_s: float
    """Robust spread of the agreeing stretches about the line."""

    @property
    def fits(self) -> bool:
        """Whether enough stretches agree closely enough for this to be the clock."""
        return (
            self.score >= self.criteria.least_score
            and int(self.agrees.sum()) >= LEAST_STRETCHES
            and self.agreement >= LEAST_AGREEMENT
            and self.scatter_s <= self.criteria.most_scatter_s
            and abs(self.clock.rate - 1.0) <= MOST_DRIFT
        )


def candidates_of(
    scores: OffsetScores, local: Local, criteria: Criteria, begin_s: float, end_s: float
) -> tuple[Candidate, ...]:
    """Measure the best peaks over the log from `begin_s` to `end_s`; those that fit come first, then by score."""
    found = [
        measure(offset, score, local, criteria, begin_s, end_s)
        for offset, score in scores.peaks(most=MOST_CANDIDATES, least_share=RIVAL_SHARE, apart_s=APART_S)
    ]
    return tuple(sorted(found, key=lambda c: (not c.fits, -c.score)))


def measure(offset_s: float, score: float, local: Local, criteria: Criteria, begin_s: float, end_s: float) -> Candidate:
    """Measure one offset: a wide look at every stretch, a line, then a narrow look along that line."""
    middles = np.arange(begin_s + criteria.stretch_s / 2, end_s, criteria.stretch_s)
    rough = local(middles, np.full(middles.size, offset_s), FIRST_REACH_S)
    if rough.log_s.size < 2:
        return _hopeless(offset_s, score, criteria, rough)
    line = _line(rough, criteria, ROUGH_PRIOR)
    fine = local(middles, line(middles), SECOND_REACH_S)
    if fine.log_s.size < 2:
        return _hopeless(offset_s, score, criteria, rough)
    line = _line(fine, criteria, PRIOR_DRIFT)
    return _judged(criteria, score, fine, line, measured=max(rough.log_s.size, fine.log_s.size))


def follow(candidate: Candidate, local: Local, begin_s: float, end_s: float) -> Candidate | None:
    """The candidate's line, found in a part of the log, held against the whole of it; None when it has no line."""
    if candidate.line is None:
        return None
    step = candidate.criteria.stretch_s
    middles = np.arange(begin_s + step / 2, end_s, step)
    fine = local(middles, candidate.line(middles), SECOND_REACH_S)
    return _judged(candidate.criteria, candidate.score, fine, candidate.line, measured=fine.log_s.size)


def _judged(criteria: Criteria, score: float, fine: LocalOffsets, line: Line, *, measured: int) -> Candidate:
    residual = fine.offset_s - line(fine.log_s)
    agrees = np.abs(residual) <= criteria.agree_s
    scatter = float(1.4826 * np.median(np.abs(residual[agrees]))) if agrees.any() else np.inf
    # Stretches lost between the rough and the fine look lay beyond the reach: they disagree.
    agreement = float(agrees.sum()) / max(measured, 1)
    clock = clock_of(line, criteria.floor_of(fine.strength[agrees] if agrees.any() else fine.strength))
    return Candidate(criteria, clock, score, fine, line, agrees, agreement, scatter)


def _hopeless(offset_s: float, score: float, criteria: Criteria, stretches: LocalOffsets) -> Candidate:
    nothing = np.zeros(stretches.log_s.size, dtype=bool)
    return Candidate(criteria, ClockMap(offset_s), score, stretches, None, nothing, 0.0, np.inf)


def _line(stretches: LocalOffsets, criteria: Criteria, prior_slope: float) -> Line:
    sigma = np.full(stretches.log_s.size, criteria.sigma_s)
    if criteria.spread_s is not None:
        sigma = criteria.spread_s(stretches.strength)
    return robust_line(stretches.log_s, stretches.offset_s, sigma, prior_slope=prior_slope)


def clock_of(line: Line, floor_s: float) -> ClockMap:
    """The clock whose offset `media_s - log_s` runs along the line."""
    return ClockMap(
        offset_s=line.at_pivot - line.slope * line.pivot,
        rate=1.0 + line.slope,
        pivot_log_s=line.pivot,
        sigma_pivot_s=float(np.hypot(line.sigma_at_pivot, floor_s)),
        sigma_rate=line.sigma_slope,
    )
