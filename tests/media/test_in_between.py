"""Moved pictures against the same scene drawn at the moment: the truth is the painter's, not the program's."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.media.blend_pictures import blended
from syncview.media.in_between import PictureMover
from syncview.media.pair_motion import PairMotion, cell_px, small_luma
from syncview.media.pair_pictures import PairPictures
from syncview.media.planes import LAYOUTS, plane_rows, plane_views
from syncview.media.reading import FrameReader
from syncview.media.recording import open_recording
from syncview.media.slow_pictures import Moment, PictureCounts, retimed
from tests.media_samples import make_clip

SIZE = (256, 144)
Scene = NDArray[np.float32]


def _cloudy(seed: int, side: int) -> NDArray[np.float32]:
    """A texture of blobs of several sizes, 0 to 1, shape (side, side)."""
    draw = np.random.default_rng(seed)
    texture = np.zeros((side, side), dtype=np.float32)
    for spread_px in (2, 5, 12):
        texture += spread_px * cv2.GaussianBlur(draw.normal(0, 1, texture.shape).astype(np.float32), (0, 0), spread_px)
    return np.asarray((texture - texture.min()) / (texture.max() - texture.min()), dtype=np.float32)


TEXTURES = [_cloudy(seed, 1024) for seed in (1, 2, 3)]


def _frame(offset: tuple[float, float], pixel_format: str = "yuv420p", size: tuple[int, int] = SIZE) -> av.VideoFrame:
    """The textures seen `offset` pixels further right and down; each plane samples them at its own spacing."""
    frame = av.VideoFrame(*size, pixel_format)
    layout = LAYOUTS[pixel_format]
    planes = plane_views(frame)
    components = [planes[0], *([planes[1][..., 0], planes[1][..., 1]] if layout.interleaved else planes[1:])]
    scale = 2.0 ** (layout.bits - 8)
    for number, (plane, texture) in enumerate(zip(components, TEXTURES, strict=True)):
        steps = (1 << layout.chroma_shift_x, 1 << layout.chroma_shift_y) if number else (1, 1)
        rows, columns = plane.shape
        # The middle of a chroma sample lies in the middle of the luma samples that it covers.
        x = (np.arange(columns) + 0.5) * steps[0] - 0.5 + 100 + offset[0]
        y = (np.arange(rows) + 0.5) * steps[1] - 0.5 + 100 + offset[1]
        places = [axis.astype(np.float32) for axis in np.meshgrid(x, y)]
        plane[...] = np.rint(scale * (30 + 190 * cv2.remap(texture, places[0], places[1], cv2.INTER_CUBIC)))
    return frame


def _between(earlier: av.VideoFrame, later: av.VideoFrame, weight: float) -> av.VideoFrame:
    made = PairPictures().moved(earlier, later, weight)
    assert made is not None
    return made


def _error(made: av.VideoFrame, truth: av.VideoFrame, margin_px: int = 0) -> float:
    """Root mean square of the differences, in eight-bit levels, over all planes."""
    scale = 2.0 ** (LAYOUTS[made.format.name].bits - 8)
    errors = []
    for a, b in zip(plane_views(made), plane_views(truth), strict=True):
        inner = (slice(margin_px, a.shape[0] - margin_px), slice(margin_px, a.shape[1] - margin_px))
        errors.append(np.square((a[inner].astype(float) - b[inner]) / scale).mean())
    return float(np.sqrt(np.mean(errors)))


@pytest.mark.parametrize("pixel_format", sorted(LAYOUTS))
def test_a_shift_is_followed_in_every_plane(pixel_format: str) -> None:
    """The scene drawn at the moment itself: within two levels, where a dissolve is off by many."""
    shift = (9.0, -5.0)
    earlier, later = _frame((0, 0), pixel_format), _frame(shift, pixel_format)
    for weight in (0.25, 0.5, 0.8):
        truth = _frame((shift[0] * weight, shift[1] * weight), pixel_format)
        made = _between(earlier, later, weight)
        assert made.format.name == pixel_format
        assert _error(made, truth, margin_px=8) < 2.0
        assert _error(blended(earlier, later, weight), truth, margin_px=8) > 6.0


@pytest.mark.parametrize("size", [(256, 144), (257, 145), (144, 256), (322, 182), (700, 392)])
def test_any_size_is_followed_up_to_its_edges(size: tuple[int, int]) -> None:
    """What comes in or leaves at an edge is shown by one frame only."""
    earlier, later, truth = (_frame((x, x / 2), size=size) for x in (0.0, 8.0, 4.0))
    made = _between(earlier, later, 0.5)
    assert _error(made, truth) < 3.0
    ours, true = (plane_rows(frame)[0].astype(float) for frame in (made, truth))
    left_top = np.sqrt(np.square(ours - true)[:, :3].mean()), np.sqrt(np.square(ours - true)[:3].mean())
    right_bottom = np.sqrt(np.square(ours - true)[:, -3:].mean()), np.sqrt(np.square(ours - true)[-3:].mean())
    assert max(left_top) < 2.0
    assert max(right_bottom) < 3.5  # where the last cells reach out of the picture, they are a guess


@settings(deadline=None, max_examples=20)
@given(x=st.floats(-14, 14), y=st.floats(-14, 14), weight=st.floats(0.05, 0.95), turn_deg=st.floats(-3, 3))
def test_movement_is_found_at_any_moment(x: float, y: float, weight: float, turn_deg: float) -> None:
    """Shift and turn of a texture against the displacement that follows from them."""
    middle = np.array([256.0, 256.0])

    def seen(part: float) -> NDArray[np.uint8]:
        matrix = cv2.getRotationMatrix2D((128, 72), turn_deg * part, 1.0)
        matrix[:, 2] = matrix[:, 2] + np.array([x, y]) * part
        inverse = np.asarray(cv2.invertAffineTransform(matrix), dtype=np.float64)
        inverse[:, 2] = inverse[:, 2] + middle - (128, 72)
        how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        picture = cv2.warpAffine(TEXTURES[0], inverse, SIZE, flags=how, borderMode=cv2.BORDER_REFLECT)
        return np.clip(np.rint(30 + 190 * picture), 0, 255).astype(np.uint8)

    pictures = [small_luma(seen(part), 8) for part in (0.0, 1.0)]
    motion = PairMotion(pictures[0], pictures[1])
    assert not motion.is_cut
    field = motion.at(weight)
    cell = cell_px(*SIZE)
    radians = np.deg2rad(turn_deg)
    rows, columns = field.trust.shape
    across, down = np.meshgrid((np.arange(columns) + 0.5) * cell - 128.5, (np.arange(rows) + 0.5) * cell - 72.5)
    # To first order in the turn; positive turns are anticlockwise on a picture whose rows go down.
    true = np.dstack([x + radians * (down - y * weight), y - radians * (across - x * weight)]) / cell
    inner = (slice(12, -12), slice(12, -12))
    assert np.median(np.abs(field.displacement - true)[inner]) * cell < 0.5
    assert np.median(field.trust[inner]) == 1.0


def test_a_still_picture_stays_as_it_is() -> None:
    for pixel_format in ("yuv420p", "nv12", "yuv422p10le"):
        frame = _frame((0, 0), pixel_format)
        made = _between(frame, _frame((0, 0), pixel_format), 0.5)
        assert all(np.array_equal(a, b) for a, b in zip(plane_rows(made), plane_rows(frame), strict=True))


def _with_square(offset: float, square_at: float) -> av.VideoFrame:
    """A bright square with an outline, before a texture that moves the other way."""
    frame = _frame((offset, 0))
    luma = plane_rows(frame)[0]
    left = round(square_at)
    luma[40:100, left : left + 60] = 16
    luma[44:96, left + 4 : left + 56] = 235
    return frame


def test_what_a_thing_uncovers_is_not_smeared() -> None:
    """A square passes before the scene by 16 px: beside it, the ground is the one frame's that shows it."""
    earlier, later, truth = (_with_square(-6 * part, 80 + 16 * part) for part in (0.0, 1.0, 0.5))
    made = _between(earlier, later, 0.5)
    dissolved = blended(earlier, later, 0.5)
    bands = [plane_rows(frame)[0][36:104, 60:180].astype(float) for frame in (made, dissolved, truth)]
    ours, theirs = (np.sqrt(np.square(band - bands[2]).mean()) for band in bands[:2])
    assert ours < theirs / 3


def test_what_one_frame_hides_is_taken_from_the_other() -> None:
    """The square goes from columns 80-140 to 100-160: at half way 80-90 are just uncovered, 150-160 not yet covered."""
    frames = [_with_square(-6 * part, 80 + 20 * part) for part in (0.0, 1.0)]
    motion = PairMotion(*(small_luma(plane_rows(frame)[0], 8) for frame in frames))
    cell = cell_px(*SIZE)
    later_share = motion.at(0.5).later_share
    beside = later_share[50 // cell : 90 // cell]
    assert beside[:, 80 // cell : 90 // cell].mean() > 0.7
    assert beside[:, 150 // cell : 160 // cell].mean() < 0.3
    assert later_share[: 30 // cell].mean() == pytest.approx(0.5, abs=0.02)


def test_without_a_match_both_pictures_dissolve() -> None:
    """A patch whose two states have nothing in common, within a scene that moves."""
    frames = _frame((0, 0)), _frame((6, 0))
    draw = np.random.default_rng(8)
    for frame, level in zip(frames, (40, 215), strict=True):
        patch = plane_rows(frame)[0][50:110, 100:180]
        patch[...] = np.clip(level + draw.normal(0, 12, patch.shape), 0, 255)
    made = plane_rows(_between(*frames, 0.5))[0][70:90, 125:155].astype(float)
    expected = plane_rows(blended(*frames, 0.5))[0][70:90, 125:155]
    assert np.abs(made - expected).max() <= 1


def test_general_brightness_is_no_contradiction() -> None:
    """Exposure that follows a bridge's shadow: 12 % brighter, and still moved, not dissolved."""
    earlier, later, truth = (_frame((offset, 0)) for offset in (0.0, 10.0, 5.0))
    for frame, gain in ((later, 1.12), (truth, 1.06)):
        luma = plane_rows(frame)[0]
        luma[...] = np.clip(luma * gain, 0, 255)
    made = _between(earlier, later, 0.5)
    assert _error(made, truth, margin_px=10) < 3.0


def _textured(number: int, _time_s: Fraction, *, step_px: float = 4.0, cut_at: int = 10**6) -> NDArray[np.uint8]:
    texture = TEXTURES[1 if number >= cut_at else 0]
    begin = 20 + round(step_px * number)
    grey = (30 + 190 * texture[60 : 60 + 180, begin : begin + 320]).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def _clip(path: Path, painter: Callable[[int, Fraction], NDArray[np.uint8]], **options: Any) -> Path:
    return make_clip(path, painter=painter, quality="3", **options)


def _lumas(path: Path, moments: list[Moment], counts: PictureCounts) -> list[NDArray[np.float64]]:
    with FrameReader(open_recording(path)) as reader:
        return [plane_rows(frame)[0].astype(float) for frame in retimed(reader, moments, counts=counts)]


def test_time_weighs_at_variable_rate(tmp_path: Path) -> None:
    """Frame steps of 1 : 2; the scene moves by 4 px a frame, so a moment's place follows from the frames' own times."""
    pts = list(itertools.accumulate([0, *([512, 1024] * 6)]))
    path = _clip(tmp_path / "clip.mp4", _textured, pts=pts)
    index = open_recording(path).frames
    counts = PictureCounts()
    wanted = [(number, part) for number in (4, 5, 6) for part in (Fraction(1, 4), Fraction(1, 2), Fraction(3, 4))]
    moments = [
        Moment(index.media_s(number) + part * (index.media_s(number + 1) - index.media_s(number)), "flow")
        for number, part in wanted
    ]
    for made, (number, part) in zip(_lumas(path, moments, counts), wanted, strict=True):
        whole, rest = divmod(float(4 * (number + part)), 1)
        assert rest == 0
        grey = 30 + 190 * TEXTURES[0][60:240, 20 + int(whole) : 340 + int(whole)]
        truth = 16 + grey * 219 / 255  # limited range
        assert np.sqrt(np.square(made - truth)[10:-10, 10:-10].mean()) < 2.5
    assert (counts.flowed, counts.blended, counts.across_cuts) == (9, 0, 0)


def test_a_cut_is_not_crossed(tmp_path: Path) -> None:
    path = _clip(tmp_path / "cut.mp4", lambda number, time_s: _textured(number, time_s, cut_at=5), frame_count=10)
    counts = PictureCounts()
    own = _lumas(path, [Moment(Fraction(k, 30)) for k in range(10)], PictureCounts())
    between = [Moment(Fraction(16 + k, 120), "flow") for k in range(5)]
    made = _lumas(path, between, counts)
    assert [min(range(10), key=lambda k: np.abs(own[k] - picture).mean()) for picture in made] == [4, 4, 4, 5, 5]
    assert (counts.recorded, counts.across_cuts) == (2, 3)
    assert "3 pictures" in counts.notes()[0]


def test_cuts_of_a_film_are_found(real_clips: Path) -> None:
    """By eye the scene changes after the pictures 75 and 136, counted from 0; between 76 and 108 cars rush past."""
    found, motion, last = [], None, None
    with av.open(str(real_clips / "bikes.mp4")) as container:
        for number, frame in enumerate(container.decode(video=0)):
            if number > 137:
                break
            small = small_luma(plane_rows(frame)[0], 8)
            if last is not None and (72 < number < 86 or 96 < number < 106 or number > 134):
                motion = PairMotion(last, small, previous=motion)
                if motion.is_cut:
                    found.append(number - 1)
            last = small
    assert found == [75, 136]


def test_interlaced_pictures_are_dissolved_and_said(tmp_path: Path) -> None:
    path = tmp_path / "interlaced.mp4"
    make_interlaced(path)
    counts = PictureCounts()
    made = _lumas(path, [Moment(Fraction(k, 100), "flow") for k in range(1, 9)], counts)
    assert len(made) == 8
    assert counts.flowed == 0
    assert counts.blended > 0
    assert any("interlaced" in note for note in counts.notes())


def make_interlaced(path: Path) -> None:
    """Twelve frames flagged as interlaced."""
    source = _clip(path.with_name("progressive.mp4"), _textured, frame_count=12, rate=Fraction(25))
    from tests.media.ffmpeg_tools import ffmpeg

    ffmpeg("-i", source, "-vf", "setfield=tff", "-flags", "+ilme+ildct", "-c:v", "libx264", path)


def test_pictures_too_small_for_a_search_are_dissolved(tmp_path: Path) -> None:
    path = make_clip(
        tmp_path / "small.mp4",
        size=(64, 24),
        frame_count=4,
        painter=lambda number, _time_s: np.full((24, 64, 3), 40 * number, dtype=np.uint8),
    )
    counts = PictureCounts()
    _lumas(path, [Moment(Fraction(1, 60), "flow")], counts)
    assert (counts.blended, counts.flowed) == (1, 0)


def test_the_movement_of_a_pair_is_searched_once(monkeypatch: pytest.MonkeyPatch) -> None:
    searched = []
    plain = PairMotion.__init__

    def counting(self: PairMotion, *pictures: Any, **options: Any) -> None:
        searched.append(options["previous"] is not None)
        plain(self, *pictures, **options)

    monkeypatch.setattr(PairMotion, "__init__", counting)
    frames = [_frame((4.0 * number, 0)) for number in range(4)]
    pairs = PairPictures()
    for before, after in itertools.pairwise(frames):
        for weight in (0.2, 0.5, 0.5, 0.9):
            pairs.moved(before, after, weight)
    assert searched == [False, True, True]
    pairs.moved(frames[0], frames[2], 0.5)
    assert searched[-1] is False


def test_a_mover_serves_pictures_of_changing_size() -> None:
    mover = PictureMover()
    for size in ((256, 144), (200, 144), (256, 144)):
        earlier, later, truth = (_frame((offset, 0), size=size) for offset in (0.0, 6.0, 3.0))
        motion = PairMotion(*(small_luma(plane_rows(frame)[0], 8) for frame in (earlier, later)))
        made = mover.between(earlier, later, weight=0.5, field=motion.at(0.5))
        assert _error(made, truth, margin_px=8) < 2.0
