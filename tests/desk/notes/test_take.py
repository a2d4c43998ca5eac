"""What the microphone hears, as numbers and as a file."""

from __future__ import annotations

import errno
import math
import os
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.desk.notes import take as take_module
from syncview.desk.notes.sound_blocks import level_of, one_channel, samples_of, shown_share
from syncview.desk.notes.take import Take, free_name, voices_folder
from syncview.errors import MediaError, OutputError
from syncview.media.voice_file import open_voice
from tests.desk.notes.fakes import RATE_HZ, speech


def test_levels_of_known_sounds() -> None:
    # A full-scale sine has an RMS of 1/sqrt(2): -3.01 dB against its peak of 0 dB (IEC 61606 counts from the peak).
    sine = (np.sin(2 * np.pi * 1000 * np.arange(4800) / 48_000) * 16_384).astype(np.int16)
    level = level_of(sine)
    assert level.peak_db == pytest.approx(-6.02, abs=0.01)
    assert level.rms_db == pytest.approx(-9.03, abs=0.01)
    assert not level.clipped
    assert level_of(np.full(10, -32_768, dtype=np.int16)).clipped
    assert level_of(np.zeros(10, dtype=np.int16)).rms_db == -math.inf
    assert level_of(np.zeros(0, dtype=np.int16)).peak_db == -math.inf
    assert [shown_share(db) for db in (-math.inf, -60.0, -30.0, 0.0)] == [0, 0, 0.5, 1]


def test_every_kind_of_samples_becomes_the_same() -> None:
    wanted = np.array([0, 16_384, -16_384, 32_767], dtype=np.int16)
    as_given: dict[str, NDArray[np.generic]] = {
        "i2": wanted,
        "i4": wanted.astype(np.int32) * 65_536,
        "f4": wanted.astype(np.float32) / 32_768,
        "u1": (wanted // 256 + 128).astype(np.uint8),
    }
    for kind, samples in as_given.items():
        got = one_channel(samples.tobytes(), kind, 1)  # type: ignore[arg-type]
        assert np.abs(got.astype(int) - wanted).max() <= (255 if kind == "u1" else 1), kind
    two = np.array([[100, 300], [-100, -300]], dtype=np.int16)
    assert one_channel(two.tobytes() + b"\x01", "i2", 2).tolist() == [200, -200]
    assert one_channel(np.array([2.0, -2.0], dtype=np.float32).tobytes(), "f4", 1).tolist() == [32_767, -32_768]


def test_a_take_is_hidden_until_it_is_whole(tmp_path: Path) -> None:
    project = tmp_path / "Sunday.syncview.json"
    sound = speech(1.0)
    take = Take(project, "n3", rate_hz=RATE_HZ)
    folder = tmp_path / "Sunday voices"
    for begin in range(0, sound.size, 1000):
        take.write(sound[begin : begin + 1000])
    assert not list(folder.glob("[!.]*"))
    voice = take.finish()
    assert [path.name for path in folder.iterdir()] == ["n3.wav"]
    assert voice.path == folder / "n3.wav"
    with wave.open(str(voice.path)) as file:  # Python's own reader of WAV, as the outside check
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        assert file.readframes(file.getnframes()) == sound.tobytes()
    assert float(voice.speech_begin_s) == pytest.approx(0.45, abs=0.02), "50 ms of room before the first word"


def test_the_next_take_leaves_the_earlier_one(tmp_path: Path) -> None:
    project = tmp_path / "p.json"
    for name in ("n1.wav", "n1-2.wav", "n1-3.wav"):
        take = Take(project, "n1", rate_hz=RATE_HZ)
        take.write(speech(0.5))
        assert take.finish().path.name == name
    assert free_name(voices_folder(project), "n2").name == "n2.wav"


@pytest.mark.parametrize("sound", [np.zeros(0, dtype=np.int16), np.zeros(48_000, dtype=np.int16)])
def test_silence_is_not_kept(tmp_path: Path, sound: np.ndarray[tuple[int], np.dtype[np.int16]]) -> None:
    take = Take(tmp_path / "p.json", "n1", rate_hz=RATE_HZ)
    take.write(sound)
    with pytest.raises(MediaError) as fault:
        take.finish()
    assert ".part" not in str(fault.value)
    assert list((tmp_path / "p voices").iterdir()) == []


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    take = Take(tmp_path / "p.json", "n1", rate_hz=RATE_HZ)

    def full(_data: bytes) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(take._wave, "writeframesraw", full)
    with pytest.raises(OutputError, match="no space left") as fault:
        take.write(speech(0.1))
    assert "Free space" in fault.value.remedy
    take.abandon()
    assert list((tmp_path / "p voices").iterdir()) == []


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "p voices").write_text("in the way")
    with pytest.raises(OutputError):
        Take(tmp_path / "p.json", "n1", rate_hz=RATE_HZ)
    assert take_module.voices_folder(tmp_path / ".json").name == ".json voices"


@settings(max_examples=8, deadline=None)
@given(begin=st.integers(0, 47), length=st.integers(2, 40))
def test_a_piece_is_cut_to_the_sample(begin: int, length: int) -> None:
    import tempfile
    from fractions import Fraction

    from syncview.media.voice_file import VoicePiece

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "v.wav"
        sound = speech(0.8, silence_s=0.05)
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(sound.tobytes())
        piece = VoicePiece(open_voice(path), Fraction(begin, 100), Fraction(begin + length, 100))
        heard = samples_of(piece)
    wanted = sound[begin * 480 : (begin + length) * 480]
    assert heard.size == wanted.size
    assert np.abs(heard.astype(int) - wanted).max() <= 1
