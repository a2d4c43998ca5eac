"""Image motion as evidence: candidate clocks, or why the picture says nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from syncview.clock.candidates import Candidate, Criteria, candidates_of
from syncview.clock.motion import GRID_S, STRETCH_S, EvenSignal, local_offsets, score_offsets
from syncview.clock.places import FloatArray, LocalOffsets, OffsetScores


def spread_of(strength: FloatArray) -> FloatArray:
    """Spread of stretches, s, from their correlations: what the turning leaves unexplained, as a share of power, is
    near scenery and an encoder that skips, and may be in step with the turning. Found in trials, no source.
    """
    return np.asarray(0.0035 + 0.35 * (1.0 - np.minimum(strength, 1.0) ** 2), dtype=np.float64)


MOTION = Criteria(
    kind="image motion",
    stretch_s=STRETCH_S,
    least_score=6.0,
    sigma_s=0.012,
    floor_s=0.005,  # what stays of near scenery and of frames that an encoder repeats: 10 ms at most on made circuits
    agree_s=0.060,
    most_scatter_s=0.030,
    spread_s=spread_of,
    least_strength=0.96,
    unclear_s=0.030,  # by night there is nothing far to be seen
    places_pauses=False,
)
PROXY = Criteria(
    kind="image motion against steering or lateral acceleration",
    stretch_s=STRETCH_S,
    least_score=6.0,
    sigma_s=0.030,
    floor_s=0.050,
    agree_s=0.120,
    most_scatter_s=0.060,
    places_pauses=False,
)
"""Steering and lateral acceleration lead the turning of the car by its own response, some 20 to 80 ms."""


@dataclass(frozen=True, slots=True, eq=False)
class MotionEvidence:
    """What the turning of the picture says about the clock."""

    picture: EvenSignal
    car: EvenSignal
    car_source: str
    direct: bool
    """Whether the log's yaw rate itself is compared, and not what follows from it."""
    scores: OffsetScores
    candidates: tuple[Candidate, ...]
    why_not: str

    @property
    def criteria(self) -> Criteria:
        """How image motion is judged."""
        return MOTION if self.direct else PROXY

    @property
    def span_s(self) -> tuple[float, float]:
        """Log times of the first and last turning."""
        return self.car.begin_s, self.car.begin_s + self.car.values.size * GRID_S

    def local(self, middles_s: FloatArray, expected_s: FloatArray, reach_s: float) -> LocalOffsets:
        """Offsets measured around log times; see `local_offsets`."""
        return local_offsets(self.picture, self.car, middles_s, expected_s, reach_s=reach_s)

    def part(self, begin_log_s: float, end_log_s: float) -> MotionEvidence:
        """The same picture against a part of the log."""
        first, stop = (max(round((t - self.car.begin_s) / GRID_S), 0) for t in (begin_log_s, end_log_s))
        car = EvenSignal(self.car.values[first:stop], self.car.known[first:stop], self.car.begin_s + first * GRID_S)
        return watch(self.picture, car, car_source=self.car_source, direct=self.direct)

    def tuned(self, begin_log_s: float, end_log_s: float) -> MotionEvidence:  # noqa: ARG002
        """Itself: motion has nothing to tune."""
        return self

    def likeness(self, log_s: FloatArray, offset_s: FloatArray) -> FloatArray:
        """Product of the two signals in units of their spread, moment by moment; its sign is that of the match."""
        seen = _nearest(self.picture, log_s + offset_s)
        logged = _nearest(self.car, log_s)
        scale = float(self.picture.values.std() * self.car.values.std()) + 1e-12
        product = seen * logged / scale
        return product if product.sum() >= 0 else -product


def _nearest(signal: EvenSignal, time_s: FloatArray) -> FloatArray:
    at = np.round((time_s - signal.begin_s) / GRID_S).astype(np.intp)
    inside = (at >= 0) & (at < signal.values.size)
    return np.where(inside, signal.values[np.clip(at, 0, signal.values.size - 1)], 0.0)


def watch(picture: EvenSignal, car: EvenSignal, *, car_source: str, direct: bool) -> MotionEvidence:
    """Search all offsets, then measure the best few. `direct` says that the log's yaw rate itself is compared."""
    if picture.values.size < 2 or car.values.size < 2:
        nothing = np.zeros(0)
        scores = OffsetScores(nothing, nothing, nothing)
        return MotionEvidence(picture, car, car_source, direct, scores, (), "recording or log is too short")
    scores = score_offsets(picture, car)
    why_not = _why_still(picture, car, scores)
    evidence = MotionEvidence(picture, car, car_source, direct, scores, (), why_not)
    if why_not:
        return evidence
    found = candidates_of(scores, evidence.local, evidence.criteria, *evidence.span_s)
    return replace(evidence, candidates=found)


def _why_still(picture: EvenSignal, car: EvenSignal, scores: OffsetScores) -> str:
    if not picture.known.any() or float(np.abs(picture.values).max()) < 1e-4:
        return "the picture does not move"
    if not car.known.any() or float(np.abs(car.values).max()) < 1e-6:
        return "the log never turns"
    if not scores.offset_s.size:
        return "log and recording are too short to share enough driving"
    return ""
