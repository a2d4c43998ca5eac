"""Image motion as evidence: candidate clocks, or why the picture says nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.clock.candidates import Candidate, Criteria, candidates_of
from syncview.clock.motion import GRID_S, STRETCH_S, EvenSignal, local_offsets, score_offsets
from syncview.clock.places import FloatArray, LocalOffsets, OffsetScores

MOTION = Criteria(
    kind="image motion",
    stretch_s=STRETCH_S,
    least_score=6.0,
    sigma_s=0.012,
    floor_s=0.008,
    agree_s=0.060,
    most_scatter_s=0.030,
)
PROXY = Criteria(
    kind="image motion against steering or lateral acceleration",
    stretch_s=STRETCH_S,
    least_score=6.0,
    sigma_s=0.030,
    floor_s=0.050,
    agree_s=0.120,
    most_scatter_s=0.060,
)
"""Steering and lateral acceleration lead the turning of the car by its own response, some 20 to 80 ms."""


@dataclass(frozen=True, slots=True, eq=False)
class MotionEvidence:
    """What the turning of the picture says about the clock."""

    picture: EvenSignal
    car: EvenSignal
    car_source: str
    scores: OffsetScores
    candidates: tuple[Candidate, ...]
    why_not: str

    def local(self, middles_s: FloatArray, expected_s: FloatArray, reach_s: float) -> LocalOffsets:
        """Offsets measured around log times; see `local_offsets`."""
        return local_offsets(self.picture, self.car, middles_s, expected_s, reach_s=reach_s)


def watch(picture: EvenSignal, car: EvenSignal, *, car_source: str, direct: bool) -> MotionEvidence:
    """Search all offsets, then measure the best few. `direct` says that the log's yaw rate itself is compared."""
    scores = score_offsets(picture, car)
    why_not = _why_still(picture, car, scores)
    evidence = MotionEvidence(picture, car, car_source, scores, (), why_not)
    if why_not:
        return evidence
    end_s = car.begin_s + car.values.size * GRID_S
    criteria = MOTION if direct else PROXY
    found = candidates_of(scores, evidence.local, criteria, car.begin_s, end_s)
    return MotionEvidence(picture, car, car_source, scores, found, "")


def _why_still(picture: EvenSignal, car: EvenSignal, scores: OffsetScores) -> str:
    if not picture.known.any() or float(np.abs(picture.values).max()) < 1e-4:
        return "the picture does not move"
    if not car.known.any() or float(np.abs(car.values).max()) < 1e-6:
        return "the log never turns"
    if not scores.offset_s.size:
        return "log and recording are too short to share enough driving"
    return ""
