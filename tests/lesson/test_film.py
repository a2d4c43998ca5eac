"""The finished film: the right frames at the right times, with their sound, and nothing half-written."""

from __future__ import annotations

import json
import subprocess
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from syncview.errors import Cancelled, MediaError, OutputError
from syncview.gauges.values import CornerLabel, GaugeValues
from syncview.lesson.film import FilmReport, render_film
from syncview.lesson.film_picture import PanelOptions
from syncview.media.film_writer import DRAFT
from syncview.media.reading import read_frame_at, read_frames
from syncview.media.recording import Recording, open_recording
from syncview.media.sound import read_mono
from syncview_codecs.chapters.chapter import Chapter
from tests.media_samples import SoundTrack, flash, make_clip, read_bar_code

SIZE = (320, 180)


def _values(media_s: Fraction) -> GaugeValues:
    return GaugeValues(
        speed_mps=30 + float(media_s), gear=3, throttle=0.4, brake=0.1, steering_rad=0.5, lap_time_s=float(media_s),
        corner=CornerLabel(2, "Mill", "right"),
    )  # fmt: skip


def _rendered(recording: Recording, output: Path, begin_s: Fraction | float, end_s: Fraction | float) -> FilmReport:
    return render_film(
        recording, begin_s=begin_s, end_s=end_s, values_at=_values, output=output, settings=DRAFT
    )  # fmt: skip


def _codes_and_times(path: Path) -> tuple[list[int], list[Fraction]]:
    film = open_recording(path)
    pairs = list(read_frames(film, 0, film.frames.end_s))
    return [read_bar_code(frame) for _media_s, frame in pairs], [media_s for media_s, _frame in pairs]


def _steady(tmp_path: Path) -> Path:
    return make_clip(tmp_path / "steady.mp4", frame_count=90, sound=SoundTrack(beeps_s=(1.0, 2.0)))


def _variable(tmp_path: Path) -> Path:
    steps = np.random.default_rng(3).integers(700, 1500, 89)
    steps[50] = 9000
    pts = [0, *np.cumsum(steps).tolist()]
    return make_clip(tmp_path / "variable.mp4", pts=pts, time_base=Fraction(1, 30000))


def _offset(tmp_path: Path) -> Path:
    pts = [round(Fraction(number * 1000, 30)) + 7345 for number in range(90)]
    return make_clip(tmp_path / "offset.mkv", pts=pts, time_base=Fraction(1, 1000))


def _edited(tmp_path: Path) -> Path:
    source = _steady(tmp_path)
    command = ["ffmpeg", "-v", "error", "-ss", "0.4", "-i", str(source), "-c", "copy", str(tmp_path / "edited.mp4")]
    subprocess.run(command, check=True)
    return tmp_path / "edited.mp4"


@pytest.mark.parametrize("maker", [_steady, _variable, _offset, _edited])
def test_film_shows_just_the_span_at_the_frames_own_times(tmp_path: Path, maker) -> None:  # type: ignore[no-untyped-def]
    """The bar code burned into each source frame is read back from the film, with its time."""
    recording = open_recording(maker(tmp_path))
    index = recording.frames
    begin_s, end_s = Fraction(1, 2), Fraction(21, 10)
    report = _rendered(recording, tmp_path / "film.mp4", begin_s, end_s)
    chosen = [number for number in range(len(index)) if begin_s <= index.media_s(number) < end_s]
    codes, times = _codes_and_times(tmp_path / "film.mp4")
    first_code = read_bar_code(read_frame_at(recording, 0))
    assert codes == [first_code + number for number in chosen]
    assert times == [index.media_s(number) - index.media_s(chosen[0]) for number in chosen]
    assert report.frames == len(chosen)
    assert report.duration_s == pytest.approx(float(end_s - index.media_s(chosen[0])), abs=float(index.time_base))
    assert report.size_bytes == (tmp_path / "film.mp4").stat().st_size


def test_gauges_get_each_frames_exact_time(tmp_path: Path) -> None:
    recording = open_recording(_variable(tmp_path))
    asked: list[Fraction] = []

    def values_at(media_s: Fraction) -> GaugeValues:
        asked.append(media_s)
        return GaugeValues()

    render_film(recording, begin_s=0.3, end_s=1.0, values_at=values_at, output=tmp_path / "a.mp4", settings=DRAFT)
    wanted = [recording.frames.media_s(n) for n in range(len(recording.frames))]
    assert asked == [media_s for media_s in wanted if 0.3 <= float(media_s) < 1.0]


def test_gauges_are_there_only_when_asked_for(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    _rendered(recording, tmp_path / "with.mp4", 0, 0.5)
    render_film(recording, begin_s=0, end_s=0.5, values_at=None, output=tmp_path / "without.mp4", settings=DRAFT)
    source, gauged, plain = (
        np.asarray(read_frame_at(open_recording(path), 0.2).to_ndarray(format="gray")).astype(int)
        for path in (recording.path, tmp_path / "with.mp4", tmp_path / "without.mp4")
    )
    corner = (slice(120, 170), slice(230, 304))
    assert np.abs(plain[corner] - source[corner]).mean() < 4
    assert np.abs(gauged[corner] - source[corner]).mean() > 20
    assert np.abs(gauged[:, :90] - source[:, :90])[60:].mean() < 4


@pytest.mark.parametrize("begin_s", [0.0, 0.5, 0.517])
def test_flash_and_beep_stay_together(tmp_path: Path, begin_s: float) -> None:
    """Each within a frame of where it was made, and within 5 ms of each other's place."""
    moments = (1.0, 2.0)
    path = make_clip(
        tmp_path / "clap.mp4", frame_count=90, painter=flash(moments, SIZE), sound=SoundTrack(beeps_s=moments)
    )
    recording = open_recording(path)
    _rendered(recording, tmp_path / "film.mp4", begin_s, 2.8)
    film = open_recording(tmp_path / "film.mp4")
    first_s = float(recording.frames.media_s(recording.frames.first_from(begin_s)))
    lit = [
        float(media_s)
        for media_s, frame in read_frames(film, 0, film.frames.end_s)
        if np.asarray(frame.to_ndarray(format="gray"))[60:110, 40:200].mean() > 128
    ]
    onsets = [time for time in lit if not any(0 < time - other < 0.05 for other in lit)]
    assert onsets == pytest.approx([moment - first_s for moment in moments], abs=1e-6)
    samples, heard_s = read_mono(film, rate_hz=48000)
    loud = heard_s + np.flatnonzero(np.abs(samples) > 0.1) / 48000
    beeps = [loud[0], loud[np.flatnonzero(np.diff(loud) > 0.5)[0] + 1]]
    assert beeps == pytest.approx([moment - first_s for moment in moments], abs=5e-3)


def test_sound_is_as_long_as_the_span(tmp_path: Path) -> None:
    _rendered(open_recording(_steady(tmp_path)), tmp_path / "film.mp4", 0.5, 2.0)
    with av.open(str(tmp_path / "film.mp4")) as film:
        audio = film.streams.audio[0]
        assert audio.duration is not None
        assert audio.time_base is not None
        assert audio.duration * audio.time_base == Fraction(3, 2)


def test_recording_without_sound_makes_a_silent_film(tmp_path: Path) -> None:
    report = _rendered(open_recording(_variable(tmp_path)), tmp_path / "film.mp4", 0, 1)
    assert open_recording(tmp_path / "film.mp4").audio is None
    assert any("no sound" in note for note in report.notes)


def test_late_sound_stays_late(tmp_path: Path) -> None:
    path = make_clip(
        tmp_path / "late.mkv", sound=SoundTrack(beeps_s=(1.2,), start_s=0.8, codec="flac", channels=1)
    )  # fmt: skip
    _rendered(open_recording(path), tmp_path / "film.mp4", 0.5, 2)
    film = open_recording(tmp_path / "film.mp4")
    samples, first_s = read_mono(film, rate_hz=48000)
    assert first_s + np.flatnonzero(np.abs(samples) > 0.1)[0] / 48000 == pytest.approx(0.7, abs=5e-3)


def test_surround_sound_is_mixed_and_said_so(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "six.mkv", frame_count=20, sound=SoundTrack(beeps_s=(0.2,), codec="flac", channels=6))
    report = _rendered(open_recording(path), tmp_path / "film.mp4", 0, 0.5)
    audio = open_recording(tmp_path / "film.mp4").audio
    assert audio is not None
    assert audio.channels == 1
    assert any("6 channels" in note for note in report.notes)


@pytest.mark.parametrize("ccw_deg", [90, -90, 180])
def test_turned_recordings_become_upright_films(tmp_path: Path, ccw_deg: int) -> None:
    path = make_clip(tmp_path / "turned.mp4", frame_count=12, rotation_ccw_deg=ccw_deg)
    recording = open_recording(path)
    report = _rendered(recording, tmp_path / "film.mp4", 0, 1)
    film = open_recording(tmp_path / "film.mp4")
    assert film.turn.is_none
    assert (report.width, report.height) == (recording.display_width, recording.display_height)
    turned = np.rot90(np.asarray(read_frame_at(film, 0).to_ndarray(format="gray")), k=-ccw_deg // 90)
    source = np.asarray(read_frame_at(recording, 0).to_ndarray(format="gray"))
    middle = (slice(60, 120), slice(120, 200))
    assert np.abs(turned[middle].astype(int) - source[middle]).mean() < 4


def test_deep_colour_stays_deep_and_tagged(tmp_path: Path) -> None:
    path = make_clip(
        tmp_path / "deep.mp4", frame_count=10, pixel_format="yuv420p10le", colour=(9, 1, 9, 14), b_frames=0
    )  # fmt: skip
    recording = open_recording(path)
    report = _rendered(recording, tmp_path / "film.mp4", 0, 1)
    film = open_recording(tmp_path / "film.mp4")
    assert film.pixel_format == "yuv420p10le"
    assert film.colour == recording.colour
    assert report.notes == ("The recording has no sound, so the film has none.",)


@pytest.mark.parametrize(
    ("pixel_format", "codec", "note"),
    [("bgr0", "ffv1", "from bgr0 to yuv420p"), ("yuv444p12le", "ffv1", "to yuv420p10le"), ("gray", "ffv1", "gray")],
)
def test_other_pixel_formats_are_converted_and_said_so(
    tmp_path: Path, pixel_format: str, codec: str, note: str
) -> None:
    path = make_clip(tmp_path / "odd.mkv", frame_count=6, pixel_format=pixel_format, codec=codec, b_frames=0)
    recording = open_recording(path)
    report = _rendered(recording, tmp_path / "film.mp4", 0, 1)
    assert any(note in text for text in report.notes), report.notes
    film = open_recording(tmp_path / "film.mp4")
    assert _codes_and_times(tmp_path / "film.mp4")[0] == list(range(6))
    source, made = (
        np.asarray(read_frame_at(which, 0).to_ndarray(format="gray")).astype(int) for which in (recording, film)
    )
    assert np.abs(made[100:150, 100:200] - source[100:150, 100:200]).mean() < 5


def test_full_range_is_kept(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "full.mp4", frame_count=6, pixel_format="yuvj420p", colour=(1, 2, 1, 1))
    recording = open_recording(path)
    _rendered(recording, tmp_path / "film.mp4", 0, 1)
    film = open_recording(tmp_path / "film.mp4")
    assert film.colour.range == "full"
    source, made = (np.asarray(read_frame_at(which, 0).to_ndarray()).astype(int) for which in (recording, film))
    assert np.abs(source[100:150, 50:200] - made[100:150, 50:200]).mean() < 4


def test_stretched_pixels_become_square_for_the_gauges(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "wide.mp4", frame_count=6, sample_aspect=Fraction(4, 3))
    recording = open_recording(path)
    report = _rendered(recording, tmp_path / "film.mp4", 0, 1)
    assert (report.width, report.height) == (426, 180)
    assert open_recording(tmp_path / "film.mp4").sample_aspect == 1
    assert any("square pixels" in note for note in report.notes)
    render_film(recording, begin_s=0, end_s=1, values_at=None, output=tmp_path / "plain.mp4", settings=DRAFT)
    assert open_recording(tmp_path / "plain.mp4").sample_aspect == Fraction(4, 3)


def test_odd_sides_lose_one_row(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "odd.mkv", frame_count=6, size=(321, 181), pixel_format="yuv444p", b_frames=0)
    report = _rendered(open_recording(path), tmp_path / "film.mp4", 0, 1)
    assert (report.width, report.height) == (320, 180)
    assert any("even sides" in note for note in report.notes)


def test_chapters_and_title(tmp_path: Path) -> None:
    chapters = [Chapter(0, 400, "Out lap"), Chapter(400, 1000, "Lap 1 – “Kübel”")]
    render_film(
        open_recording(_steady(tmp_path)), begin_s=0, end_s=1, values_at=None, output=tmp_path / "film.mp4",
        settings=DRAFT, chapters=chapters, title="Lesson",
    )  # fmt: skip
    command = ["ffprobe", "-v", "error", "-show_chapters", "-of", "json", str(tmp_path / "film.mp4")]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["chapters"]
    assert [(c["start"], c["end"], c["tags"]["title"]) for c in told] == [
        (0, 400, "Out lap"),
        (400, 1000, "Lap 1 – “Kübel”"),
    ]


def test_cancelling_leaves_nothing(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    before = sorted(tmp_path.iterdir())

    def stop(share: float, _what: str) -> None:
        if share > 0.5:
            raise Cancelled

    with pytest.raises(Cancelled):
        render_film(
            recording, begin_s=0, end_s=2, values_at=_values, output=tmp_path / "film.mp4", progress=stop
        )  # fmt: skip
    assert sorted(tmp_path.iterdir()) == before


def test_fault_in_the_values_leaves_nothing(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    before = sorted(tmp_path.iterdir())

    def broken(_media_s: Fraction) -> GaugeValues:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        render_film(recording, begin_s=0, end_s=2, values_at=broken, output=tmp_path / "film.mp4")
    assert sorted(tmp_path.iterdir()) == before


def test_existing_films_and_the_recording_are_safe(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    (tmp_path / "film.mp4").write_bytes(b"dear")
    with pytest.raises(OutputError, match="exists already"):
        _rendered(recording, tmp_path / "film.mp4", 0, 1)
    before = recording.path.read_bytes()
    with pytest.raises(OutputError, match="own source"):
        render_film(
            recording, begin_s=0, end_s=1, values_at=None, output=recording.path, overwrite=True
        )  # fmt: skip
    assert recording.path.read_bytes() == before
    assert (tmp_path / "film.mp4").read_bytes() == b"dear"


def test_span_without_frames_is_an_error(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    for begin_s, end_s in ((3.5, 4.0), (1.0, 1.0), (2.0, 1.0), (0.01, 0.02)):
        with pytest.raises(MediaError, match="no frame lies between"):
            _rendered(recording, tmp_path / "film.mp4", begin_s, end_s)


def test_damaged_frames_are_told_in_the_report(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "whole.mov", frame_count=12, codec="mjpeg", pixel_format="yuvj420p", b_frames=0)
    with av.open(str(path)) as container:
        packets = [(packet.pos, packet.size) for packet in container.demux(video=0) if packet.size]
    data = bytearray(path.read_bytes())
    position, size = packets[5]
    assert position is not None
    data[position : position + size] = bytes(size)
    (tmp_path / "damaged.mov").write_bytes(data)
    report = _rendered(open_recording(tmp_path / "damaged.mov"), tmp_path / "film.mp4", 0, 1)
    assert report.frames == 11
    assert any("One damaged frame is missing" in note and "0.167 s" in note for note in report.notes)
    codes, times = _codes_and_times(tmp_path / "film.mp4")
    assert codes == [0, 1, 2, 3, 4, 6, 7, 8, 9, 10, 11]
    assert times[5] == Fraction(6, 30)


def test_panel_options_reach_the_gauges(tmp_path: Path) -> None:
    recording = open_recording(_steady(tmp_path))
    pictures = []
    for name, options in {"a": PanelOptions(), "b": PanelOptions(units="imperial", steering_lock_rad=2.0)}.items():
        output = tmp_path / f"{name}.mp4"
        render_film(recording, begin_s=0, end_s=0.2, values_at=_values, output=output, panel=options, settings=DRAFT)
        pictures.append(np.asarray(read_frame_at(open_recording(output), 0).to_ndarray(format="gray")).astype(int))
    assert np.abs(pictures[0] - pictures[1])[120:, 220:].max() > 60
