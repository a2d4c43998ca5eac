"""Recording and log in, one clock out: reads what the evidence needs, cheapest first, and hands it to the fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from syncview.clock.answers import Answer, answers
from syncview.clock.clock_map import ClockMap
from syncview.clock.evidence import Evidence
from syncview.clock.fit import ClockFit, Session, fit_clock, settle
from syncview.clock.log_lap_starts import LogLaps, find_lap_starts
from syncview.clock.marks import Mark, Passes
from syncview.clock.motion import even_signal, picture_pan, turning
from syncview.clock.motion_evidence import MotionEvidence, watch
from syncview.clock.sight_check import SightCheck, check_sight
from syncview.clock.sound import SAMPLE_RATE_HZ, engine_track, spectrogram
from syncview.clock.sound_evidence import SoundEvidence, hear
from syncview.errors import ClockError
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from syncview.channels import SessionLog
    from syncview.media.recording import Recording


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """The fit with what it was made from."""

    fit: ClockFit
    laps: LogLaps
    sound: SoundEvidence | None
    motion: MotionEvidence | None


def align(
    recording: Recording,
    log: SessionLog,
    *,
    marks: tuple[Mark, ...] = (),
    use_sound: bool = True,
    use_picture: bool | None = None,
    laps: LogLaps | None = None,
    passes: Passes | None = None,
    progress: Progress = silent,
) -> Alignment:
    """Find the clock from engine sound, from image motion and from places marked by hand.

    `use_picture` None looks at the picture only when the sound does not settle the clock. `laps` are the lap starts
    where they are not the log's own (a circuit file has another start line). `passes` tells where laps pass a lap
    distance, for marks on other places than the start line. Raises `LogError` when the log has no lap start, and
    `ClockError` for a mark outside the recording.
    """
    _refuse_outside(recording, marks)
    laps = find_lap_starts(log) if laps is None else laps
    session = Session(
        laps,
        float(log.time_s[0]),
        float(log.time_s[-1]),
        recording.duration_s,
        float(1 / recording.nominal_rate),
        passes,
    )
    silences: list[str] = []
    sound = _listen(recording, log, part_of(progress, 0.0, 0.2), silences) if use_sound else None
    heard = answers([sound]) if sound is not None else []
    wanted = use_picture if use_picture is not None else not _settled(heard)
    motion = _watch(recording, log, part_of(progress, 0.2, 1.0), silences) if wanted else None
    evidence: list[Evidence] = [one for one in (sound, motion) if one is not None]
    # A recording in pieces is searched again and again: what the sound alone gave is not asked for twice.
    fit = fit_clock(session, evidence, marks, silences, found=heard if motion is None else None)
    if use_picture is not False:
        fit = _with_sight(recording, session, fit, evidence, marks)
    return Alignment(fit, laps, sound, motion)


def _refuse_outside(recording: Recording, marks: tuple[Mark, ...]) -> None:
    for mark in marks:
        if not 0.0 <= mark.media_s <= recording.duration_s:
            raise ClockError(
                f"the mark at {mark.media_s:g} s lies outside the recording, which lasts {recording.duration_s:.2f} s",
                "Give the time at which the car passes the place, in seconds from the first frame.",
                where=recording.path.name,
            )


def _settled(found: list[Answer]) -> bool:
    return len(found) == 1 and not found[0].doubts


def _listen(recording: Recording, log: SessionLog, progress: Progress, silences: list[str]) -> SoundEvidence | None:
    """Evidence from sound; None when there cannot be any, and then `silences` gains the reason."""
    engine_speed = log.values("engine_speed")
    if recording.audio is None or engine_speed is None:
        silences.append("the recording has no sound" if recording.audio is None else "the log has no engine speed")
        return None
    from syncview.media.sound import mono_blocks

    blocks = mono_blocks(recording, rate_hz=SAMPLE_RATE_HZ, progress=progress)
    picture = spectrogram(blocks, max(recording.audio.start_s, 0.0))
    return hear(picture, engine_track(log.time_s, engine_speed))


def _with_sight(
    recording: Recording, session: Session, fit: ClockFit, evidence: Sequence[Evidence], marks: tuple[Mark, ...]
) -> ClockFit:
    """Let the pictures at the lap starts confirm or doubt the clock, or choose between clocks that fit alike.

    Sight knows lap times, not the offset within a lap: it is never enough alone.
    """
    from syncview.media.small_pictures import small_pictures

    keys_s = recording.frames.times_s[recording.frames.is_key]

    def look(clock: ClockMap) -> SightCheck:
        return check_sight(
            clock, session.laps, recording.duration_s, lambda spans: small_pictures(recording, spans), keys_s
        )

    if fit.alternatives:
        checks = [(alternative, look(alternative.clock)) for alternative in fit.alternatives]
        agreeing = [(a, check) for a, check in checks if check.verdict == "agrees"]
        if len(agreeing) == 1 and all(c.verdict == "contradicts" for a, c in checks if a is not agreeing[0][0]):
            chosen, check = agreeing[0]
            return settle(session, fit, chosen, check.words, evidence, marks)
        return fit
    if fit.clock is None or not fit.sure:
        return fit
    check = look(fit.clock)
    if check.verdict == "contradicts":
        doubt = f"{check.words}, against what the clock says; check that log and recording belong together"
        return replace(fit, sure=False, doubts=(*fit.doubts, doubt))
    return replace(fit, basis=f"{fit.basis}; {check.words}") if check.verdict == "agrees" else fit


WHOLE_S = 400.0
WINDOW_S, WINDOW_EVERY_S = 60.0, 150.0
"""Longer recordings are watched for a minute in every two and a half: enough stretches for the fit at less than half
the decoding."""


def _watch(recording: Recording, log: SessionLog, progress: Progress, silences: list[str]) -> MotionEvidence | None:
    """Evidence from image motion; None when there cannot be any, and then `silences` gains the reason."""
    car = turning(log)
    if car is None:
        silences.append("the log has neither yaw rate nor lateral acceleration nor steering with speed")
        return None
    from syncview.media.small_pictures import small_pictures

    whole_s = recording.duration_s
    step = WINDOW_EVERY_S if whole_s > WHOLE_S else whole_s
    length = WINDOW_S if whole_s > WHOLE_S else whole_s
    spans = [(i * step, min(i * step + length, whole_s)) for i in range(int(-(-whole_s // step)))]
    time_s, pan = picture_pan(small_pictures(recording, spans, progress=progress))
    if time_s.size < 2:
        silences.append("the recording has too few pictures to see it move")
        return None
    return watch(
        even_signal(time_s, pan), even_signal(log.time_s, car.values), car_source=car.source, direct=car.direct
    )
