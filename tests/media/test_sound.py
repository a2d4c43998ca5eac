"""Sound on the picture's clock: known tones, and ffmpeg's own decoding."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.errors import MediaError
from syncview.media.recording import Recording, open_recording
from syncview.media.sound import read_mono, read_sound
from tests.media.ffmpeg_tools import ffmpeg, sound_samples
from tests.media_samples import SoundTrack, make_clip

RATE_HZ = 8000


def _onset_s(samples: NDArray[np.float32], first_s: float, rate_hz: int = RATE_HZ) -> float:
    return first_s + float(np.flatnonzero(np.abs(samples) > 0.1)[0]) / rate_hz


@pytest.mark.parametrize("name", ["steady", "transport_stream", "late_matroska"])
def test_beep_is_heard_when_it_was_made(name: str, request: pytest.FixtureRequest) -> None:
    recording = open_recording(request.getfixturevalue(name))
    samples, first_s = read_mono(recording, rate_hz=RATE_HZ)
    # 0.3 ms: a quarter of the tone's period until it passes the threshold, and a sample.
    assert _onset_s(samples, first_s) == pytest.approx(1.0, abs=1.5e-3)


def test_beep_after_an_edit_list(cut_by_edit_list: Path) -> None:
    """Cut at 0.55 s: the picture begins with the frame at 17/30 s, the beep is 1 s - 17/30 s later."""
    samples, first_s = read_mono(open_recording(cut_by_edit_list), rate_hz=RATE_HZ)
    assert _onset_s(samples, first_s) == pytest.approx(1 - 17 / 30, abs=18e-3)  # ffmpeg cuts sound by AAC frames


@pytest.mark.parametrize("codec", ["flac", "aac", "libopus", "pcm_s16le"])
def test_late_sound_starts_late(tmp_path: Path, codec: str) -> None:
    track = SoundTrack(beeps_s=(1.0,), start_s=0.5, codec=codec)
    recording = open_recording(make_clip(tmp_path / "late.mkv", sound=track))
    samples, first_s = read_mono(recording, rate_hz=RATE_HZ)
    assert first_s == pytest.approx(0.5, abs=25e-3)
    assert _onset_s(samples, first_s) == pytest.approx(1.0, abs=1.5e-3)
    later, later_s = read_mono(recording, rate_hz=RATE_HZ, begin_s=0.9)
    assert later_s == 0.9
    assert _onset_s(later, later_s) == pytest.approx(1.0, abs=1.5e-3)


def test_samples_are_ffmpegs(tmp_path: Path) -> None:
    track = SoundTrack(beeps_s=(0.2, 0.9, 1.5), codec="flac", channels=1)
    path = make_clip(tmp_path / "known.mkv", sound=track)
    ours, first_s = read_mono(open_recording(path), rate_hz=RATE_HZ)
    theirs = sound_samples(path, RATE_HZ)
    count = min(len(ours), len(theirs))
    assert first_s == 0
    assert abs(len(ours) - len(theirs)) <= 1
    assert np.abs(ours[:count] - theirs[:count]).max() < 1e-3


def test_stereo_is_the_mean_of_its_channels(steady: Path) -> None:
    left_and_right = np.concatenate(list(read_sound(open_recording(steady), 1, 1.1)), axis=1)
    mono, _first_s = read_mono(open_recording(steady), rate_hz=48000, begin_s=1, end_s=1.1)
    assert left_and_right.shape == (2, 4800)
    assert np.abs(left_and_right.mean(axis=0) - mono).max() < 1e-6
    assert np.abs(mono).max() == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize("span", [(0, 2), (0.3, 1.7), (Fraction(1, 3), Fraction(5, 3)), (1.9, 4.0), (5, 6)])
def test_spans_have_exactly_their_samples(steady: Path, span: tuple[float, float]) -> None:
    blocks = list(read_sound(open_recording(steady), *span))
    assert sum(block.shape[1] for block in blocks) == round((Fraction(span[1]) - Fraction(span[0])) * 48000)


def test_any_span_is_a_part_of_the_whole(steady: Path) -> None:
    recording = open_recording(steady)
    whole = np.concatenate(list(read_sound(recording, 0, 2)), axis=1)
    for begin_s, end_s in ((0.25, 0.5), (0.95, 1.2), (1.5, 1.99)):
        part = np.concatenate(list(read_sound(recording, begin_s, end_s)), axis=1)
        begin = round(begin_s * 48000)
        assert np.abs(part - whole[:, begin : begin + part.shape[1]]).max() < 1e-5


def _with_gap(tmp_path: Path) -> Recording:
    """Sound whose packets from 0.7 s to 1.2 s were taken out; beep at 1.5 s."""
    import av

    path = make_clip(tmp_path / "whole.mkv", sound=SoundTrack(beeps_s=(0.3, 1.5), codec="flac"))
    with av.open(str(path)) as source, av.open(str(tmp_path / "gap.mkv"), "w") as target:
        streams = {s.index: target.add_stream_from_template(s) for s in source.streams}
        for packet in source.demux():
            lost = packet.stream.type == "audio" and packet.pts is not None and 700 <= packet.pts < 1200
            if packet.size and not lost:
                packet.stream = streams[packet.stream.index]
                target.mux(packet)
    return open_recording(tmp_path / "gap.mkv")


def test_gap_is_filled_with_silence(tmp_path: Path) -> None:
    samples, first_s = read_mono(_with_gap(tmp_path), rate_hz=RATE_HZ)
    assert len(samples) / RATE_HZ == pytest.approx(2.0, abs=0.1)
    assert _onset_s(samples[6400:], first_s + 0.8) == pytest.approx(1.5, abs=1.5e-3)
    assert np.abs(samples[round(0.8 * RATE_HZ) : round(1.1 * RATE_HZ)]).max() == 0


def test_sound_before_the_picture_is_reached_by_negative_times(tmp_path: Path, steady: Path) -> None:
    ffmpeg(
        "-itsoffset", "0.5", "-i", steady, "-i", steady, "-map", "0:v", "-map", "1:a", "-c", "copy", tmp_path / "a.mkv"
    )
    recording = open_recording(tmp_path / "a.mkv")
    assert recording.audio is not None
    assert recording.audio.start_s == pytest.approx(-0.5, abs=25e-3)
    samples, first_s = read_mono(recording, rate_hz=RATE_HZ, begin_s=-0.25)
    assert first_s == -0.25
    assert _onset_s(samples, first_s) == pytest.approx(0.5, abs=1.5e-3)


def test_no_sound_is_an_error(variable: Path, steady: Path) -> None:
    with pytest.raises(MediaError, match="no sound"):
        read_mono(open_recording(variable), rate_hz=RATE_HZ)
    with pytest.raises(MediaError, match="no sound in that part"):
        read_mono(open_recording(steady), rate_hz=RATE_HZ, begin_s=7, end_s=8)
