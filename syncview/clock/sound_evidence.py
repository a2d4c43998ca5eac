"""From engine sound to candidate clocks, each measured stretch by stretch, and a judgement of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.clock.clock_map import ClockMap
from syncview.clock.line_fit import PRIOR_DRIFT, Line, robust_line
from syncview.clock.sound import FRAME_S, EngineTrack, Float32Array, OffsetScores, Spectrogram, score_offsets
from syncview.clock.sound_places import STRETCH_S, LocalOffsets, local_offsets, order_ladder

LEAST_SCORE = 12.0
"""Foreign logs stay below 8 standard deviations in trials, true ones start at 20."""
MOST_CANDIDATES = 5
RIVAL_SHARE = 0.4
"""Peaks lower than this share of the highest are not measured."""
APART_S = 2.0
FIRST_REACH_S, SECOND_REACH_S = 1.5, 0.25
STRETCH_SIGMA_S = 0.004
"""Spread of one stretch's offset seen in trials with a clean engine; widened to what the stretches show."""
FLOOR_S = 0.002
"""Part of the uncertainty that no number of stretches removes: log and sound time their samples differently."""
AGREE_S = 0.040
"""A stretch agrees when it lies this near to the line: 2.5 frames at 60 per second, 40 ms of sound and picture."""
LEAST_STRETCHES = 4
LEAST_AGREEMENT = 0.6
MOST_SCATTER_S = 0.020
MOST_DRIFT = 1500e-6


@dataclass(frozen=True, slots=True, eq=False)
class SoundCandidate:
    """One clock that the sound allows."""

    clock: ClockMap
    score: float
    """Standard deviations above chance, of the whole session at rate one."""
    stretches: LocalOffsets
    line: Line | None
    agreement: float
    """Share of the measured stretches that agree with the line."""
    scatter_s: float
    """Robust spread of the agreeing stretches about the line."""

    @property
    def fits(self) -> bool:
        """Whether enough stretches agree closely enough for this to be the clock."""
        return (
            self.score >= LEAST_SCORE
            and self.stretches.log_s.size >= LEAST_STRETCHES
            and self.agreement >= LEAST_AGREEMENT
            and self.scatter_s <= MOST_SCATTER_S
            and abs(self.clock.rate - 1.0) <= MOST_DRIFT
        )


@dataclass(frozen=True, slots=True, eq=False)
class SoundEvidence:
    """What the engine says about the clock."""

    sound: Spectrogram
    engine: EngineTrack
    scores: OffsetScores
    ladder: Float32Array
    candidates: tuple[SoundCandidate, ...]
    """Those that fit first, then by score; may be empty."""
    why_not: str
    """Why there are no candidates at all; empty when there are."""


def hear(sound: Spectrogram, engine: EngineTrack) -> SoundEvidence:
    """Search all offsets, then measure the best few."""
    scores = score_offsets(sound, engine)
    why_not = _why_silent(sound, engine, scores)
    if why_not:
        return SoundEvidence(sound, engine, scores, np.zeros((0, 0), np.float32), (), why_not)
    ladder = order_ladder(sound, scores.order_weights)
    candidates = [
        _measure(sound, ladder, engine, offset, score)
        for offset, score in peaks(scores, most=MOST_CANDIDATES, least_share=RIVAL_SHARE)
    ]
    candidates.sort(key=lambda c: (not c.fits, -c.score))
    return SoundEvidence(sound, engine, scores, ladder, tuple(candidates), "")


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


def peaks(scores: OffsetScores, *, most: int, least_share: float) -> list[tuple[float, float]]:
    """The highest scores, at least `APART_S` from each other: (offset_s, score), best first."""
    left = scores.score.copy()
    found: list[tuple[float, float]] = []
    while len(found) < most:
        best = int(np.argmax(left))
        if not np.isfinite(left[best]) or (found and left[best] < least_share * found[0][1]):
            break
        found.append((float(scores.offset_s[best]), float(left[best])))
        left[np.abs(scores.offset_s - scores.offset_s[best]) < APART_S] = -np.inf
    return found


def _measure(
    sound: Spectrogram, ladder: Float32Array, engine: EngineTrack, offset_s: float, score: float
) -> SoundCandidate:
    end = engine.begin_s + engine.place.size * FRAME_S
    middles = np.arange(engine.begin_s + STRETCH_S / 2, end, STRETCH_S)
    rough = local_offsets(sound, ladder, engine, middles, np.full(middles.size, offset_s), reach_s=FIRST_REACH_S)
    if rough.log_s.size < 2:
        return SoundCandidate(ClockMap(offset_s), score, rough, None, 0.0, np.inf)
    line = _line(rough, prior_slope=1e-3)
    fine = local_offsets(sound, ladder, engine, middles, line(middles), reach_s=SECOND_REACH_S)
    if fine.log_s.size < 2:
        return SoundCandidate(ClockMap(offset_s), score, rough, None, 0.0, np.inf)
    line = _line(fine)
    residual = fine.offset_s - line(fine.log_s)
    agree = np.abs(residual) <= AGREE_S
    scatter = float(1.4826 * np.median(np.abs(residual[agree]))) if agree.any() else np.inf
    # Stretches lost between the rough and the fine look lay on the border of the reach: they disagree.
    agreement = float(agree.sum()) / max(rough.log_s.size, fine.log_s.size)
    return SoundCandidate(clock_of(line), score, fine, line, agreement, scatter)


def _line(stretches: LocalOffsets, prior_slope: float = PRIOR_DRIFT) -> Line:
    sigma = np.full(stretches.log_s.size, STRETCH_SIGMA_S)
    return robust_line(stretches.log_s, stretches.offset_s, sigma, prior_slope=prior_slope)


def clock_of(line: Line, floor_s: float = FLOOR_S) -> ClockMap:
    """The clock whose offset `media_s - log_s` runs along the line."""
    return ClockMap(
        offset_s=line.at_pivot - line.slope * line.pivot,
        rate=1.0 + line.slope,
        pivot_log_s=line.pivot,
        sigma_pivot_s=float(np.hypot(line.sigma_at_pivot, floor_s)),
        sigma_rate=line.sigma_slope,
    )
