"""Clips with coded edges: every picture decoded and compared, the middle bit by bit the recording's."""

from __future__ import annotations

import subprocess
from fractions import Fraction
from pathlib import Path
from typing import TypedDict

import av
import numpy as np
import pytest

from syncview.errors import Cancelled, MediaError, OutputError
from syncview.media.avc_sets import AvcRecord, set_number, units_after_lengths, units_after_start_codes, with_lengths
from syncview.media.caption_stream import CaptionTrack
from syncview.media.cut_plan import CutPlan, plan_cut
from syncview.media.edge_cut import cut_clip
from syncview.media.recording import Recording, open_recording
from syncview.media.stream_copy import CopyExtras
from syncview_codecs.captions.cue import Cue
from syncview_codecs.chapters.chapter import Chapter
from tests.media.ffmpeg_tools import ffmpeg, frame_digests
from tests.media.test_stream_copy import beep_begin_s, captions_of, packets, shown
from tests.media_samples import SoundTrack, make_clip

FRAME = Fraction(1, 30)


class _Small(TypedDict):
    frame_count: int
    key_step: int
    size: tuple[int, int]


SMALL: _Small = {"frame_count": 75, "key_step": 15, "size": (160, 96)}


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two and a half seconds, key frames each half, B frames, a beep at 1.2 s."""
    folder = tmp_path_factory.mktemp("cut")
    return make_clip(folder / "source.mp4", **SMALL, sound=SoundTrack(beeps_s=(1.2,)))


def complaints(path: Path) -> str:
    command = ["ffmpeg", "-v", "warning", "-i", str(path), "-map", "0:V", "-map", "0:a?"]
    command += ["-fps_mode", "passthrough", "-enc_time_base", "-1", "-f", "null", "-"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stderr


def error_of(recording: Recording, output: Path, begin: int) -> float:
    """Largest mean difference of a luma picture from the recording's, of 255."""
    worst = 0.0
    with av.open(str(recording.path)) as one, av.open(str(output)) as two:
        wanted = [f.to_ndarray()[: f.height].astype(int) for f in one.decode(video=0)][begin:]
        for frame, true in zip(two.decode(video=0), wanted, strict=False):
            worst = max(worst, float(np.abs(frame.to_ndarray()[: frame.height].astype(int) - true).mean()))
    return worst


def check(recording: Recording, plan: CutPlan, output: Path) -> None:
    """All pictures in order; the copied ones decode to the same samples, the others nearly."""
    cut_clip(recording, plan, output=output)
    assert complaints(output) == ""
    true, made = frame_digests(recording.path), frame_digests(output)
    assert len(made) == plan.frames
    middle = slice(plan.copy_begin - plan.begin, plan.copy_end - plan.begin)
    assert [d for _, d in made[middle]] == [d for _, d in true[plan.copy_begin : plan.copy_end]]
    assert error_of(recording, output, plan.begin) < 3
    source_packets = set(packets(recording.path, "video"))
    copied = sum(packet in source_packets for packet in packets(output, "video"))
    assert copied >= plan.copy_end - plan.copy_begin
    times_s = recording.frames.times_s[plan.begin : plan.end] - recording.frames.times_s[plan.begin]
    atol = 0.0006 if output.suffix == ".mkv" else 1e-9
    assert np.allclose(open_recording(output).frames.times_s, times_s, atol=atol)


@pytest.mark.parametrize("suffix", [".mp4", ".mov", ".mkv"])
def test_clip_is_exact_and_its_middle_copied(tmp_path: Path, source: Path, suffix: str) -> None:
    recording, output = open_recording(source), tmp_path / f"clip{suffix}"
    plan = plan_cut(recording, 20 * FRAME, 70 * FRAME)
    assert plan == CutPlan(20, 30, 60, 70)
    assert (plan.frames, plan.frames_coded_again) == (50, 20)
    check(recording, plan, output)
    assert shown(output) == list(range(20, 70))
    assert abs(beep_begin_s(output) - (1.2 - 20 / 30)) < 0.001
    extras = CopyExtras([CaptionTrack((Cue(100, 700, "Brake here"),), "eng")], [Chapter(0, 1600, "Corner")], "Clip")
    cut_clip(recording, plan, output=output, extras=extras, overwrite=True)
    assert captions_of(output) == [(100, 600, b"Brake here")]
    with av.open(str(output)) as container:
        assert [c["metadata"]["title"] for c in container.chapters()] == ["Corner"]


@pytest.mark.slow
def test_begin_or_end_on_a_key_frame_needs_no_coding(tmp_path: Path, source: Path) -> None:
    recording = open_recording(source)
    for number, (begin, end, coded) in enumerate([(15, 50, 5), (25, 60, 5), (0, 75, 0)]):
        plan = plan_cut(recording, begin * FRAME, end * FRAME)
        assert (plan.why_not, plan.frames_coded_again) == (None, coded)
        check(recording, plan, tmp_path / f"{number}.mp4")


@pytest.mark.parametrize(
    ("name", "coding"),
    [
        ("ten_bits", {"pixel_format": "yuv420p10le"}),
        ("full_range", {"pixel_format": "yuvj420p", "colour": (1, 2, 1, 1)}),
        ("rotated", {"rotation_ccw_deg": 90, "sample_aspect": Fraction(4, 3)}),
        ("uneven", {"pts": np.cumsum([0, *np.random.default_rng(3).integers(300, 900, 74)]).tolist()}),
    ],
)
def test_kinds_of_recordings(tmp_path: Path, name: str, coding: dict[str, object]) -> None:
    clip = make_clip(tmp_path / f"{name}.mp4", **SMALL, **coding)  # type: ignore[arg-type]
    recording = open_recording(clip)
    plan = plan_cut(recording, recording.frames.media_s(20), recording.frames.media_s(50))
    assert plan.why_not is None
    check(recording, plan, tmp_path / "clip.mp4")
    made = open_recording(tmp_path / "clip.mp4")
    assert (made.turn, made.sample_aspect, made.pixel_format) == (
        recording.turn,
        recording.sample_aspect,
        recording.pixel_format,
    )
    assert made.colour == recording.colour


def test_parameter_sets_among_the_pictures_do_no_harm(tmp_path: Path, source: Path) -> None:
    """Cameras repeat them before every key frame."""
    ffmpeg("-i", source, "-c", "copy", tmp_path / "a.ts")
    ffmpeg("-i", tmp_path / "a.ts", "-c", "copy", tmp_path / "repeated.mp4")
    own = "repeat-headers=1:sps-id=1:keyint=15:scenecut=0"
    ffmpeg("-i", source, "-c:v", "libx264", "-profile:v", "baseline", "-x264-params", own, tmp_path / "own.mp4")
    for path in (tmp_path / "repeated.mp4", tmp_path / "own.mp4"):
        recording = open_recording(path)
        plan = plan_cut(recording, recording.frames.media_s(20), recording.frames.media_s(70))
        assert plan.why_not is None
        check(recording, plan, tmp_path / f"{path.stem}-clip.mp4")


def test_real_clip(tmp_path: Path, real_clips: Path) -> None:
    recording = open_recording(real_clips / "bikes.mp4")
    plan = plan_cut(recording, 0.5, 4.6)
    assert plan == CutPlan(13, 30, 76, 115)
    check(recording, plan, tmp_path / "clip.mp4")


def test_what_cannot_be_joined_is_said(tmp_path: Path, source: Path) -> None:
    recording = open_recording(source)
    assert plan_cut(recording, 16 * FRAME, 44 * FRAME).why_not == "no whole group of pictures lies inside"
    with pytest.raises(ValueError, match="copies nothing"):
        cut_clip(recording, plan_cut(recording, 16 * FRAME, 44 * FRAME), output=tmp_path / "a.mp4")
    ffmpeg("-i", source, "-c", "copy", tmp_path / "a.ts")
    ffmpeg("-i", source, "-c:v", "libx265", "-x265-params", "log-level=none", tmp_path / "b.mp4")
    ffmpeg("-i", source, "-c:v", "libx264", "-x264-params", "keyint=15:open-gop=1:scenecut=0:bframes=3",
           tmp_path / "open.mp4")  # fmt: skip
    ffmpeg("-i", source, "-vf", "tinterlace=5", "-c:v", "libx264", "-flags", "+ilme+ildct", "-g", "5",
           tmp_path / "fields.mp4")  # fmt: skip
    for name, why in {
        "a.ts": "no AVC decoder configuration record",
        "b.mp4": "only H.264",
        "open.mp4": "no whole group",
        "fields.mp4": "interlaced",
    }.items():
        assert why in str(plan_cut(open_recording(tmp_path / name), 0.4, 2).why_not), name
    with pytest.raises(MediaError, match="no frame lies"):
        plan_cut(recording, 50, 60)


def test_nothing_is_left_after_a_stop_or_a_fault(tmp_path: Path, source: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    recording = open_recording(source)
    plan = plan_cut(recording, 20 * FRAME, 70 * FRAME)
    for last in (0.2, 1.0):

        def stop(share: float, _what: str, last: float = last) -> None:
            if share >= last:
                raise Cancelled

        with pytest.raises(Cancelled):
            cut_clip(recording, plan, output=tmp_path / "clip.mp4", progress=stop)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("syncview.media.edge_cut.CaptionStream.write", full)
    extras = CopyExtras([CaptionTrack((Cue(100, 700, "Brake here"),), "eng")])
    with pytest.raises(OutputError, match="no space left"):
        cut_clip(recording, plan, output=tmp_path / "clip.mp4", extras=extras)
    with pytest.raises(OutputError, match="own source"):
        cut_clip(recording, plan, output=source, overwrite=True)
    assert list(tmp_path.iterdir()) == []


def test_record_is_read_and_written_as_it_is(source: Path) -> None:
    with av.open(str(source)) as container:
        data = container.streams.video[0].codec_context.extradata
        assert data is not None
        record = AvcRecord.parse(data)
        assert record.packed() == data
        assert (record.profile, record.length_size) == (100, 4)
        first = next(container.demux(video=0))
        assert with_lengths(list(units_after_lengths(bytes(first), 4)), 4) == bytes(first)
    for bad in (b"", b"\0\0\0\1\x67", data[:9], bytes([1, 100, 0, 30, 255, 225, 0, 200, 0x67])):
        with pytest.raises(ValueError, match="record"):
            AvcRecord.parse(bad)
    with pytest.raises(ValueError, match="add up"):
        list(units_after_lengths(b"\0\0\0\x09\x65", 4))


def test_numbers_of_parameter_sets_against_x264() -> None:
    """x264 numbers its sets as it is told, which is the outside check of reading the numbers."""
    for number in (0, 1, 2, 5, 17, 31):
        context = av.CodecContext.create("libx264", "w")
        assert isinstance(context, av.VideoCodecContext)
        context.width, context.height, context.pix_fmt, context.time_base = 64, 64, "yuv420p", FRAME
        context.options = {"x264-params": f"sps-id={number}"}
        context.flags |= av.codec.context.Flags.global_header
        context.open()
        sets = units_after_start_codes(context.extradata or b"")
        assert [set_number(unit) for unit in sets] == [number, number]
