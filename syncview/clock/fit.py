"""The fit: marks by hand and evidence from sound become one clock, sure or honestly unsure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from syncview.clock.candidates import Candidate as Measured
from syncview.clock.candidates import clock_of
from syncview.clock.clock_map import ClockMap
from syncview.clock.line_fit import PRIOR_DRIFT, weighted_line
from syncview.clock.log_lap_starts import LapStart, LogLaps
from syncview.clock.marks import HAND_FRAMES, Mark, Pairing, pairings
from syncview.clock.sound_evidence import SOUND, SoundEvidence

MARK_FRAMES = 2.0
"""A mark further than this many frames (and than the stated uncertainty) from the sound contradicts it."""
LOCAL_REACH_S = 0.25


@dataclass(frozen=True, slots=True)
class Residual:
    """How well the clock meets one lap start that the recording covers."""

    lap: int
    log_s: float
    media_s: float
    """Where the clock puts it."""
    sound_s: float | None
    """By how much later the sound around it puts it; None where the sound says nothing."""
    mark_s: float | None
    """By how much later it was marked; None where it was not."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A clock that was considered."""

    offset_s: float
    drift_ppm: float
    why: str


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
    candidates: tuple[Candidate, ...]


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


def fit_clock(session: Session, sound: SoundEvidence | None, marks: tuple[Mark, ...], no_sound: str = "") -> ClockFit:
    """Combine all evidence.

    `sound` is None when the recording has none or the log no engine speed; `no_sound` then says which.
    """
    marks = tuple(sorted(marks, key=lambda mark: mark.media_s))
    readings = pairings(marks, session.laps.starts) if marks else ()
    heard = sound.candidates if sound is not None else ()
    fitting = [candidate for candidate in heard if candidate.fits]
    if not marks:
        clock, doubts, basis = _by_sound(heard, fitting, sound.why_not if sound is not None else no_sound)
    elif not readings:
        clock, doubts, basis = _unreadable_marks(marks, fitting)
    else:
        clock, doubts, basis = _by_marks(session, readings, marks, fitting)
    doubts = [*doubts, *_no_overlap(session, clock)]
    return ClockFit(
        clock,
        sure=clock is not None and not doubts,
        basis=basis,
        doubts=tuple(doubts),
        residuals=_residuals(session, clock, sound, readings[0] if len(readings) == 1 else None, marks),
        candidates=_candidates(heard, readings),
    )


_Verdict = tuple[ClockMap | None, list[str], str]


def _by_sound(heard: tuple[Measured, ...], fitting: list[Measured], silent: str) -> _Verdict:
    if not heard:
        return None, [f"{silent or 'the sound says nothing'}; mark one lap start"], "nothing"
    best = heard[0]
    basis = f"engine sound, {best.stretches.log_s.size} stretches"
    if len(fitting) > 1:
        places = " and ".join(f"{c.clock.offset_s:.2f} s" for c in fitting)
        return best.clock, [f"the sound fits at several offsets alike ({places}); mark one lap start"], basis
    if not fitting:
        return (
            best.clock,
            [f"{_weakness(best)}; mark one lap start, or check that log and recording belong together"],
            basis,
        )
    return best.clock, [], basis


def _weakness(best: Measured) -> str:
    if best.stretches.log_s.size < 4:
        return f"the engine can be followed in only {best.stretches.log_s.size} stretches of ten seconds"
    return (
        f"engine sound and logged engine speed agree in only {best.agreement:.0%} of the stretches "
        f"(score {best.score:.0f}, spread {best.scatter_s * 1000:.0f} ms, drift {best.clock.drift_ppm:+.0f} ppm)"
    )


def _unreadable_marks(marks: tuple[Mark, ...], fitting: list[Measured]) -> _Verdict:
    times = ", ".join(f"{mark.media_s:.3f} s" for mark in marks)
    doubt = f"the marks ({times}) do not agree with the lap times or lap numbers of the log"
    if len(fitting) == 1:
        return fitting[0].clock, [f"{doubt}; without them the sound alone fits"], "engine sound"
    return None, [doubt], "nothing"


def _by_marks(
    session: Session,
    readings: tuple[Pairing, ...],
    marks: tuple[Mark, ...],
    fitting: list[Measured],
) -> _Verdict:
    near = [(r, c) for r in readings for c in fitting if _meets(session, r, marks, c)]
    if len(near) == 1:
        reading, candidate = near[0]
        words = "1 mark" if len(marks) == 1 else f"{len(marks)} marks"
        return _joined(session, reading, marks, candidate), [], f"engine sound and {words}"
    clock = _marks_clock(session, readings[0], marks)
    basis = f"{len(marks)} mark(s) by hand"
    if len(fitting) == 1 and not near:
        return clock, [_contradiction(readings, marks, fitting[0])], basis
    if len(readings) > 1:
        laps = ", ".join(f"{r.starts[0].number} (offset {r.offset_s:.2f} s)" for r in readings)
        wish = f"--lap-start {readings[0].starts[0].number}={marks[0].media_s:g}"
        return clock, [f"the mark could be the start of lap {laps}; say which, as in {wish}"], basis
    if len(marks) > 1 and readings[0].spread_s > MARK_FRAMES * session.frame_s:
        spread = readings[0].spread_s * 1000
        return clock, [f"the marks disagree with the lap times by {spread:.0f} ms; look at each again"], basis
    return clock, [], basis


def _meets(session: Session, reading: Pairing, marks: tuple[Mark, ...], candidate: Measured) -> bool:
    """Whether every mark lies where this candidate puts its lap start."""
    for start, mark in zip(reading.starts, marks, strict=True):
        allowed = max(MARK_FRAMES * session.frame_s, candidate.clock.half_width_s(start.log_s) * 1.5)
        if abs(candidate.clock.to_media_s(start.log_s) - mark.media_s) > allowed:
            return False
    return True


def _contradiction(readings: tuple[Pairing, ...], marks: tuple[Mark, ...], candidate: Measured) -> str:
    def worst(reading: Pairing) -> float:
        pairs = zip(reading.starts, marks, strict=True)
        return max((m.media_s - candidate.clock.to_media_s(s.log_s) for s, m in pairs), key=abs)

    off = min((worst(reading) for reading in readings), key=abs)
    side = "later" if off > 0 else "earlier"
    return f"a mark lies {abs(off):.3f} s {side} than the engine sound puts that lap start; look at the frame again"


def _marks_clock(session: Session, reading: Pairing, marks: tuple[Mark, ...]) -> ClockMap:
    x, y, sigma = _mark_points(session, reading, marks)
    return clock_of(weighted_line(x, y, sigma, np.ones(x.size, dtype=bool), PRIOR_DRIFT), SOUND.floor_s)


def _mark_points(
    session: Session, reading: Pairing, marks: tuple[Mark, ...]
) -> tuple[np.typing.NDArray[np.float64], np.typing.NDArray[np.float64], np.typing.NDArray[np.float64]]:
    x = np.array([start.log_s for start in reading.starts])
    y = np.array([mark.media_s for mark in marks]) - x
    sigma = np.hypot(HAND_FRAMES * session.frame_s, [start.sigma_s for start in reading.starts])
    return x, y, sigma


def _joined(session: Session, reading: Pairing, marks: tuple[Mark, ...], heard: Measured) -> ClockMap:
    """One line through the stretches of sound and the marks, each by its own weight."""
    assert heard.line is not None  # a candidate that fits has one
    x, y, sigma = _mark_points(session, reading, marks)
    kept = heard.line.kept
    spread = max(heard.scatter_s, 1e-3)
    every = (
        np.concatenate((heard.stretches.log_s[kept], x)),
        np.concatenate((heard.stretches.offset_s[kept], y)),
        np.concatenate((np.full(int(kept.sum()), spread), sigma)),
    )
    return clock_of(weighted_line(*every, np.ones(every[0].size, dtype=bool), PRIOR_DRIFT), SOUND.floor_s)


def _no_overlap(session: Session, clock: ClockMap | None) -> list[str]:
    if clock is None:
        return []
    begin, end = clock.to_media_s(session.log_begin_s), clock.to_media_s(session.log_end_s)
    if min(end, session.recording_s) - max(begin, 0.0) > 0.0:
        return []
    return ["at this offset log and recording have no moment in common; check that they belong together"]


def _residuals(
    session: Session,
    clock: ClockMap | None,
    sound: SoundEvidence | None,
    reading: Pairing | None,
    marks: tuple[Mark, ...],
) -> tuple[Residual, ...]:
    if clock is None:
        return ()
    marked = {s.log_s: m.media_s for s, m in zip(reading.starts, marks, strict=True)} if reading else {}
    result = []
    for start in session.laps.starts:
        media_s = clock.to_media_s(start.log_s)
        if 0.0 <= media_s <= session.recording_s:
            mark = marked.get(start.log_s)
            result.append(
                Residual(
                    start.number,
                    start.log_s,
                    media_s,
                    _sound_residual(sound, clock, start),
                    None if mark is None else mark - media_s,
                )
            )
    return tuple(result)


def _sound_residual(sound: SoundEvidence | None, clock: ClockMap, start: LapStart) -> float | None:
    if sound is None or not sound.candidates:
        return None
    expected = clock.to_media_s(start.log_s) - start.log_s
    found = sound.local(np.array([start.log_s]), np.array([expected]), LOCAL_REACH_S)
    return float(found.offset_s[0] - expected) if found.offset_s.size else None


def _candidates(heard: tuple[Measured, ...], readings: tuple[Pairing, ...]) -> tuple[Candidate, ...]:
    by_ear = [
        Candidate(c.clock.offset_s, c.clock.drift_ppm, f"sound, score {c.score:.0f}, {c.agreement:.0%} agree")
        for c in heard
    ]
    by_hand = [Candidate(r.offset_s, 0.0, f"mark as start of lap {r.starts[0].number}") for r in readings]
    return (*by_ear, *by_hand)
