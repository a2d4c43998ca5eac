"""Pictures for any moments, against the recording's own frames as decoded in a row and against plain arithmetic."""

from __future__ import annotations

import gc
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.errors import MediaError
from syncview.media.in_between import PictureMover
from syncview.media.planes import plane_rows
from syncview.media.reading import FrameReader, read_frames
from syncview.media.recording import Recording, open_recording
from syncview.media.slow_pictures import Method, Moment, PictureCounts, retimed
from tests.media_samples import make_clip, read_bar_code

METHODS: tuple[Method, ...] = ("repeat", "blend", "flow")
FORMATS = ("yuv420p", "yuv422p", "yuv444p", "yuvj420p", "yuv420p10le", "yuv422p10le", "yuv444p10le")


def _samples(frame: av.VideoFrame) -> list[NDArray[Any]]:
    return [plane.copy() for plane in plane_rows(frame)]


def _same(a: list[NDArray[Any]], b: list[NDArray[Any]]) -> bool:
    return all(np.array_equal(one, other) for one, other in zip(a, b, strict=True))


def _all(recording: Recording) -> list[list[NDArray[Any]]]:
    return [_samples(frame) for _time, frame in read_frames(recording, 0, recording.frames.end_s)]


def _made(recording: Recording, moments: Iterable[Moment]) -> list[list[NDArray[Any]]]:
    """Samples of each picture; every picture is painted over as soon as its samples are taken."""
    taken = []
    with FrameReader(recording) as reader:
        for frame in retimed(reader, moments):
            taken.append(_samples(frame))
            for plane in plane_rows(frame):
                plane[...] = 77
    return taken


def _codes(recording: Recording, moments: Iterable[Moment]) -> list[int]:
    with FrameReader(recording) as reader:
        return [read_bar_code(frame) for frame in retimed(reader, moments)]


@pytest.fixture(scope="module")
def steady_recording(steady: Path) -> Recording:
    return open_recording(steady)


@pytest.fixture(scope="module")
def variable_recording(variable: Path) -> Recording:
    return open_recording(variable)


CONTAINERS = ("steady", "cut_by_edit_list", "transport_stream", "late_matroska")


@pytest.mark.parametrize(
    ("name", "method"), [*((name, "repeat") for name in CONTAINERS), *(("variable", method) for method in METHODS)]
)
def test_at_full_speed_every_frame_is_the_recordings_own(
    name: str, method: Method, request: pytest.FixtureRequest
) -> None:
    recording = open_recording(request.getfixturevalue(name))
    index = recording.frames
    made = _made(recording, (Moment(index.media_s(number), method) for number in range(len(index))))
    assert all(_same(a, b) for a, b in zip(made, _all(recording), strict=True))


def test_painting_damages_neither_neighbours_nor_the_decoder(steady_recording: Recording) -> None:
    index = steady_recording.frames
    expected = _all(steady_recording)
    moments = [Moment(Fraction(quarter, 120)) for quarter in range(4 * len(index))]
    made = _made(steady_recording, moments)
    nearest = [min(range(len(index)), key=lambda k: (abs(index.media_s(k) - m.media_s), k)) for m in moments]
    assert all(_same(a, expected[k]) for a, k in zip(made, nearest, strict=True))


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(thousandths=st.lists(st.integers(0, 3000), min_size=1, max_size=25))
def test_repeat_gives_the_nearest_frame(variable_recording: Recording, thousandths: list[int]) -> None:
    """By trying all frames; the earlier one where two are as near."""
    index = variable_recording.frames
    times = [index.media_s(number) for number in range(len(index))]
    moments = [min(Fraction(number, 1000), index.end_s) for number in sorted(thousandths)]
    nearest = [min(range(len(times)), key=lambda k: (abs(times[k] - moment), k)) for moment in moments]
    assert _codes(variable_recording, [Moment(moment) for moment in moments]) == nearest


@given(thousandths=st.lists(st.integers(0, 2000), min_size=2, max_size=6))
@settings(deadline=None, max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_moments_out_of_order_are_refused(steady_recording: Recording, thousandths: list[int]) -> None:
    moments = [Moment(Fraction(number, 1000)) for number in thousandths]
    if thousandths == sorted(thousandths):
        assert len(_codes(steady_recording, moments)) == len(moments)
    else:
        with pytest.raises(ValueError, match="must ascend"):
            _codes(steady_recording, moments)


@pytest.mark.parametrize("media_s", [Fraction(-1, 1000), Fraction(2001, 1000)])
def test_moments_outside_are_refused(steady_recording: Recording, media_s: Fraction) -> None:
    with pytest.raises(ValueError, match="outside the recording"):
        _codes(steady_recording, [Moment(media_s)])


def test_ends_are_the_first_and_the_last_frame(steady_recording: Recording) -> None:
    end_s = steady_recording.frames.end_s
    for method in METHODS:
        assert _codes(steady_recording, [Moment(Fraction(0), method), Moment(end_s, method)]) == [0, 59]
    assert list(_codes(steady_recording, [])) == []


@pytest.mark.parametrize("pixel_format", FORMATS)
def test_blend_weighs_by_time(pixel_format: str, tmp_path: Path) -> None:
    """Against the weighted mean of the neighbours' samples, with frame steps of 1 : 3."""
    pts = [0, 512, 2048, 2560, 4096]
    path = make_clip(tmp_path / "clip.mp4", pts=pts, size=(96, 64), pixel_format=pixel_format)
    recording = open_recording(path)
    assert recording.pixel_format == pixel_format
    index, frames = recording.frames, _all(recording)
    middle = index.media_s(1) + (index.media_s(2) - index.media_s(1)) * Fraction(3, 10)
    assert index.media_s(2) - index.media_s(1) > 2 * (index.media_s(1) - index.media_s(0))
    [made] = _made(recording, [Moment(middle, "blend")])
    for plane, a, b in zip(made, frames[1], frames[2], strict=True):
        assert plane.dtype == a.dtype
        assert np.abs(plane - (0.7 * a + 0.3 * b)).max() <= 0.5 + 1e-3  # rounded to whole samples


def test_near_a_frame_is_that_frame(steady_recording: Recording) -> None:
    frames = _all(steady_recording)
    step = Fraction(1, 30)
    moments = [Moment(step * (3 + part), "blend") for part in (Fraction(1, 40), Fraction(1, 20), Fraction(39, 40))]
    made = _made(steady_recording, moments)
    assert _same(made[0], frames[3])
    assert not _same(made[1], frames[3])
    assert _same(made[2], frames[4])


def test_a_hold_is_one_picture_in_buffers_of_its_own(
    steady_recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    worked = []
    plain = PictureMover.between

    def counting(self: PictureMover, *frames: av.VideoFrame, **options: Any) -> av.VideoFrame:
        worked.append(options["weight"])
        return plain(self, *frames, **options)

    monkeypatch.setattr(PictureMover, "between", counting)
    for method in METHODS:
        moment = Moment(Fraction(21, 400), method)
        made = _made(steady_recording, [moment] * 4 + [Moment(Fraction(22, 400), method)])
        assert all(_same(made[0], again) for again in made[1:4])
        assert not _same(made[0], made[4]) or method == "repeat"
    assert len(worked) == 2  # once for the hold, once for what follows
    counts = PictureCounts()
    with FrameReader(steady_recording) as reader:
        assert len(list(retimed(reader, [moment] * 5, counts=counts))) == 5
    assert counts.flowed == 5


def test_a_pause_is_not_mixed_across(variable_recording: Recording) -> None:
    """Half a second without a frame, at 40: its two ends show different scenes."""
    index = variable_recording.frames
    begin_s, end_s = index.media_s(40), index.media_s(41)
    counts = PictureCounts()
    with FrameReader(variable_recording) as reader:
        moments = [Moment(begin_s + (end_s - begin_s) * Fraction(part, 8), "blend") for part in range(9)]
        codes = [read_bar_code(frame) for frame in retimed(reader, moments, counts=counts)]
    assert codes == [40] * 5 + [41] * 4
    assert (counts.recorded, counts.across_cuts, counts.blended) == (2, 7, 0)
    assert "7 pictures" in counts.notes()[0]


def test_tags_and_stamps_stay(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "clip.mp4", pixel_format="yuv420p10le", colour=(9, 2, 9, 16), frame_count=4)
    recording = open_recording(path)
    with FrameReader(recording) as reader:
        moments = [Moment(Fraction(k, 60), method) for k, method in enumerate((*METHODS, "flow"))]
        for frame in retimed(reader, moments):
            assert frame.format.name == "yuv420p10le"
            assert (frame.colorspace, frame.color_range, frame.color_primaries, frame.color_trc) == (9, 2, 9, 16)
            assert frame.time_base == recording.frames.time_base


@pytest.mark.parametrize(
    ("pixel_format", "codec", "usable"),
    [("rgb24", "png", "yuv420p"), ("yuv420p12le", "ffv1", "yuv420p10le"), ("yuv410p", "ffv1", "yuv420p")],
)
def test_other_formats_are_converted(pixel_format: str, codec: str, usable: str, tmp_path: Path) -> None:
    path = make_clip(
        tmp_path / ("clip.mov" if codec == "png" else "clip.mkv"),
        pixel_format=pixel_format,
        codec=codec,
        frame_count=4,
        colour=(1, 1, 1, 1),
        b_frames=0,
    )
    recording = open_recording(path)
    assert recording.pixel_format == pixel_format
    with FrameReader(recording) as reader:
        frames = list(retimed(reader, [Moment(Fraction(0)), Moment(Fraction(1, 60), "blend"), Moment(Fraction(1, 30))]))
    assert {frame.format.name for frame in frames} == {usable}
    if usable == "yuv420p":
        assert read_bar_code(frames[0]) == 0
        assert read_bar_code(frames[2]) == 1
    # The bars are RGB 235 and 16; BT.709 limited luma is 16 + 219 * value / 255.
    luma = plane_rows(frames[0])[0]
    assert luma[10, 5] / (4 if "10" in usable else 1) == pytest.approx(16 + 219 * 16 / 255, abs=1.5)


def test_odd_sides(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "odd.mkv", size=(97, 63), codec="ffv1", frame_count=3)
    recording = open_recording(path)
    frames = _all(recording)
    [made] = _made(recording, [Moment(recording.frames.media_s(1) / 2, "blend")])
    assert [plane.shape for plane in made] == [(63, 97), (32, 49), (32, 49)]
    assert all(np.abs(m - (a / 2 + b / 2)).max() <= 0.5 for m, a, b in zip(made, *frames[:2], strict=True))


def _damaged(path: Path, lost: range, *, frame_count: int) -> Recording:
    """An all-intra clip with the data of the frames `lost` overwritten."""
    make_clip(path, frame_count=frame_count, codec="mjpeg", pixel_format="yuvj420p", b_frames=0)
    with av.open(str(path)) as container:
        packets = [(packet.pos, packet.size) for packet in container.demux(video=0) if packet.size]
    data = bytearray(path.read_bytes())
    for position, size in packets[lost.start : lost.stop]:
        assert position is not None
        data[position : position + size] = bytes(size)
    path.write_bytes(data)
    return open_recording(path)


def test_damaged_frames_are_stood_in_for(tmp_path: Path) -> None:
    recording = _damaged(tmp_path / "damaged.mov", range(12, 15), frame_count=18)
    with FrameReader(recording) as reader:
        moments = [Moment(Fraction(k, 30)) for k in range(18)]
        codes = [read_bar_code(frame) for frame in retimed(reader, moments)]
        assert codes == [*range(12), 11, 11, 15, 15, 16, 17]
        assert reader.missing == [12, 13, 14]
        # Four steps between the neighbours are too many to mix.
        between = [Moment(Fraction(k, 30), "flow") for k in range(11, 15)]
        assert [read_bar_code(frame) for frame in retimed(reader, between)] == [11, 11, 11, 15]


def test_a_beginning_in_a_damaged_stretch_is_stood_in_for(tmp_path: Path) -> None:
    recording = _damaged(tmp_path / "damaged.mov", range(12, 15), frame_count=18)
    assert _codes(recording, [Moment(Fraction(13, 30)), Moment(Fraction(14, 30), "blend")]) == [15, 15]


def test_nothing_left_to_show_is_an_error(tmp_path: Path) -> None:
    recording = _damaged(tmp_path / "damaged.mov", range(12, 18), frame_count=18)
    with pytest.raises(MediaError, match=r"from 0\.433 s on"):
        _codes(recording, [Moment(Fraction(13, 30))])


def _live_frames() -> int:
    gc.collect()
    return sum(isinstance(item, av.VideoFrame) for item in gc.get_objects())


@pytest.mark.parametrize("method", METHODS)
def test_memory_holds_a_few_pictures(steady_recording: Recording, method: Method) -> None:
    """Slow motion: at most the neighbours and what is being made, and nothing is left behind."""
    before = _live_frames()
    with FrameReader(steady_recording) as reader:
        frames = retimed(reader, (Moment(Fraction(k, 240), method) for k in range(120)))
        live = [_live_frames() for number, _frame in enumerate(frames) if number % 40 == 0]
        del frames
    assert before < max(live) <= before + 6
    assert _live_frames() <= before + 1  # the loop's last one
