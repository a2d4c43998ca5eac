"""Copies of spans: bit by bit the recording's, in time, turned as it was."""

from __future__ import annotations

import subprocess
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from syncview.errors import Cancelled, MediaError, OutputError
from syncview.media.caption_stream import CaptionTrack
from syncview.media.recording import open_recording
from syncview.media.sound import read_mono
from syncview.media.stream_copy import CopyExtras, copy_span
from syncview_codecs.captions.cue import Cue
from syncview_codecs.chapters.chapter import Chapter
from tests.media.ffmpeg_tools import ffmpeg, ffprobe_frames, frame_digests
from tests.media_samples import SoundTrack, make_clip, read_bar_code

EXTRAS = CopyExtras(
    captions=[CaptionTrack((Cue(100, 700, "Brake here"), Cue(900, 1500, "Now throttle")), "deu", "Notes")],
    chapters=[Chapter(0, 500, "Corner 1"), Chapter(500, 1600, "Corner 2")],
    title="Copied",
)


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four seconds, key frames each second, B frames, beeps at 1.5 and 2.5 s."""
    folder = tmp_path_factory.mktemp("copy")
    return make_clip(folder / "source.mp4", frame_count=120, sound=SoundTrack(beeps_s=(1.5, 2.5)))


def shown(path: Path) -> list[int]:
    """Bar codes of the pictures that PyAV presents: it honours edit lists."""
    with av.open(str(path)) as container:
        return [read_bar_code(frame) for frame in container.decode(video=0)]


def beep_begin_s(path: Path) -> float:
    """When the first loud sample is heard, from the first picture on."""
    samples, begin_s = read_mono(open_recording(path), rate_hz=48000)
    return begin_s + int(np.argmax(np.abs(samples) > 0.1)) / 48000


def packets(path: Path, kind: str) -> list[bytes]:
    with av.open(str(path)) as container:
        return [bytes(p) for p in container.demux(**{kind: 0}) if p.size]


def captions_of(path: Path) -> list[tuple[int, int, bytes]]:
    with av.open(str(path)) as container:
        stream = container.streams.subtitles[0]
        return [
            (round(p.pts * p.time_base * 1000), round((p.duration or 0) * p.time_base * 1000), bytes(p)[-10:])
            for p in container.demux(stream)
            if p.pts is not None and p.size > 2
        ]


@pytest.mark.parametrize("suffix", [".mp4", ".mov", ".mkv"])
def test_whole_recording_is_the_same_bit_by_bit(tmp_path: Path, source: Path, suffix: str) -> None:
    output = tmp_path / f"copy{suffix}"
    report = copy_span(open_recording(source), begin_s=0, end_s=100, output=output, extras=EXTRAS)
    assert (report.frames, report.frames_before, report.frames_after, report.notes) == (120, 0, 0, ())
    assert report.begin_media_s == report.zero_media_s == 0
    assert packets(output, "video") == packets(source, "video")
    sound = packets(source, "audio")
    assert packets(output, "audio") == (sound[1:] if suffix == ".mkv" else sound)
    assert [digest for _, digest in frame_digests(output)] == [digest for _, digest in frame_digests(source)]
    one, two = open_recording(source).frames, open_recording(output).frames
    assert np.allclose(one.times_s, two.times_s, atol=0.0005 if suffix == ".mkv" else 0)
    assert abs(beep_begin_s(output) - beep_begin_s(source)) < 0.001
    assert captions_of(output) == [(100, 600, b"Brake here"), (900, 600, b"w throttle")]
    with av.open(str(output)) as container:
        assert [c["metadata"]["title"] for c in container.chapters()] == ["Corner 1", "Corner 2"]
        assert container.metadata["title"] == "Copied"
        assert container.streams.subtitles[0].metadata["language"] in ("deu", "ger"), suffix


@pytest.mark.parametrize("suffix", [".mp4", ".mov"])
def test_span_starts_at_its_picture_by_an_edit_list(tmp_path: Path, source: Path, suffix: str) -> None:
    output = tmp_path / f"copy{suffix}"
    recording = open_recording(source)
    report = copy_span(recording, begin_s=Fraction(40, 30), end_s=Fraction(100, 30), output=output, extras=EXTRAS)
    assert (report.begin_media_s, report.first_media_s) == (Fraction(40, 30), Fraction(1))
    assert (report.frames, report.frames_before) == (60, 10)
    numbers = shown(output)
    assert numbers[:60] == list(range(40, 100))
    assert numbers[60:] == list(range(100, 100 + report.frames_after)) or report.frames_after <= 3
    assert abs(beep_begin_s(output) - (1.5 - 40 / 30)) < 0.001
    assert captions_of(output)[0][:2] == (100, 600)
    assert ffprobe_frames(output)[0] == 0
    assert any("edit lists" in note for note in report.notes)
    wanted = dict.fromkeys(packets(source, "video"))
    assert all(packet in wanted for packet in packets(output, "video"))
    with av.open(str(output), options={"ignore_editlist": "1"}) as container:  # as a simple player sees it
        assert read_bar_code(next(container.decode(video=0))) == 30


def test_span_in_matroska_begins_at_the_key_frame(tmp_path: Path, source: Path) -> None:
    output = tmp_path / "copy.mkv"
    recording = open_recording(source)
    report = copy_span(recording, begin_s=Fraction(40, 30), end_s=Fraction(100, 30), output=output, extras=EXTRAS)
    assert report.zero_media_s == report.first_media_s == 1
    assert shown(output)[:70] == list(range(30, 100))
    assert abs(beep_begin_s(output) - 0.5) < 0.001
    lead_ms = round(1000 * 10 / 30)
    assert captions_of(output)[0][:2] == (100 + lead_ms, 600)
    with av.open(str(output)) as container:
        starts = [c["start"] * (c["time_base"] or 0) for c in container.chapters()]
    assert starts == [0, Fraction(500 + lead_ms, 1000)]


def test_span_from_matroska(tmp_path: Path, source: Path) -> None:
    """Matroska has no decoding stamps; they are made again."""
    ffmpeg("-i", source, "-c", "copy", tmp_path / "source.mkv")
    recording = open_recording(tmp_path / "source.mkv")
    for output in (tmp_path / "copy.mp4", tmp_path / "copy.mkv"):
        report = copy_span(recording, begin_s=1.9, end_s=3.1, output=output)
        lead = report.frames_before if output.suffix == ".mkv" else 0
        assert shown(output)[: report.frames + lead] == list(range(57 - lead, 93))
        beep_s = 1.5 if output.suffix == ".mkv" else 2.5  # Matroska begins at the key frame, before the first beep
        assert abs(beep_begin_s(output) - (beep_s - float(report.zero_media_s))) < 0.003


@pytest.mark.parametrize("rotation", [90, 180, 270])
def test_turning_is_kept(tmp_path: Path, rotation: int) -> None:
    clip = make_clip(tmp_path / "turned.mp4", frame_count=30, rotation_ccw_deg=rotation)
    copy_span(open_recording(clip), begin_s=0, end_s=1, output=tmp_path / "copy.mp4")
    assert open_recording(tmp_path / "copy.mp4").turn == open_recording(clip).turn
    assert open_recording(clip).rotation_deg == (360 - rotation) % 360


def test_colour_and_variable_rate_are_kept(tmp_path: Path, variable: Path) -> None:
    recording = open_recording(variable)
    copy_span(recording, begin_s=0, end_s=100, output=tmp_path / "copy.mp4")
    copy = open_recording(tmp_path / "copy.mp4")
    assert copy.frames.times_s.tolist() == recording.frames.times_s.tolist()
    assert (copy.colour, copy.is_variable_rate, copy.sample_aspect) == (recording.colour, True, recording.sample_aspect)


def test_recording_that_was_cut_by_an_edit_list(tmp_path: Path, cut_by_edit_list: Path) -> None:
    recording = open_recording(cut_by_edit_list)
    report = copy_span(recording, begin_s=0, end_s=100, output=tmp_path / "copy.mp4")
    assert report.frames == len(recording.frames)
    assert shown(tmp_path / "copy.mp4") == shown(cut_by_edit_list)
    assert abs(beep_begin_s(tmp_path / "copy.mp4") - beep_begin_s(cut_by_edit_list)) < 0.001


def test_other_codings_are_copied(tmp_path: Path) -> None:
    clip = make_clip(tmp_path / "new.mp4", codec="libx265", frame_count=45, options={}, b_frames=2)
    copy_span(open_recording(clip), begin_s=0, end_s=9, output=tmp_path / "copy.mp4")
    assert shown(tmp_path / "copy.mp4") == list(range(45))
    command = ["ffprobe", "-v", "error", "-show_entries", "stream=codec_tag_string", "-of", "csv=p=0"]
    assert subprocess.check_output([*command, str(tmp_path / "copy.mp4")], text=True).split() == ["hvc1"]


def test_faults_are_said_and_nothing_is_left(tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = open_recording(source)
    with pytest.raises(MediaError, match="no frame lies"):
        copy_span(recording, begin_s=50, end_s=51, output=tmp_path / "copy.mp4")
    with pytest.raises(OutputError, match="own source"):
        copy_span(recording, begin_s=0, end_s=1, output=source, overwrite=True)

    def stop(share: float, _what: str) -> None:
        if share == 1:
            raise Cancelled

    with pytest.raises(Cancelled):
        copy_span(recording, begin_s=0, end_s=1, output=tmp_path / "copy.mp4", progress=stop)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("syncview.media.stream_copy.CaptionStream.write", full)
    with pytest.raises(OutputError, match="no space left"):
        copy_span(recording, begin_s=0, end_s=1, output=tmp_path / "copy.mp4", extras=EXTRAS)
    assert list(tmp_path.iterdir()) == []


def test_container_that_cannot_hold_the_picture_is_said(tmp_path: Path) -> None:
    clip = tmp_path / "old.mkv"
    ffmpeg("-f", "lavfi", "-i", "testsrc=d=1:s=64x64", "-c:v", "huffyuv", clip)
    with pytest.raises(OutputError, match="cannot hold huffyuv"):
        copy_span(open_recording(clip), begin_s=0, end_s=1, output=tmp_path / "copy.mp4")
    assert [path.name for path in tmp_path.iterdir()] == ["old.mkv"]
