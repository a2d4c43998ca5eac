"""The finished mix: loudness by three judges, voices at their times, odd recordings, nothing left behind."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from scipy.signal import firwin, resample_poly

from syncview.errors import Cancelled, MediaError, OutputError
from syncview.lesson.ducking import Ducking
from syncview.lesson.engine_sound import SoundPart
from syncview.lesson.lesson_sound import LessonSound, MixOptions, PlacedVoice, lesson_sound
from syncview.media.film_sound_stream import SoundShape
from syncview.media.loudness import BROADCAST, WEB, LoudnessTarget
from syncview.media.recording import Recording, open_recording
from syncview.media.voice_file import VoiceFile, open_voice
from tests.media.made_sounds import engine, silence, sine, write_sound_file
from tests.media_samples import SoundTrack, make_clip

F = Fraction
RATE_HZ = 48_000
PARTS = (
    SoundPart(F(0), F(0), F(1)),  # a card
    SoundPart(F(1), F(6), F(5)),
    SoundPart(F(6), F(7), F(4)),
    SoundPart(F(7), F(7), F(3)),  # a hold
    SoundPart(F(7), F(9), F(2)),
)


def _with_sound(path: Path, channels: NDArray[np.float32], *, codec: str = "flac") -> Recording:
    """A recording whose sound is given; its picture lasts for five frames only."""
    wav = write_sound_file(path.with_suffix(".mka"), channels, codec=codec)
    mute = make_clip(path.with_name("mute.mkv"), frame_count=5)
    with av.open(str(mute)) as picture, av.open(str(wav)) as sound, av.open(str(path), "w") as target:
        sources = ((picture, picture.streams.video[0]), (sound, sound.streams.audio[0]))
        streams = [target.add_stream_from_template(stream) for _container, stream in sources]
        for (container, source), stream in zip(sources, streams, strict=True):
            for packet in container.demux(source):
                if packet.size:
                    packet.stream = stream
                    target.mux(packet)
    return open_recording(path)


@pytest.fixture(scope="module")
def car(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Ten seconds of engine in stereo."""
    wave = np.stack([engine(10), engine(10, firing_hz=139.0)])
    return _with_sound(tmp_path_factory.mktemp("car") / "car.mkv", wave)


@pytest.fixture(scope="module")
def voice(tmp_path_factory: pytest.TempPathFactory) -> VoiceFile:
    """One second at 700 Hz in bursts like syllables, with silence around it; softly recorded, 44.1 kHz."""
    wave = sine(1.0, tone_hz=700, peak_db=-30, rate_hz=44_100) * (0.6 + 0.4 * np.cos(np.arange(44_100) / 2000))
    samples = np.concatenate([silence(0.4, rate_hz=44_100), wave.astype(np.float32), silence(0.6, rate_hz=44_100)])
    path = tmp_path_factory.mktemp("voice") / "note.wav"
    return open_voice(write_sound_file(path, samples[np.newaxis], rate_hz=44_100, codec="pcm_s16le"))


def _whole(mix: LessonSound) -> NDArray[np.float32]:
    return np.concatenate(list(mix.blocks()), axis=1)


def _true_peak_dbtp(samples: NDArray[np.float32]) -> float:
    """Four times the rate, after ITU-R BS.1770, annex 2."""
    taps = firwin(8 * 32 + 1, 1 / 4, window=("kaiser", 8.0))
    between = resample_poly(samples.astype(np.float64), 4, 1, axis=1, window=taps)
    return float(20 * np.log10(np.abs(between).max()))


def _level_db(samples: NDArray[np.float32], begin_s: float, end_s: float, hz: float) -> float:
    """Level of what lies within 20 Hz of a frequency, in one channel."""
    part = samples[0, round(begin_s * RATE_HZ) : round(end_s * RATE_HZ)]
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)))) / len(part)
    near = np.abs(np.fft.rfftfreq(len(part), 1 / RATE_HZ) - hz) < 20
    return float(10 * np.log10((spectrum[near] ** 2).sum() + 1e-20))


def _placed(voice: VoiceFile, *times_s: float) -> list[PlacedVoice]:
    return [PlacedVoice(F(time_s).limit_denominator(1000), voice.piece()) for time_s in times_s]


@pytest.mark.parametrize("target", [BROADCAST, WEB, LoudnessTarget(-9.0, -3.0)], ids=["r128", "web", "loud"])
def test_loudness_and_peak_by_other_judges(car: Recording, voice: VoiceFile, target: LoudnessTarget) -> None:
    with lesson_sound(car, PARTS, _placed(voice, 2, 6, 10.5), options=MixOptions(target=target)) as mix:
        made = _whole(mix)
        assert mix.loudness is not None
        assert mix.loudness.integrated_lufs == pytest.approx(target.integrated_lufs, abs=0.1)
        assert mix.shape == SoundShape(rate_hz=RATE_HZ, channels=2)
    assert made.shape == (2, 15 * RATE_HZ) == (2, mix.length_samples)
    # Its own coefficients make pyloudnorm 0.2 read 0.04 LU less than ffmpeg and the standard's own sine.
    measured = pyloudnorm.Meter(RATE_HZ).integrated_loudness(made.T.astype(np.float64))
    assert measured == pytest.approx(target.integrated_lufs, abs=0.2)
    assert _true_peak_dbtp(made) <= target.highest_true_peak_dbtp - 0.6


@pytest.mark.parametrize(("target", "bit_rate"), [(BROADCAST, 192_000), (WEB, 128_000)])
def test_the_film_keeps_loudness_and_peak(
    car: Recording, voice: VoiceFile, tmp_path: Path, target: LoudnessTarget, bit_rate: int
) -> None:
    """Encoded to AAC as films are, then measured by the ffmpeg program's ebur128."""
    path = tmp_path / "film.m4a"
    with (
        lesson_sound(car, PARTS, _placed(voice, 2, 6, 10.5), options=MixOptions(target=target)) as mix,
        av.open(str(path), "w") as film,
    ):
        stream = film.add_stream("aac", rate=RATE_HZ)
        assert isinstance(stream, av.AudioStream)
        stream.codec_context.layout, stream.codec_context.bit_rate = "stereo", bit_rate
        for block in mix.blocks():
            frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
            frame.sample_rate = RATE_HZ
            film.mux(stream.encode(frame))
        film.mux(stream.encode(None))
    command = ["ffmpeg", "-nostats", "-i", str(path), "-af", "ebur128=peak=true:framelog=verbose", "-f", "null", "-"]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stderr
    integrated, peak = (re.findall(rf"{name}: +(-?[0-9.]+) (?:LUFS|dBFS)", told)[-1] for name in ("I", "Peak"))
    assert float(integrated) == pytest.approx(target.integrated_lufs, abs=0.2)
    assert float(peak) <= target.highest_true_peak_dbtp


def test_voices_are_heard_at_their_times(voice: VoiceFile) -> None:
    begins_s = (1.0, 4.25, 8.777)
    with lesson_sound(None, [SoundPart(F(0), F(0), F(12))], _placed(voice, *begins_s)) as mix:
        made = np.abs(_whole(mix)[0])
    onset = float(np.percentile(made, 99)) / 20
    for begin_s in begins_s:
        heard_s = begin_s + float(np.flatnonzero(made[round(begin_s * RATE_HZ) :] > onset)[0]) / RATE_HZ
        assert heard_s == pytest.approx(begin_s + 0.05, abs=0.012)  # trimmed to 50 ms before it
        assert made[round((begin_s - 0.2) * RATE_HZ) : round(begin_s * RATE_HZ)].max() == 0


def test_the_engine_steps_back_for_the_voice(car: Recording, voice: VoiceFile) -> None:
    parts = [SoundPart(F(0), F(9), F(9))]
    alone = MixOptions(ducking=Ducking(depth_db=0.0))
    voices = _placed(voice, 4.0)
    with lesson_sound(car, parts, voices) as ducked, lesson_sound(car, parts, voices, options=alone) as flat:
        with_, without = _whole(ducked), _whole(flat)
    gap = _level_db(with_, 1, 3, 140) - _level_db(without, 1, 3, 140)
    assert _level_db(with_, 4.1, 5.1, 140) - _level_db(without, 4.1, 5.1, 140) - gap == pytest.approx(-12, abs=0.3)
    assert _level_db(with_, 6, 8, 140) - _level_db(without, 6, 8, 140) - gap == pytest.approx(0, abs=0.05)


def test_a_soft_voice_is_as_loud_as_a_loud_one(tmp_path: Path) -> None:
    voices = []
    for place, (peak_db, hz) in enumerate(((-50.0, 600.0), (-3.0, 900.0))):
        path = write_sound_file(
            tmp_path / f"{place}.wav", sine(2, peak_db=peak_db, tone_hz=hz)[np.newaxis], codec="pcm_f32le"
        )
        voices.append(PlacedVoice(F(1 + 4 * place), open_voice(path).piece()))
    with lesson_sound(None, [SoundPart(F(0), F(0), F(8))], voices) as mix:
        made = _whole(mix)
    # K-weighting lifts 900 Hz a little over 600 Hz (by 0.4 dB, BS.1770's curve).
    assert _level_db(made, 1.2, 2.8, 600) == pytest.approx(_level_db(made, 5.2, 6.8, 900), abs=0.6)


def test_the_blocks_can_be_read_again(car: Recording, voice: VoiceFile) -> None:
    with lesson_sound(car, PARTS, _placed(voice, 2), options=MixOptions(target=WEB)) as mix:
        assert np.array_equal(_whole(mix), _whole(mix))


def test_neither_engine_nor_voice(tmp_path: Path) -> None:
    mute = open_recording(make_clip(tmp_path / "mute.mp4", frame_count=5))
    for recording in (mute, None):
        with lesson_sound(recording, PARTS) as mix:
            assert mix.shape is None
            assert mix.loudness is None
            assert list(mix.blocks()) == []
            assert mix.length_samples == 15 * RATE_HZ
            assert mix.notes == (("The recording has no sound, so no engine is heard.",) if recording else ())


def test_a_mute_recording_with_voices(tmp_path: Path, voice: VoiceFile) -> None:
    mute = open_recording(make_clip(tmp_path / "mute.mp4", frame_count=5))
    with lesson_sound(mute, PARTS, _placed(voice, 1)) as mix:
        assert mix.notes == ("The recording has no sound, so no engine is heard.",)
        assert mix.loudness is not None
        assert mix.loudness.integrated_lufs == pytest.approx(-23, abs=0.1)


@pytest.mark.parametrize("level_db", [None, -80.0])
def test_silence_gets_no_gain(tmp_path: Path, level_db: float | None) -> None:
    wave = silence(9) if level_db is None else sine(9, peak_db=level_db)
    recording = _with_sound(tmp_path / "car.mkv", np.stack([wave, wave]))
    with lesson_sound(recording, PARTS) as mix:
        made = _whole(mix)
        assert np.abs(made).max() <= (0 if level_db is None else 10 ** (level_db / 20) * 1.1)
        assert mix.notes == (
            "The recording's sound is all but silent and was not raised.",
            "The lesson's sound is all but silent and was not raised.",
        )
        assert mix.loudness is not None
        assert mix.loudness.integrated_lufs is None


def test_only_holds_are_silent(car: Recording) -> None:
    with lesson_sound(car, [SoundPart(F(3), F(3), F(2))]) as mix:
        assert not _whole(mix).any()


def test_six_channels(tmp_path: Path) -> None:
    wave = np.stack([engine(9) * np.float32(share) for share in (1, 0, 0.5, 0, 0, 0.2)])
    recording = _with_sound(tmp_path / "car.mkv", wave)
    assert recording.audio is not None
    assert recording.audio.channels == 6
    with lesson_sound(recording, PARTS) as mix:
        assert "The recording's six channels were mixed into two." in mix.notes
        left, right = _whole(mix)
    # BS.775: left 1 + 0.7071 * 0.5, right 0.7071 * (0.5 + 0.2).
    assert np.std(right) / np.std(left) == pytest.approx(0.7071 * 0.7 / (1 + 0.7071 * 0.5), rel=0.01)


def test_what_does_not_fit_is_said(voice: VoiceFile) -> None:
    late = PlacedVoice(F(11, 2), voice.piece(), what="the note at corner 3")
    with lesson_sound(None, [SoundPart(F(0), F(0), F(6))], [*_placed(voice, 0.5, 1.0), late]) as mix:
        assert _whole(mix).shape == (2, 6 * RATE_HZ)
        assert mix.notes == (
            "the note at corner 3 is not over when the lesson ends: its last 0.7 s are cut off.",
            "note.wav and note.wav speak at the same time for 0.7 s.",
        )
    with pytest.raises(ValueError, match="begins before the lesson"), lesson_sound(None, PARTS, _placed(voice, -1)):
        pass
    with pytest.raises(ValueError, match="needs parts"), lesson_sound(None, []):
        pass


def test_a_voice_wholly_after_the_lesson_is_said(voice: VoiceFile) -> None:
    with lesson_sound(None, [SoundPart(F(0), F(0), F(6))], _placed(voice, 9)) as mix:
        assert mix.notes[0] == "note.wav begins when the lesson is over and is not heard."
        assert not _whole(mix).any()


def _stopping(after: int) -> Iterator[None]:
    for _call in range(after):
        yield
    raise Cancelled


@pytest.mark.parametrize("after", [1, 6, 12, 25])
def test_nothing_is_left_when_it_is_stopped(car: Recording, voice: VoiceFile, tmp_path: Path, after: int) -> None:
    told: list[float] = []
    stop = _stopping(after)

    def progress(share: float, _what: str) -> None:
        told.append(share)
        next(stop)

    def mix() -> None:
        options = MixOptions(target=WEB)
        with lesson_sound(car, PARTS, _placed(voice, 2), options=options, temp_folder=tmp_path, progress=progress):
            pass

    with pytest.raises(Cancelled):
        mix()
    assert list(tmp_path.iterdir()) == []
    assert told == sorted(told)
    assert all(0 <= share <= 1 for share in told)


def test_faults_are_said(car: Recording, voice: VoiceFile, tmp_path: Path) -> None:
    gone = open_voice(write_sound_file(tmp_path / "gone.wav", sine(1)[np.newaxis], codec="pcm_s16le"))
    write_sound_file(tmp_path / "gone.wav", sine(2)[np.newaxis], codec="pcm_s16le")
    with pytest.raises(MediaError, match="changed while it was read"), lesson_sound(car, PARTS, _placed(gone, 1)):
        pass
    gone.path.unlink()
    with pytest.raises(MediaError, match="no such file"), lesson_sound(car, PARTS, _placed(gone, 1)):
        pass
    missing = tmp_path / "missing"
    with pytest.raises(OutputError, match="missing"), lesson_sound(car, PARTS, _placed(voice, 1), temp_folder=missing):
        pass


def test_sound_that_starts_late(tmp_path: Path) -> None:
    track = SoundTrack(beeps_s=tuple(n / 10 for n in range(10, 30)), start_s=1.0, codec="flac")
    recording = open_recording(make_clip(tmp_path / "a.mkv", frame_count=90, sound=track))
    with lesson_sound(recording, [SoundPart(F(0), F(3), F(3))]) as mix:
        made = np.abs(_whole(mix)[0])
    assert made[: round(0.99 * RATE_HZ)].max() == 0
    assert made[round(1.01 * RATE_HZ) :].max() > 0.05
