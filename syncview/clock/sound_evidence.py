"""Engine sound as evidence: candidate clocks, or why the sound says nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from syncview.clock.candidates import Candidate, Criteria, candidates_of
from syncview.clock.places import FloatArray, LocalOffsets, OffsetScores
from syncview.clock.sound import FRAME_S, LEAST_OVERLAP_S, ORDERS, EngineTrack, Spectrogram, score_offsets
from syncview.clock.sound_places import STRETCH_S, Ladder, explained, local_offsets, order_ladder

SOUND = Criteria(
    kind="engine sound",
    stretch_s=STRETCH_S,
    least_score=12.0,
    sigma_s=0.004,
    floor_s=0.002,
    agree_s=0.040,
    most_scatter_s=0.020,
)


@dataclass(frozen=True, slots=True, eq=False)
class SoundEvidence:
    """What the engine says about the clock."""

    sound: Spectrogram
    engine: EngineTrack
    scores: OffsetScores
    order_weights: FloatArray
    """How audible each of `sound.ORDERS` is, shape (len(ORDERS),)."""
    ladder: Ladder
    """For the orders that are audible."""
    candidates: tuple[Candidate, ...]
    why_not: str
    """Why there are no candidates at all; empty when there are."""

    @property
    def criteria(self) -> Criteria:
        """How engine sound is judged."""
        return SOUND

    @property
    def span_s(self) -> tuple[float, float]:
        """Log times of the first and last engine speed."""
        return self.engine.begin_s, self.engine.begin_s + self.engine.place.size * FRAME_S

    def local(self, middles_s: FloatArray, expected_s: FloatArray, reach_s: float) -> LocalOffsets:
        """Offsets measured around log times; see `local_offsets`."""
        return local_offsets(self.sound, self.ladder, self.engine, middles_s, expected_s, reach_s=reach_s)

    def part(self, begin_log_s: float, end_log_s: float) -> SoundEvidence:
        """The same sound against a part of the log."""
        first, stop = (round((t - self.engine.begin_s) / FRAME_S) for t in (begin_log_s, end_log_s))
        first = max(first, 0)
        return hear(self.sound, EngineTrack(self.engine.place[first:stop], self.engine.begin_s + first * FRAME_S))

    def tuned(self, begin_log_s: float, end_log_s: float) -> SoundEvidence:
        """The same sound and log, listened to for the orders that a part of the log finds."""
        part = self.part(begin_log_s, end_log_s)
        return replace(self, order_weights=part.order_weights, ladder=part.ladder) if part.candidates else self

    def likeness(self, log_s: FloatArray, offset_s: FloatArray) -> FloatArray:
        """How loud the engine's orders are where the log says they are, moment by moment; see `order_ladder`."""
        return explained(self.sound, self.ladder, self.engine, log_s, offset_s)


def hear(sound: Spectrogram, engine: EngineTrack) -> SoundEvidence:
    """Search all offsets, then measure the best few."""
    if engine.place.size < 2:
        return _silent(sound, engine, "the log is too short")
    scores, order_weights = score_offsets(sound, engine)
    why_not = _why_silent(sound, engine, scores)
    if why_not:
        return _silent(sound, engine, why_not)
    evidence = SoundEvidence(sound, engine, scores, order_weights, order_ladder(sound, order_weights), (), "")
    found = candidates_of(scores, evidence.local, SOUND, *evidence.span_s)
    return replace(evidence, candidates=found)


def _silent(sound: Spectrogram, engine: EngineTrack, why_not: str) -> SoundEvidence:
    nothing = np.zeros(0)
    scores = OffsetScores(nothing, nothing, nothing)
    unheard = np.zeros(ORDERS.size)
    return SoundEvidence(sound, engine, scores, unheard, order_ladder(sound, unheard), (), why_not)


def _why_silent(sound: Spectrogram, engine: EngineTrack, scores: OffsetScores) -> str:
    place = engine.place[np.isfinite(engine.place)]
    if not place.size:
        return "the engine speed in the log is never above idle"
    if place.std() < 2.0:
        return "the engine speed in the log hardly changes, so it fits anywhere"
    if not len(sound):
        return "the recording's sound is too short"
    if not sound.stored.any():
        return "the recording's sound is silent"
    if not scores.offset_s.size:
        return _too_short(len(sound) * FRAME_S, place.size * FRAME_S)
    return ""


def _too_short(heard_s: float, running_s: float) -> str:
    if heard_s < LEAST_OVERLAP_S:
        return f"the recording has only {heard_s:.0f} s of sound, where {LEAST_OVERLAP_S:.0f} s are needed"
    if running_s < LEAST_OVERLAP_S:
        return f"the engine runs for only {running_s:.0f} s of the log, where {LEAST_OVERLAP_S:.0f} s are needed"
    return f"log and recording share no {LEAST_OVERLAP_S:.0f} s of the engine running"
