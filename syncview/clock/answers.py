"""Which clocks the evidence allows, taken together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from syncview.clock.candidates import LEAST_AGREEMENT, LEAST_STRETCHES, MOST_DRIFT, Candidate
from syncview.clock.evidence import Evidence
from syncview.clock.pieces import WHOLE_AGREEMENT, holds, in_pieces
from syncview.clock.places import OffsetScores

SAME_S = 0.12
"""Clocks that differ by less in the middle of the evidence are one answer seen twice."""
JOINT_SCORE_SHARE = 0.6
"""Two kinds of evidence that find the same offset need less height each than one alone. No source."""
HEARD_SHARE, CHANCE_SCORE, NEAR_S = 0.35, 3.0, 0.3
"""A kind that finds nothing of this share of the least score anywhere has nothing to say (noise finds 0.3 of it); one
that does contradicts a clock near which, within `NEAR_S`, it finds no more than chance gives. No source."""
RIVAL_SCORE_SHARE = 0.8
LOOSE_END = 3
"""As many stretches in a row that contradict an otherwise good clock at one end are not chance. No source."""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """One clock that fits, with all the evidence for it."""

    candidates: tuple[Candidate, ...]
    """The most exact first."""
    doubts: tuple[str, ...] = ()

    @property
    def best(self) -> Candidate:
        """The candidate whose clock is used."""
        return self.candidates[0]

    @property
    def basis(self) -> str:
        """In words."""
        parts = [f"{c.criteria.kind}, {c.stretches.log_s.size} stretches" for c in self.candidates]
        return " and ".join(parts)


def answers(evidence: Sequence[Evidence]) -> list[Answer]:
    """Every clock that some evidence supports well enough; the same clock by several kinds is one answer."""
    fitting = [candidate for one in evidence for candidate in _fitting(one)]
    groups = _grouped(sorted(fitting, key=_exactness)) or _grouped(_jointly(evidence))
    return [
        Answer(
            tuple(group),
            (
                *_loose_ends(group[0]),
                *_pauses_unplaced(group),
                *_rivals(group, evidence),
                *_against(group, evidence),
            ),
        )
        for group in groups
    ]


def _fitting(evidence: Evidence) -> list[Candidate]:
    found = []
    for candidate in evidence.candidates:
        if candidate.fits and candidate.agreement >= WHOLE_AGREEMENT:
            found.append(candidate)
            continue
        pieced = in_pieces(evidence, candidate)
        if pieced is not None and holds(pieced):
            if not any(same_clock(other, pieced) for other in found):
                found.append(pieced)
        elif candidate.fits:
            found.append(candidate)
    # A piece of a clock in pieces also stands as a candidate of its own: it is the same answer, seen in part.
    whole = [c for c in found if c.clock.pauses]
    return whole if whole else found


def same_clock(one: Candidate, other: Candidate) -> bool:
    """Whether two candidates give the same media times where either of them was measured."""
    allowed = SAME_S + 3 * max(one.scatter_s, other.scatter_s)
    return any(_apart_s(one, other, candidate) <= allowed for candidate in (one, other))


def _apart_s(one: Candidate, other: Candidate, measured: Candidate) -> float:
    at = measured.stretches.log_s[measured.agrees] if measured.agrees.any() else measured.stretches.log_s
    off = np.abs(one.clock.to_media_s(at) - other.clock.to_media_s(at))
    return float(np.median(off[np.isfinite(off)])) if np.isfinite(off).any() else np.inf


def _exactness(candidate: Candidate) -> float:
    return candidate.clock.half_width_s(candidate.clock.pivot_log_s)


def _grouped(candidates: Sequence[Candidate]) -> list[list[Candidate]]:
    """Candidates of the same clock together, each kind of evidence once, in the order given."""
    groups: list[list[Candidate]] = []
    for candidate in candidates:
        home = next((group for group in groups if same_clock(group[0], candidate)), None)
        if home is None:
            groups.append([candidate])
        elif all(candidate.criteria is not other.criteria for other in home):
            home.append(candidate)
    return groups


def _jointly(evidence: Sequence[Evidence]) -> list[Candidate]:
    """Candidates of two kinds that are not enough alone but find the same clock, the more exact of each pair first."""
    found: list[Candidate] = []
    for i, one in enumerate(evidence):
        for other in evidence[i + 1 :]:
            pairs = ((a, b) for a in one.candidates for b in other.candidates)
            found.extend(c for pair in pairs if _good_together(*pair) for c in sorted(pair, key=_exactness))
    return found


def _good_together(a: Candidate, b: Candidate) -> bool:
    if not all(c.score >= JOINT_SCORE_SHARE * c.criteria.least_score and c.line is not None for c in (a, b)):
        return False
    if any(abs(c.clock.rate - 1.0) > MOST_DRIFT for c in (a, b)):
        return False
    if not same_clock(a, b):
        return False
    agreeing = int(a.agrees.sum()) + int(b.agrees.sum())
    measured = sum(c.agrees.sum() / max(c.agreement, 1e-9) for c in (a, b))
    return agreeing >= 2 * LEAST_STRETCHES and agreeing / measured >= LEAST_AGREEMENT


def _rivals(group: Sequence[Candidate], evidence: Sequence[Evidence]) -> list[str]:
    """A doubt when another clock is kept out by its score alone, just so, though more stretches agree with it: where
    laps are nearly equal the score does not tell one lap from the next."""
    best = group[0]
    if len(group) > 1 or best.clock.pauses:
        return []
    for other in (c for one in evidence if one.criteria is best.criteria for c in one.candidates):
        good = other.agrees.sum() >= best.agrees.sum() and other.agreement >= best.agreement
        close = other.scatter_s <= other.criteria.most_scatter_s and other.score >= RIVAL_SCORE_SHARE * best.score
        if good and close and not same_clock(best, other):
            return [f"it fits at {other.clock.offset_s:.2f} s nearly as well; mark one lap start"]
    return []


def _pauses_unplaced(group: Sequence[Candidate]) -> list[str]:
    """A doubt when the recording was paused and nothing tells where to half a second."""
    pauses = group[0].clock.pauses
    if not pauses or any(candidate.criteria.places_pauses for candidate in group):
        return []
    at, lost_s = pauses[0].log_s, pauses[0].lost_s
    kind = group[0].criteria.kind
    return [
        f"the recording misses {lost_s:.1f} s after log {at:.0f} s or so, which {kind} alone does not place exactly"
    ]


def _against(group: Sequence[Candidate], evidence: Sequence[Evidence]) -> list[str]:
    """A doubt for each other kind that follows the log somewhere, but not at this clock at all."""
    doubts = []
    for one in evidence:
        scores = one.scores
        if not scores.offset_s.size or any(one.criteria is candidate.criteria for candidate in group):
            continue
        best = float(scores.score.max())
        if best >= HEARD_SHARE * one.criteria.least_score and _score_at(group[0], scores) < CHANCE_SCORE:
            kind = one.criteria.kind
            doubts.append(f"{kind} does not follow the log at this clock; check that log and recording belong together")
    return doubts


def _score_at(candidate: Candidate, scores: OffsetScores) -> float:
    """The best of these scores near to where the candidate was measured."""
    log_s = candidate.stretches.log_s[candidate.agrees]
    offset_s = candidate.clock.to_media_s(log_s) - log_s
    known = offset_s[np.isfinite(offset_s)]
    if not known.size:
        return np.inf
    near = np.abs(scores.offset_s[:, None] - known).min(axis=1) <= NEAR_S
    return float(scores.score[near].max()) if near.any() else np.inf


def _loose_ends(candidate: Candidate) -> list[str]:
    """A doubt when the beginning or the end of the log contradicts the clock in a row: the recording may be cut."""
    if candidate.clock.pauses or not candidate.agrees.any():
        return []
    agreeing = np.flatnonzero(candidate.agrees)
    log_s = candidate.stretches.log_s
    doubts = []
    if agreeing[0] >= LOOSE_END:
        doubts.append(f"before log {log_s[agreeing[0]]:.0f} s it does not fit: the recording may have been cut there")
    if candidate.agrees.size - 1 - agreeing[-1] >= LOOSE_END:
        doubts.append(f"after log {log_s[agreeing[-1]]:.0f} s it does not fit: the recording may have been cut there")
    return doubts
