"""The engine along the lesson: exact lengths, joins without clicks, holds that fade."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.lesson.engine_sound import SoundPart, heard_spans, in_stereo, lay_engine, part_borders
from syncview.media.recording import Recording, open_recording
from syncview.media.sound_store import sound_store
from syncview.progress import silent
from tests.media.made_sounds import tone_hz
from tests.media_samples import SoundTrack, make_clip

F = Fraction
RATE_HZ = 48_000


def _heard(recording: Recording, parts: list[SoundPart], folder: Path) -> NDArray[np.float32]:
    length = part_borders(parts, rate_hz=RATE_HZ)[-1]
    with sound_store(folder, length=length, channels=2) as store:
        lay_engine(recording, heard_spans(parts, rate_hz=RATE_HZ), store, rate_hz=RATE_HZ, progress=silent)
        return store.read(0, length)


lengths = st.fractions(min_value=F(1, 1000), max_value=3, max_denominator=10_007)
some_parts = st.lists(
    st.tuples(st.sampled_from([F(0), F(1, 64), F(1, 4), F(1, 2), F(1), F(3, 2)]), lengths), min_size=1, max_size=8
).map(lambda pairs: [SoundPart(F(1), 1 + tempo * length, length) for tempo, length in pairs])


@given(some_parts)
def test_borders_never_drift(parts: list[SoundPart]) -> None:
    borders = part_borders(parts, rate_hz=RATE_HZ)
    assert borders[-1] == round(sum((part.lesson_s for part in parts), F(0)) * RATE_HZ)
    time_s = F(0)
    for part, border in zip(parts, borders, strict=False):
        assert abs(border - time_s * RATE_HZ) <= F(1, 2)
        time_s += part.lesson_s


@given(some_parts)
def test_joined_gains_add_up_to_one(parts: list[SoundPart]) -> None:
    """Inside moving parts the fades sum to 1; nothing sounds before the lesson or after it."""
    borders = part_borders(parts, rate_hz=1000)
    total = np.zeros(borders[-1])
    spans = heard_spans(parts, rate_hz=1000)
    for span in spans:
        assert 0 <= span.begin <= span.full <= span.fading <= span.end <= borders[-1]
        total[span.begin : span.end] += span.gain(span.begin, span.end)
    assert (total <= 1 + 1e-5).all()
    edge = 5  # the fade at the very beginning and end
    for part, begin, end in zip(parts, borders, borders[1:], strict=False):
        if part.is_heard and end - begin > 0:
            inner = total[max(begin, edge) : min(end, borders[-1] - edge)]
            assert inner == pytest.approx(1, abs=1e-5)
        elif end - begin > 200:
            assert total[begin + 85 : end - 85] == pytest.approx(0)


@pytest.mark.parametrize("wrong", [(0, 1, 0), (0, 1, -1), (2, 1, 1)])
def test_parts_that_cannot_be_are_refused(wrong: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="a part must last"):
        SoundPart(*map(F, wrong))


@pytest.fixture(scope="module")
def tone(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Four seconds of an unbroken tone of 1 kHz, amplitude 0.5."""
    beeps = tuple(number / 10 for number in range(41))
    track = SoundTrack(beeps_s=beeps, codec="flac")
    return open_recording(make_clip(tmp_path_factory.mktemp("tone") / "tone.mkv", frame_count=120, sound=track))


def test_full_speed_is_the_recordings_own_sound(tone: Recording, tmp_path: Path) -> None:
    """In two parts, which are one in the ear: 1 kHz, 0.5 of full scale, no trace of the border."""
    made = _heard(tone, [SoundPart(F(1), F(2), F(1)), SoundPart(F(2), F(3), F(1))], tmp_path)
    assert made.shape == (2, 96_000)
    expected = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(96_000) / RATE_HZ)
    assert np.abs(made[:, 300:-300] - expected[300:-300]).max() < 1e-3


def test_slow_parts_keep_pitch_length_and_level(tone: Recording, tmp_path: Path) -> None:
    parts = [SoundPart(F(1), F(2), F(1)), SoundPart(F(2), F(5, 2), F(2)), SoundPart(F(5, 2), F(3), F(1))]
    made = _heard(tone, parts, tmp_path)[0]
    assert len(made) == 4 * RATE_HZ
    for begin in (24_000, 72_000, 110_000, 160_000):
        assert tone_hz(made[begin : begin + 20_000]) == pytest.approx(1000, rel=2e-3)
        assert np.abs(made[begin : begin + 20_000]).max() == pytest.approx(0.5, rel=0.05)
    # A click is a step; the steepest step of the tone itself is 0.5 * 2 pi 1000 / 48000 = 0.065.
    assert np.abs(np.diff(made)).max() < 0.08
    # At a join the phases differ, so the sum may be weaker for 10 ms, but never louder.
    assert np.abs(made).max() < 0.55


def test_holds_fade_and_come_back(tone: Recording, tmp_path: Path) -> None:
    parts = [SoundPart(F(1), F(2), F(1)), SoundPart(F(2), F(2), F(1)), SoundPart(F(2), F(3), F(1))]
    made = np.abs(_heard(tone, parts, tmp_path)[0])

    def level(begin_s: float, end_s: float) -> float:
        return float(made[round(begin_s * RATE_HZ) : round(end_s * RATE_HZ)].max())

    assert level(0.98, 1.0) == pytest.approx(0.5, rel=0.01)
    assert level(1.038, 1.042) == pytest.approx(0.25, rel=0.1)
    assert level(1.08, 1.92) == 0
    assert level(1.958, 1.962) == pytest.approx(0.25, rel=0.1)
    assert level(2.0, 2.02) == pytest.approx(0.5, rel=0.01)
    assert made[-1] < 0.01


def test_many_parts_keep_a_beep_at_its_time(tmp_path: Path) -> None:
    """A beep at 7.5 s is heard there in lesson time, after 40 parts of awkward lengths at 1/2 and 3/4."""
    track = SoundTrack(beeps_s=(7.5,), codec="flac")
    recording = open_recording(make_clip(tmp_path / "a.mkv", frame_count=270, sound=track))
    tempos = [F(1, 2), F(3, 4)] * 20
    parts = [SoundPart(F(n * 7, 40) + 1, F((n + 1) * 7, 40) + 1, F(7, 40) / tempo) for n, tempo in enumerate(tempos)]
    made = _heard(recording, parts, tmp_path)[0]
    before = sum((part.lesson_s for part in parts if part.end_media_s <= F(15, 2)), F(0))
    inside = next(part for part in parts if part.begin_media_s <= F(15, 2) < part.end_media_s)
    expected_s = before + (F(15, 2) - inside.begin_media_s) / inside.tempo
    onset_s = float(np.flatnonzero(np.abs(made) > 0.1)[0]) / RATE_HZ
    assert onset_s == pytest.approx(float(expected_s), abs=0.04)  # EBU R 37: sound at most 40 ms early


@pytest.mark.parametrize(("rate_hz", "codec"), [(8000, "pcm_s16le"), (44_100, "aac"), (192_000, "flac")])
def test_any_rate_of_the_recording(tmp_path: Path, rate_hz: int, codec: str) -> None:
    track = SoundTrack(beeps_s=(1.0,), rate_hz=rate_hz, codec=codec, channels=1)
    recording = open_recording(make_clip(tmp_path / "a.mkv", sound=track))
    made = _heard(recording, [SoundPart(F(1, 2), F(3, 2), F(1)), SoundPart(F(3, 2), F(3), F(3))], tmp_path)
    assert made.shape == (2, 4 * RATE_HZ)
    assert float(np.flatnonzero(np.abs(made[0]) > 0.1)[0]) / RATE_HZ == pytest.approx(0.5, abs=2e-3)
    assert tone_hz(made[0, 24_500:28_500]) == pytest.approx(1000, rel=2e-3)


def test_six_channels_become_two() -> None:
    """ITU-R BS.775: centre and surrounds 3 dB down; here all of it down by 1 / (1 + 2 * 0.7071) = 0.4142."""
    block = np.eye(6, dtype=np.float32)
    left, right = in_stereo(block)
    assert left == pytest.approx([0.4142, 0, 0.2929, 0, 0.2929, 0], abs=1e-4)
    assert right == pytest.approx([0, 0.4142, 0.2929, 0, 0, 0.2929], abs=1e-4)
    assert in_stereo(np.ones((4, 3), dtype=np.float32)).tolist() == [[1, 1, 1], [1, 1, 1]]
    assert in_stereo(np.ones((1, 3), dtype=np.float32)).shape == (2, 3)


def test_sound_that_starts_late_is_silent_before(tmp_path: Path) -> None:
    track = SoundTrack(beeps_s=(1.2,), start_s=0.8, codec="flac")
    recording = open_recording(make_clip(tmp_path / "a.mkv", sound=track))
    made = np.abs(_heard(recording, [SoundPart(F(0), F(2), F(4))], tmp_path)[0])
    assert made[: round(2.2 * RATE_HZ)].max() == 0
    assert float(np.flatnonzero(made > 0.1)[0]) / RATE_HZ == pytest.approx(2.4, abs=0.04)
