"""What the sound card is given: the right moment, at the right tempo, round and round."""

import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.desk.picture.play_run import Loop, PlayRun
from syncview.desk.picture.played_sound import PlayedSound, SoundForm
from syncview.errors import SyncviewError
from syncview.media.recording import Recording, open_recording
from tests.media_samples import SoundTrack, make_clip

BEEP_S = 2.0
FORM = SoundForm(rate_hz=48_000, is_float=True)


@pytest.fixture(scope="module")
def beeping(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    path = tmp_path_factory.mktemp("sound") / "beep.mp4"
    return open_recording(make_clip(path, frame_count=180, sound=SoundTrack(beeps_s=(BEEP_S,))))


def _heard(recording: Recording, run: PlayRun, seconds: float, form: SoundForm = FORM) -> NDArray[np.float32]:
    """The first channel of the first `seconds`, as a card would take it."""
    faults: list[SyncviewError] = []
    sound = PlayedSound(recording, run, form, on_fault=faults.append)
    wanted, got = round(seconds * form.rate_hz) * form.frame_bytes, b""
    end_s = time.monotonic() + 20
    while len(got) < wanted and not sound.is_over and time.monotonic() < end_s:
        got += sound.take(min(4096, wanted - len(got)))
        time.sleep(0.0005)
    sound.close()
    assert not faults
    samples = np.frombuffer(got, "<f4" if form.is_float else "<i2").reshape(-1, form.channels)
    return samples[:, 0].astype(np.float32) / (1.0 if form.is_float else 32767.0)


def _begins(samples: NDArray[np.float32]) -> list[float]:
    """Seconds at which a tone begins after a silence of a tenth of a second."""
    loud = np.flatnonzero(np.abs(samples) > 0.1) / FORM.rate_hz
    return [float(at) for n, at in enumerate(loud) if n == 0 or at - loud[n - 1] > 0.1]


@pytest.mark.parametrize(
    ("speed", "off_s"),
    # At 1/2 the stretching is up to 14 ms of the sound's own time off, at 1/4 up to 35 ms (see media/tempo).
    [(Fraction(1), 0.003), (Fraction(1, 2), 0.04), (Fraction(1, 4), 0.14), (Fraction(2), 0.02)],
)
def test_a_tone_is_heard_when_its_frame_is_seen(beeping: Recording, speed: Fraction, off_s: float) -> None:
    run = PlayRun(Fraction(3, 2), beeping.frames.end_s, speed)
    begins = _begins(_heard(beeping, run, float(1 / speed)))
    assert begins == [pytest.approx((BEEP_S - 1.5) / float(speed), abs=off_s)]


def test_in_a_loop_it_comes_again_and_again(beeping: Recording) -> None:
    run = PlayRun(Fraction(7, 4), beeping.frames.end_s, Fraction(1), Loop(Fraction(3, 2), Fraction(5, 2), "here"))
    assert _begins(_heard(beeping, run, 3.5)) == pytest.approx([0.25, 1.25, 2.25, 3.25], abs=0.003)


def test_it_ends_with_the_recording_after_exactly_its_length(beeping: Recording) -> None:
    run = PlayRun(Fraction(5), beeping.frames.end_s, Fraction(2))
    length_s = float((beeping.frames.end_s - 5) / 2)
    assert len(_heard(beeping, run, 99.0)) == round(length_s * FORM.rate_hz)


def test_cards_may_want_other_samples(beeping: Recording) -> None:
    form = SoundForm(rate_hz=44_100, is_float=False, channels=1)
    samples = _heard(beeping, PlayRun(Fraction(0), beeping.frames.end_s, Fraction(1)), 3.0, form)
    assert len(samples) == 3 * 44_100
    assert np.flatnonzero(np.abs(samples) > 0.1)[0] / 44_100 == pytest.approx(BEEP_S, abs=0.003)


def test_closing_ends_the_thread_in_the_middle(beeping: Recording) -> None:
    sound = PlayedSound(beeping, PlayRun(Fraction(0), beeping.frames.end_s, Fraction(1, 8)), FORM, on_fault=print)
    sound.take(100)
    sound.close()
    assert not sound._thread.is_alive()


def test_sound_that_is_gone_is_told_and_nothing_more(beeping: Recording, tmp_path: Path) -> None:
    from dataclasses import replace

    faults: list[SyncviewError] = []
    gone = replace(beeping, path=tmp_path / "gone.mp4")
    sound = PlayedSound(gone, PlayRun(Fraction(0), gone.frames.end_s, Fraction(1)), FORM, on_fault=faults.append)
    end_s = time.monotonic() + 10
    while not sound.is_over and time.monotonic() < end_s:
        time.sleep(0.005)
    sound.close()
    assert len(faults) == 1
    assert faults[0].remedy
