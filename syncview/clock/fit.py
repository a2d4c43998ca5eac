"""The fit: marks by hand and all evidence become one clock, sure or honestly unsure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from syncview.clock.answers import Answer, answers
from syncview.clock.candidates import Candidate, clock_of
from syncview.clock.clock_map import ClockMap
from syncview.clock.evidence import Evidence
from syncview.clock.line_fit import PRIOR_DRIFT, weighted_line
from syncview.clock.log_lap_starts import LapStart, LogLaps
from syncview.clock.marks import Mark, Pairing, Passes, clock_by_marks, mark_points, pairings

MARK_FRAMES = 2.0
"""A mark further than this many frames (and than the stated uncertainty) from the evidence contradicts it."""
LOCAL_REACH_S = 0.25


@dataclass(frozen=True, slots=True)
class Residual:
    """How well the clock meets one lap start that the recording covers."""

    lap: int
    log_s: float
    media_s: float
    """Where the clock puts it."""
    evidence_s: float | None
    """By how much later the evidence around it puts it (sound, else image motion); None where it says nothing."""
    mark_s: float | None
    """By how much later it was marked; None where it was not."""


@dataclass(frozen=True, slots=True)
class Considered:
    """A clock that was considered."""

    offset_s: float
    drift_ppm: float
    why: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One of several clocks that fit alike."""

    clock: ClockMap
    basis: str
    reading: Pairing | None = None
    """How it reads the marks, when it comes from them."""


@dataclass(frozen=True, slots=True)
class ClockFit:
    """The clock, whether to trust it, and why."""

    clock: ClockMap | None
    """Best clock known; None when nothing at all was found."""
    sure: bool
    basis: str
    """What the clock rests on, in words."""
    doubts: tuple[str, ...]
    """Why it is unsure; empty when sure."""
    residuals: tuple[Residual, ...]
    candidates: tuple[Considered, ...]
    alternatives: tuple[Alternative, ...] = ()
    """Clocks between which the evidence cannot decide; empty unless that is the doubt."""


@dataclass(frozen=True, slots=True)
class Session:
    """What the fit must know about log and recording besides the evidence."""

    laps: LogLaps
    log_begin_s: float
    log_end_s: float
    recording_s: float
    """Length of the recording."""
    frame_s: float
    """Usual time between frames."""
    passes: Passes | None = None
    """Where laps pass a lap distance, for marks on other places than the start line."""

    def passed(self, lap_distance_m: float) -> tuple[LapStart, ...]:
        """The log's moments at that place."""
        return self.laps.starts if lap_distance_m == 0 or self.passes is None else self.passes(lap_distance_m)


@dataclass(frozen=True, slots=True)
class _Verdict:
    clock: ClockMap | None
    basis: str
    doubts: tuple[str, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    reading: Pairing | None = None
    """How it reads the marks, when it is known."""


def fit_clock(
    session: Session,
    evidence: Sequence[Evidence],
    marks: tuple[Mark, ...] = (),
    silences: Sequence[str] = (),
    *,
    found: list[Answer] | None = None,
) -> ClockFit:
    """Combine all evidence and the marks; `found` is `answers(evidence)` where it was asked for already.

    `silences` says why evidence that one would expect is missing ("the recording has no sound").
    """
    marks = tuple(sorted(marks, key=lambda mark: mark.media_s))
    readings = pairings(marks, session.passed) if marks else ()
    found = answers(evidence) if found is None else found
    if not marks:
        verdict = _by_evidence(session, evidence, found, silences)
    elif not readings:
        verdict = _unreadable_marks(marks, found)
    else:
        verdict = _by_marks(session, readings, marks, found)
    doubts = (*verdict.doubts, *_no_overlap(session, verdict.clock))
    return ClockFit(
        verdict.clock,
        sure=verdict.clock is not None and not doubts,
        basis=verdict.basis,
        doubts=doubts,
        residuals=_residuals(session, verdict.clock, evidence, verdict.reading, marks),
        candidates=_considered(evidence, readings),
        alternatives=verdict.alternatives,
    )


def settle(
    session: Session,
    fit: ClockFit,
    chosen: Alternative,
    why: str,
    evidence: Sequence[Evidence],
    marks: tuple[Mark, ...],
) -> ClockFit:
    """The fit with one of its alternatives as the clock, chosen for the reason `why`."""
    doubts = _no_overlap(session, chosen.clock)
    ascending = tuple(sorted(marks, key=lambda mark: mark.media_s))
    return replace(
        fit,
        clock=chosen.clock,
        sure=not doubts,
        basis=f"{chosen.basis}; {why}",
        doubts=doubts,
        residuals=_residuals(session, chosen.clock, evidence, chosen.reading, ascending),
        alternatives=(),
    )


def _by_evidence(
    session: Session, evidence: Sequence[Evidence], found: list[Answer], silences: Sequence[str]
) -> _Verdict:
    if len(found) == 1:
        return _Verdict(found[0].best.clock, found[0].basis, (*found[0].doubts, *_too_wide(session, found[0].best)))
    if found:
        places = " and ".join(f"{a.best.clock.offset_s:.2f} s by {a.best.criteria.kind}" for a in found)
        doubt = f"it fits at several offsets ({places}); mark one lap start"
        alike = tuple(Alternative(answer.best.clock, answer.basis) for answer in found)
        return _Verdict(found[0].best.clock, found[0].basis, (doubt,), alike)
    measured = [candidate for one in evidence for candidate in one.candidates]
    if not measured:
        reasons = [*silences, *(one.why_not for one in evidence if one.why_not)]
        reason = " and ".join(reasons) or "nothing was heard or seen"
        return _Verdict(None, "nothing", (f"{reason}; mark one lap start",))
    best = max(measured, key=lambda c: (c.agreement, c.score / c.criteria.least_score))
    doubt = f"{_weakness(best)}; mark one lap start, or check that log and recording belong together"
    return _Verdict(best.clock, f"{best.criteria.kind}, {best.stretches.log_s.size} stretches", (doubt,))


def _too_wide(session: Session, best: Candidate) -> tuple[str, ...]:
    """A doubt when the evidence is right but does not place the clock to a frame from the first moment that log and
    recording share to the last."""
    begin_s = max(session.log_begin_s, best.clock.to_log_s(0.0))
    end_s = min(session.log_end_s, best.clock.to_log_s(session.recording_s))
    width_s = max(best.clock.half_width_s(log_s) for log_s in (begin_s, end_s))
    if width_s <= session.frame_s:
        return ()
    kind, width_ms, frame_ms = best.criteria.kind, width_s * 1000, session.frame_s * 1000
    doubt = f"{kind} alone places it to ± {width_ms:.0f} ms, where a frame is {frame_ms:.0f} ms; mark one lap start"
    return (doubt,)


def _weakness(best: Candidate) -> str:
    kind = best.criteria.kind
    if best.stretches.log_s.size < 4:
        count = best.stretches.log_s.size
        stretches = "1 stretch" if count == 1 else f"{count} stretches"
        return f"{kind} can be followed in only {stretches} of {best.criteria.stretch_s:.0f} s"
    return (
        f"{kind} and log agree in only {best.agreement:.0%} of {best.stretches.log_s.size} stretches "
        f"(score {best.score:.0f}, spread {best.scatter_s * 1000:.0f} ms, drift {best.clock.drift_ppm:+.0f} ppm)"
    )


def _unreadable_marks(marks: tuple[Mark, ...], found: list[Answer]) -> _Verdict:
    times = ", ".join(f"{mark.media_s:.3f} s" for mark in marks)
    doubt = f"the marks ({times}) do not agree with the lap times or lap numbers of the log; look at each frame again"
    if len(found) == 1:
        return _Verdict(found[0].best.clock, found[0].basis, (f"{doubt} (without them: {found[0].basis}, which fit)",))
    return _Verdict(None, "nothing", (doubt,))


def _by_marks(
    session: Session, readings: tuple[Pairing, ...], marks: tuple[Mark, ...], found: list[Answer]
) -> _Verdict:
    words = "1 mark" if len(marks) == 1 else f"{len(marks)} marks"
    near = [(r, a) for r in readings for a in found if _meets(session, r, marks, a)]
    if len(near) == 1:
        reading, answer = near[0]
        clock = _joined(session, reading, marks, answer.best)
        return _Verdict(clock, f"{answer.basis} and {words}", answer.doubts, reading=reading)
    basis = f"{words} by hand"
    if len(found) == 1 and not near:
        best = found[0].best
        reading = min(readings, key=lambda r: abs(_furthest(r, marks, best)[0]))
        clock = clock_by_marks(marks, reading, session.frame_s)
        return _Verdict(clock, basis, (_contradiction(reading, marks, best),), reading=reading)
    clock = clock_by_marks(marks, readings[0], session.frame_s)
    if len(readings) > 1:
        laps = ", ".join(f"{r.passed[0].number} (offset {r.offset_s:.2f} s)" for r in readings)
        alike = tuple(
            Alternative(clock_by_marks(marks, r, session.frame_s), f"{basis} as lap {r.passed[0].number}", r)
            for r in readings
        )
        which = "the start of" if marks[0].lap_distance_m == 0 else "in"
        wish = _wish(marks[0], readings[0].passed[0].number)
        return _Verdict(clock, basis, (f"the mark could be {which} lap {laps}; say which, as in {wish}",), alike)
    if len(marks) > 1 and readings[0].spread_s > MARK_FRAMES * session.frame_s:
        spread = readings[0].spread_s * 1000
        doubt = f"the marks disagree with the log by {spread:.0f} ms; look at each again"
        return _Verdict(clock, basis, (doubt,), reading=readings[0])
    return _Verdict(clock, basis, reading=readings[0])


def _wish(mark: Mark, lap: int) -> str:
    """How the mark is given with its lap."""
    if mark.lap_distance_m == 0:
        return f"--lap-start {lap}={mark.media_s:g}"
    return f"--place {lap}/{mark.lap_distance_m:g}={mark.media_s:g}"


def _meets(session: Session, reading: Pairing, marks: tuple[Mark, ...], answer: Answer) -> bool:
    """Whether every mark lies where this answer puts its place."""
    clock = answer.best.clock
    for start, mark in zip(reading.passed, marks, strict=True):
        allowed = max(MARK_FRAMES * session.frame_s, clock.half_width_s(start.log_s) * 1.5)
        if not abs(clock.to_media_s(start.log_s) - mark.media_s) <= allowed:
            return False
    return True


def _furthest(reading: Pairing, marks: tuple[Mark, ...], candidate: Candidate) -> tuple[float, Mark]:
    """By how much the mark that lies furthest from a clock is later than it, and which one."""
    pairs = zip(reading.passed, marks, strict=True)
    return max(((m.media_s - candidate.clock.to_media_s(s.log_s), m) for s, m in pairs), key=lambda pair: abs(pair[0]))


def _contradiction(reading: Pairing, marks: tuple[Mark, ...], candidate: Candidate) -> str:
    off, mark = _furthest(reading, marks, candidate)
    side = "later" if off > 0 else "earlier"
    kind = candidate.criteria.kind
    return (
        f"the mark at {mark.media_s:.3f} s lies {abs(off):.3f} s {side} than the {kind} puts that place; "
        "look at the frame again"
    )


def _joined(session: Session, reading: Pairing, marks: tuple[Mark, ...], heard: Candidate) -> ClockMap:
    """One line through the stretches and the marks, each by its own weight; a clock in pieces stays as it is."""
    if heard.line is None:
        return heard.clock
    x, y, sigma = mark_points(marks, reading, session.frame_s)
    kept = heard.line.kept
    spread = np.hypot(max(heard.scatter_s, 1e-3), heard.criteria.floor_s * np.sqrt(kept.sum()))
    every = (
        np.concatenate((heard.stretches.log_s[kept], x)),
        np.concatenate((heard.stretches.offset_s[kept], y)),
        np.concatenate((np.full(int(kept.sum()), spread), sigma)),
    )
    return clock_of(weighted_line(*every, np.ones(every[0].size, dtype=bool), PRIOR_DRIFT), 0.0)


def _no_overlap(session: Session, clock: ClockMap | None) -> tuple[str, ...]:
    if clock is None:
        return ()
    begin, end = clock.to_media_s(session.log_begin_s), clock.to_media_s(session.log_end_s)
    if min(end, session.recording_s) - max(begin, 0.0) > 0.0:
        return ()
    return ("at this offset log and recording have no moment in common; check that they belong together",)


def _residuals(
    session: Session,
    clock: ClockMap | None,
    evidence: Sequence[Evidence],
    reading: Pairing | None,
    marks: tuple[Mark, ...],
) -> tuple[Residual, ...]:
    if clock is None:
        return ()
    marked = {s.log_s: m.media_s for s, m in zip(reading.passed, marks, strict=True)} if reading else {}
    result = []
    for start in session.laps.starts:
        media_s = clock.to_media_s(start.log_s)
        if 0.0 <= media_s <= session.recording_s:
            mark = marked.get(start.log_s)
            off = None if mark is None else mark - media_s
            result.append(Residual(start.number, start.log_s, media_s, _local(evidence, clock, start.log_s), off))
    return tuple(result)


def _local(evidence: Sequence[Evidence], clock: ClockMap, log_s: float) -> float | None:
    """What the first evidence that says anything measures around a moment, against the clock."""
    expected = clock.to_media_s(log_s) - log_s
    for one in evidence:
        if one.candidates:
            found = one.local(np.array([log_s]), np.array([expected]), LOCAL_REACH_S)
            if found.offset_s.size:
                return float(found.offset_s[0] - expected)
    return None


def _considered(evidence: Sequence[Evidence], readings: tuple[Pairing, ...]) -> tuple[Considered, ...]:
    measured = [
        Considered(
            c.clock.offset_s, c.clock.drift_ppm, f"{c.criteria.kind}, score {c.score:.0f}, {c.agreement:.0%} agree"
        )
        for one in evidence
        for c in one.candidates
    ]
    by_hand = [Considered(r.offset_s, 0.0, f"mark as start of lap {r.passed[0].number}") for r in readings]
    return (*measured, *by_hand)
