"""Voice files of many kinds: lengths known from their making, speech found, faults said."""

from __future__ import annotations

import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.errors import Cancelled, MediaError
from syncview.media import voice_decoding
from syncview.media.voice_decoding import VOICE_RATE_HZ, VoiceDecoder
from syncview.media.voice_file import VoiceFile, open_voice
from syncview.progress import silent as nobody
from tests.media.ffmpeg_tools import ffmpeg
from tests.media.made_sounds import silence, sine, tone_hz, write_sound_file
from tests.media_samples import SoundTrack, make_clip


def _spoken(rate_hz: int = VOICE_RATE_HZ) -> NDArray[np.float32]:
    """0.7 s of silence, 1 s of a tone at 500 Hz, 1.1 s of silence; one channel."""
    parts = [silence(0.7, rate_hz=rate_hz), sine(1.0, tone_hz=500, rate_hz=rate_hz), silence(1.1, rate_hz=rate_hz)]
    return np.concatenate(parts)


def _samples(voice: VoiceFile) -> NDArray[np.float32]:
    return np.concatenate(list(VoiceDecoder(voice.path, voice.channel).blocks(nobody)))


KINDS = {
    "voice.wav": ("pcm_s16le", 1, 48_000),
    "odd rate.wav": ("pcm_s24le", 2, 22_050),
    "slow.wav": ("pcm_s16le", 1, 8000),
    "fast.flac": ("flac", 2, 192_000),
    "voice.mp3": ("libmp3lame", 2, 44_100),
    "phone.m4a": ("aac", 1, 44_100),
    "chat.opus": ("libopus", 1, 48_000),
    "round.wav": ("pcm_f32le", 6, 44_100),
}


@pytest.mark.parametrize("name", KINDS)
def test_any_kind_of_file(tmp_path: Path, name: str) -> None:
    codec, channels, rate_hz = KINDS[name]
    samples = np.tile(_spoken(rate_hz), (channels, 1))
    voice = open_voice(write_sound_file(tmp_path / name, samples, rate_hz=rate_hz, codec=codec))
    # MP3 and AAC files are whole frames of up to 1152 and 1024 samples; the others have exactly what was written.
    spare_s = 0.06 if codec in ("libmp3lame", "aac") else 1e-3
    assert float(voice.length_s) == pytest.approx(2.8, abs=spare_s)
    assert float(voice.speech_begin_s) == pytest.approx(0.65, abs=spare_s + 0.02)
    assert float(voice.speech_end_s) == pytest.approx(1.85, abs=spare_s + 0.02)
    assert float(voice.head_s + voice.tail_s + voice.piece().length_s) == float(voice.length_s)
    heard = _samples(voice)
    assert len(heard) == voice.length_s * VOICE_RATE_HZ
    assert tone_hz(heard[40_000:75_000]) == pytest.approx(500, rel=1e-3)
    assert np.abs(heard[50_000:70_000]).max() == pytest.approx(0.5, rel=0.06)
    assert voice.notes == ()


def test_sound_of_a_film(tmp_path: Path) -> None:
    film = make_clip(tmp_path / "film.mp4", sound=SoundTrack(beeps_s=(0.5, 1.2)))
    voice = open_voice(film)
    assert float(voice.length_s) == pytest.approx(2.0, abs=0.06)
    assert float(voice.speech_begin_s) == pytest.approx(0.45, abs=0.05)
    assert float(voice.speech_end_s) == pytest.approx(1.45, abs=0.05)


def test_samples_are_ffmpegs(tmp_path: Path) -> None:
    path = write_sound_file(tmp_path / "a.wav", _spoken(44_100)[np.newaxis], rate_hz=44_100, codec="pcm_s16le")
    theirs = np.frombuffer(ffmpeg("-i", path, "-ar", "48000", "-f", "f32le", "-"), dtype="<f4")
    ours = _samples(open_voice(path))
    assert abs(len(ours) - len(theirs)) <= 1
    count = min(len(ours), len(theirs))
    assert np.abs(ours[:count] - theirs[:count]).max() < 1e-3


def test_loudness_is_ffmpegs(tmp_path: Path) -> None:
    # EBU Tech 3341, signal 1, in one channel only: 3.01 LU less than in two.
    wave_ = sine(3.0, peak_db=-23.0)[np.newaxis]
    voice = open_voice(write_sound_file(tmp_path / "a.wav", wave_, codec="pcm_f32le"))
    assert voice.loudness_lufs == pytest.approx(-26.01, abs=0.1)


def test_pieces_are_trimmed_on_request(tmp_path: Path) -> None:
    voice = open_voice(write_sound_file(tmp_path / "a.wav", _spoken()[np.newaxis], codec="pcm_s16le"))
    assert float(voice.piece().length_s) == pytest.approx(1.2, abs=0.011)
    assert voice.piece(trim=False).length_s == voice.length_s
    part = voice.piece(Fraction(1), Fraction(3, 2))
    assert (part.begin_s, part.end_s) == (Fraction(1), Fraction(3, 2))
    with pytest.raises(MediaError, match=r"nobody speaks from 2\.00 to 2\.50 s"):
        voice.piece(Fraction(2), Fraction(5, 2))
    for begin, end in ((-1, 1), (1, 1), (2, 3)):
        with pytest.raises(ValueError, match=r"2\.800 s"):
            voice.piece(Fraction(begin), Fraction(end))


def test_speech_is_found_in_a_noisy_room(tmp_path: Path) -> None:
    """25 dB above the noise; a lone click of a sample is no speech."""
    noise = np.random.default_rng(3).standard_normal(round(2.8 * VOICE_RATE_HZ)) * 0.02
    samples = (_spoken() + noise).astype(np.float32)
    voice = open_voice(write_sound_file(tmp_path / "a.wav", samples[np.newaxis], codec="pcm_f32le"))
    assert float(voice.speech_begin_s) == pytest.approx(0.65, abs=0.02)
    assert float(voice.speech_end_s) == pytest.approx(1.85, abs=0.02)


def test_one_word_in_a_long_silence_is_found(tmp_path: Path) -> None:
    samples = np.concatenate([silence(30), sine(0.4), silence(29.6)])
    voice = open_voice(write_sound_file(tmp_path / "a.flac", samples[np.newaxis], codec="flac"))
    assert float(voice.speech_begin_s) == pytest.approx(29.95, abs=0.011)
    assert float(voice.piece().length_s) == pytest.approx(0.6, abs=0.011)


def test_channels_in_opposite_phase(tmp_path: Path) -> None:
    samples = np.stack([_spoken(), -_spoken()])
    voice = open_voice(write_sound_file(tmp_path / "a.wav", samples, codec="pcm_s16le"))
    assert voice.channel == 0
    assert voice.notes == ("Its channels cancel each other, so only the first is used.",)
    assert np.abs(_samples(voice)).max() == pytest.approx(0.5, rel=0.01)


def test_a_voice_at_full_scale_is_said(tmp_path: Path) -> None:
    samples = np.clip(sine(1.0, peak_db=6.0), -1, 1)[np.newaxis]
    voice = open_voice(write_sound_file(tmp_path / "a.wav", samples, codec="pcm_s16le"))
    # |sin| > 0.5012 (-6 dB) at 15 of each 24 samples, which lie 7.5 degrees apart.
    assert voice.notes == ("625 ms of it are at full scale: it may be distorted.",)


def test_faults_are_said(tmp_path: Path) -> None:
    quiet = write_sound_file(tmp_path / "quiet.wav", silence(1.0)[np.newaxis], codec="pcm_s16le")
    (tmp_path / "text.wav").write_text("not a sound\n" * 50)
    (tmp_path / "empty.wav").write_bytes(b"")
    with wave.open(str(tmp_path / "none.wav"), "wb") as file:
        file.setparams((1, 2, 48_000, 0, "NONE", ""))
    unknown = write_sound_file(tmp_path / "unknown.wav", sine(0.1)[np.newaxis], codec="pcm_s16le")
    unknown.write_bytes(unknown.read_bytes().replace(b"fmt \x10\0\0\0\x01\0", b"fmt \x10\0\0\0\x99\x99"))
    faults = {
        unknown: "coded in a way that cannot be read here",
        quiet: "it is silent",
        tmp_path / "missing.wav": "there is no such file",
        tmp_path: "this is a folder",
        tmp_path / "text.wav": "not a sound file that can be read",
        tmp_path / "empty.wav": "not a sound file that can be read",
        tmp_path / "none.wav": "there is no sound in it",
        make_clip(tmp_path / "mute.mp4", frame_count=3): "there is no sound in it",
    }
    for path, said in faults.items():
        with pytest.raises(MediaError, match=said) as raised:
            open_voice(path)
        assert raised.value.where == str(path)


def test_too_long_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = write_sound_file(tmp_path / "a.wav", sine(3.0)[np.newaxis], codec="pcm_s16le")
    monkeypatch.setattr(voice_decoding, "LONGEST_S", 2)
    with pytest.raises(MediaError, match="lasts more than"):
        open_voice(path)


@pytest.mark.parametrize(("name", "codec"), [("a.flac", "flac"), ("a.m4a", "aac"), ("a.opus", "libopus")])
def test_damage_keeps_the_times_of_the_rest(tmp_path: Path, name: str, codec: str) -> None:
    """The last second is where it was, though a part before it is lost."""
    samples = np.concatenate([sine(6.0), silence(0.5), sine(1.0, tone_hz=2000)])[np.newaxis]
    path = write_sound_file(tmp_path / name, samples, codec=codec)
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 2000] = bytes(2000)
    path.write_bytes(data)
    voice = open_voice(path)
    assert float(voice.length_s) == pytest.approx(7.5, abs=0.06)
    assert len(voice.notes) == 1
    assert "missing or damaged" in voice.notes[0]
    heard = _samples(voice)
    assert np.abs(heard[round(6.1 * VOICE_RATE_HZ) : round(6.4 * VOICE_RATE_HZ)]).max() < 0.01
    assert tone_hz(heard[round(6.6 * VOICE_RATE_HZ) : round(7.4 * VOICE_RATE_HZ)]) == pytest.approx(2000, rel=1e-3)


def test_a_file_cut_short_has_what_is_left(tmp_path: Path) -> None:
    path = write_sound_file(tmp_path / "a.wav", sine(3.0)[np.newaxis], codec="pcm_s16le")
    path.write_bytes(path.read_bytes()[:96_000])
    assert float(open_voice(path).length_s) == pytest.approx(1.0, abs=1e-3)


def test_it_can_be_stopped(tmp_path: Path) -> None:
    def stop(_share: float, _what: str) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        open_voice(write_sound_file(tmp_path / "a.wav", sine(1.0)[np.newaxis], codec="pcm_s16le"), progress=stop)
