"""Recording and log in, one clock out: reads what the evidence needs and hands it to the fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from syncview.clock.fit import ClockFit, Session, fit_clock
from syncview.clock.log_lap_starts import LogLaps, find_lap_starts
from syncview.clock.marks import Mark
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


def align(
    recording: Recording,
    log: SessionLog,
    *,
    marks: tuple[Mark, ...] = (),
    use_sound: bool = True,
    progress: Progress = silent,
) -> Alignment:
    """Find the clock from engine sound (where there is any) and from lap starts marked by hand.

    Raises `LogError` when the log has no lap start, and `ClockError` for a mark outside the recording.
    """
    for mark in marks:
        if not 0.0 <= mark.media_s <= recording.duration_s:
            raise ClockError(
                f"the mark at {mark.media_s:g} s lies outside the recording, which lasts {recording.duration_s:.2f} s",
                "Give the time at which the car crosses the start line, in seconds from the first frame.",
                where=recording.path.name,
            )
    laps = find_lap_starts(log)
    sound, silence = None, "sound was not asked for"
    if use_sound:
        sound, silence = _listen(recording, log, progress)
    session = Session(
        laps,
        float(log.time_s[0]),
        float(log.time_s[-1]),
        recording.duration_s,
        float(1 / recording.nominal_rate),
    )
    return Alignment(fit_clock(session, sound, marks, silence), laps, sound)


def _listen(recording: Recording, log: SessionLog, progress: Progress) -> tuple[SoundEvidence | None, str]:
    """Evidence from sound, or why there is none."""
    if recording.audio is None:
        return None, "the recording has no sound"
    engine_speed = log.values("engine_speed")
    if engine_speed is None:
        return None, "the log has no engine speed"
    from syncview.media.sound import read_mono

    samples, begin_s = read_mono(recording, rate_hz=SAMPLE_RATE_HZ, progress=part_of(progress, 0.0, 0.6))
    picture = spectrogram(samples, begin_s, part_of(progress, 0.6, 0.9))
    evidence = hear(picture, engine_track(log.time_s, engine_speed))
    progress(1.0, "listening to the engine")
    return evidence, ""
