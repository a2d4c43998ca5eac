"""Engine sound as evidence: candidate clocks, or why the sound says nothing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.clock.candidates import Candidate, Criteria, candidates_of
from syncview.clock.places import FloatArray, LocalOffsets, OffsetScores
from syncview.clock.sound import FRAME_S, EngineTrack, Float32Array, Spectrogram, score_offsets
from syncview.clock.sound_places import STRETCH_S, local_offsets, order_ladder

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
    ladder: Float32Array
    """See `order_ladder`; empty when the sound says nothing."""
    candidates: tuple[Candidate, ...]
    why_not: str
    """Why there are no candidates at all; empty when there are."""

    def local(self, middles_s: FloatArray, expected_s: FloatArray, reach_s: float) -> LocalOffsets:
        """Offsets measured around log times; see `local_offsets`."""
        return local_offsets(self.sound, self.ladder, self.engine, middles_s, expected_s, reach_s=reach_s)


def hear(sound: Spectrogram, engine: EngineTrack) -> SoundEvidence:
    """Search all offsets, then measure the best few."""
    scores, order_weights = score_offsets(sound, engine)
    why_not = _why_silent(sound, engine, scores)
    if why_not:
        return SoundEvidence(sound, engine, scores, np.zeros((0, 0), np.float32), (), why_not)
    evidence = SoundEvidence(sound, engine, scores, order_ladder(sound, order_weights), (), "")
    end_s = engine.begin_s + engine.place.size * FRAME_S
    found = candidates_of(scores, evidence.local, SOUND, engine.begin_s, end_s)
    return SoundEvidence(sound, engine, scores, evidence.ladder, found, "")


def _why_silent(sound: Spectrogram, engine: EngineTrack, scores: OffsetScores) -> str:
    place = engine.place[np.isfinite(engine.place)]
    if not place.size:
        return "the engine speed in the log is never above idle"
    if place.std() < 2.0:
        return "the engine speed in the log hardly changes, so it fits anywhere"
    if not len(sound.level):
        return "the recording's sound is too short"
    if not np.isfinite(sound.level).all() or float(np.abs(sound.level).max()) < 1e-3:
        return "the recording's sound is silent"
    if not scores.offset_s.size:
        return "log and recording are too short to share enough of the engine running"
    return ""
