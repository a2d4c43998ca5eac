"""A recording that was stopped, or lost a block, while the log went on: one offset before, another after.

What fits is kept; what is left of the log is searched anew, for an offset that is smaller later on (the recording can
lose time, not win it). The pieces share one rate.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from syncview.clock.candidates import LEAST_AGREEMENT, LEAST_STRETCHES, MOST_DRIFT, Candidate, follow
from syncview.clock.clock_map import ClockMap, Pause
from syncview.clock.evidence import Evidence
from syncview.clock.line_fit import PRIOR_DRIFT, weighted_line
from syncview.clock.places import FloatArray

MOST_PIECES = 4
LEAST_LOST_S = 0.08
"""Less missing than this is not told from scatter."""
WHOLE_AGREEMENT = 0.9
"""A candidate that more of the stretches agree with needs no pieces."""
LEAST_PIECE_AGREEMENT = 0.75
LEAST_GATHERED = 5
"""So many stretches of about the same offset are not chance. No source."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A part of the log in which one candidate holds."""

    candidate: Candidate
    log_s: FloatArray
    """Shape (n,), the stretches that agree."""
    offset_s: FloatArray
    """Shape (n,), their offsets."""
    measured: int
    """How many stretches were measured between the first and the last of them."""

    @property
    def begin_s(self) -> float:
        """Middle of the first agreeing stretch."""
        return float(self.log_s[0])

    @property
    def end_s(self) -> float:
        """Middle of the last agreeing stretch."""
        return float(self.log_s[-1])


def in_pieces(evidence: Evidence, first: Candidate) -> Candidate | None:
    """The candidate extended over pauses of the recording; None when no pause is found, or not with certainty."""
    if first.agreement >= WHOLE_AGREEMENT or first.score < first.criteria.least_score / 2:
        return None
    seeds = [piece for seed in _seeds(evidence, first) if (piece := _piece(seed)) is not None]
    if not seeds:
        return None
    pieces = [max(seeds, key=lambda piece: piece.log_s.size)]
    step = first.criteria.stretch_s
    begin, end = evidence.span_s
    while len(pieces) < MOST_PIECES and (later := _next(evidence, pieces[-1].end_s + step / 2, end, pieces[-1], +1)):
        pieces.append(later)
    while len(pieces) < MOST_PIECES and (
        earlier := _next(evidence, begin, pieces[0].begin_s - step / 2, pieces[0], -1)
    ):
        pieces.insert(0, earlier)
    return _joined(evidence, pieces) if len(pieces) > 1 else None


def _seeds(evidence: Evidence, first: Candidate) -> list[Candidate]:
    """Where a piece may start from: the candidate, and what each half of the log finds alone.

    After a short loss both levels lie within the first look's reach and a line is laid through both; one of the
    halves is clean. Its line is then followed through the whole log.
    """
    begin, end = evidence.span_s
    middle = (begin + end) / 2
    halves = [c for half in ((begin, middle), (middle, end)) for c in evidence.part(*half).candidates[:1] if c.fits]
    return [first, *(followed for c in halves if (followed := follow(c, evidence.local, begin, end)) is not None)]


def _piece(candidate: Candidate) -> Piece | None:
    """The run of stretches that holds most agreement for least disagreement, when it is good enough."""
    agrees = candidate.agrees
    gains = np.where(agrees, 1.0, -1.5)
    best, first, last, run, start = 0.0, 0, -1, 0.0, 0
    for i, gain in enumerate(gains):
        if run <= 0:
            run, start = 0.0, i
        run += float(gain)
        if run > best:
            best, first, last = run, start, i
    inside = slice(first, last + 1)
    kept = agrees[inside]
    if kept.sum() < LEAST_STRETCHES or kept.mean() < LEAST_PIECE_AGREEMENT:
        return None
    stretches = candidate.stretches
    return Piece(candidate, stretches.log_s[inside][kept], stretches.offset_s[inside][kept], kept.size)


def _next(evidence: Evidence, begin_s: float, end_s: float, beside: Piece, way: int) -> Piece | None:
    """The piece that holds in a rest of the log, beside a known one; None when nothing certain does."""
    step = evidence.criteria.stretch_s
    if end_s - begin_s < LEAST_STRETCHES * step:
        return None
    edge = beside.offset_s[-1] if way > 0 else beside.offset_s[0]
    for candidate in evidence.part(begin_s, end_s).candidates:
        if not candidate.fits and candidate.score < candidate.criteria.least_score / 2:
            continue
        piece = _piece(candidate) or _gathered(evidence, candidate, begin_s, end_s)
        if piece is None or piece.candidate.scatter_s > evidence.criteria.most_scatter_s:
            continue
        near = piece.offset_s[0] if way > 0 else piece.offset_s[-1]
        if way * (edge - near) > LEAST_LOST_S:
            return piece
    return None


def _gathered(evidence: Evidence, candidate: Candidate, begin_s: float, end_s: float) -> Piece | None:
    """A piece that fills only half of the rest: where what the recording lacks is as long, no line through all its
    stretches finds it, and the most stretches of about the same offset do."""
    log_s, offset_s = candidate.stretches.log_s, candidate.stretches.offset_s
    allowed = candidate.criteria.agree_s + MOST_DRIFT * np.abs(log_s[:, None] - log_s)
    together = np.abs(offset_s[:, None] - offset_s) <= allowed
    best = together[int(np.argmax(together.sum(axis=1)))] if log_s.size else np.zeros(0, dtype=bool)
    if best.sum() < LEAST_GATHERED:
        return None
    sigma = np.full(log_s.size, candidate.criteria.sigma_s)
    line = weighted_line(log_s, offset_s, sigma, best, PRIOR_DRIFT)
    followed = follow(replace(candidate, line=line), evidence.local, begin_s, end_s)
    piece = None if followed is None else _piece(followed)
    return piece if piece is not None and piece.log_s.size >= LEAST_GATHERED else None


def _joined(evidence: Evidence, pieces: list[Piece]) -> Candidate | None:
    """One clock through all pieces: an offset for each, one rate; None when too much of the log stays unexplained."""
    first = pieces[0].candidate
    agreeing = sum(piece.log_s.size for piece in pieces)
    measured = sum(piece.measured for piece in pieces)
    clock = _clock(evidence, pieces)
    if clock is None:
        return None
    log_s = np.concatenate([piece.log_s for piece in pieces])
    offset_s = np.concatenate([piece.offset_s for piece in pieces])
    residual = offset_s + log_s - clock.to_media_s(log_s)
    scatter = float(1.4826 * np.nanmedian(np.abs(residual)))
    return replace(
        first,
        clock=clock,
        score=sum(piece.candidate.score for piece in pieces),
        agrees=np.abs(residual) <= first.criteria.agree_s,
        stretches=type(first.stretches)(log_s, offset_s, np.ones(log_s.size)),
        line=None,
        agreement=agreeing / measured,
        scatter_s=scatter,
    )


def _clock(evidence: Evidence, pieces: list[Piece]) -> ClockMap | None:
    """Weighted least squares with one offset per piece and a common drift held near zero by its prior."""
    log_s = np.concatenate([piece.log_s for piece in pieces])
    offset_s = np.concatenate([piece.offset_s for piece in pieces])
    which = np.repeat(np.arange(len(pieces)), [piece.log_s.size for piece in pieces])
    pivot = float(log_s.mean())
    design = np.column_stack([*(which == i for i in range(len(pieces))), log_s - pivot]).astype(np.float64)
    sigma = evidence.criteria.sigma_s
    for _ in range(2):  # the second time with the spread that the first time showed
        rows = np.vstack([design / sigma, np.append(np.zeros(len(pieces)), 1 / PRIOR_DRIFT)])
        solution, *_ = np.linalg.lstsq(rows, np.append(offset_s / sigma, 0.0), rcond=None)
        spread = float(np.sqrt(np.mean((offset_s - design @ solution) ** 2)))
        sigma = max(evidence.criteria.sigma_s, spread)
    covariance = np.linalg.inv(rows.T @ rows)
    levels, slope = solution[:-1], float(solution[-1])
    pauses = _pauses(_tuned(evidence, pieces), pieces, levels, slope, pivot)
    if pauses is None:
        return None
    floor = evidence.criteria.floor_s
    return ClockMap(
        offset_s=float(levels[0]) - slope * pivot,
        rate=1.0 + slope,
        pivot_log_s=pivot,
        sigma_pivot_s=float(np.hypot(np.sqrt(np.diag(covariance)[:-1].max()), floor)),
        sigma_rate=float(np.sqrt(covariance[-1, -1])),
        pauses=pauses,
    )


def _tuned(evidence: Evidence, pieces: list[Piece]) -> Evidence:
    """The evidence as a search in one piece alone tunes it: the search over the whole log may have taken a wrong peak
    for the right one and listened for the wrong orders."""
    longest = max(pieces, key=lambda piece: piece.log_s.size)
    half_s = evidence.criteria.stretch_s / 2
    return evidence.tuned(longest.begin_s - half_s, longest.end_s + half_s)


def _pauses(
    evidence: Evidence, pieces: list[Piece], levels: FloatArray, slope: float, pivot: float
) -> tuple[Pause, ...] | None:
    """The pauses between the pieces; None when the levels do not fall from piece to piece."""
    pauses = []
    for i in range(len(pieces) - 1):
        lost_s = float(levels[i] - levels[i + 1])
        # A stretch that lies mostly on one side of the pause still agrees, and one inside it may by chance: the pause
        # may begin up to a stretch and a half before the middle of the last one that agrees.
        reach = 1.5 * evidence.criteria.stretch_s
        grid = np.arange(pieces[i].end_s - reach, pieces[i + 1].begin_s + reach, 0.02)
        if not LEAST_LOST_S <= lost_s <= grid[-1] - grid[0]:
            return None
        before, after = (level + slope * (grid - pivot) for level in (levels[i], levels[i + 1]))
        stops = _stop(grid, evidence.likeness(grid, before), evidence.likeness(grid, after), lost_s / (1 + slope))
        pauses.append(Pause(stops, lost_s))
    return tuple(pauses)


def _stop(grid: FloatArray, before: FloatArray, after: FloatArray, gone_s: float) -> float:
    """Log time at which the recording stops: what comes earlier fits the piece before, what comes `gone_s` later fits
    the piece after, best in sum."""
    earlier = np.concatenate(([0.0], np.cumsum(before)))
    later = np.concatenate((np.cumsum(after[::-1])[::-1], [0.0]))
    skip = round(gone_s / 0.02)
    total = earlier[: earlier.size - skip] + later[skip:]
    return float(grid[0] + 0.02 * int(np.argmax(total)))


def holds(candidate: Candidate) -> bool:
    """Whether a candidate in pieces is good enough to be the clock; stricter than for a whole one."""
    return candidate.fits and candidate.agreement >= max(LEAST_AGREEMENT, LEAST_PIECE_AGREEMENT)
