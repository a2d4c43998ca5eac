"""Colours, turns and shapes, against ffmpeg's own conversion of the same file and against known colours."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.media.reading import FrameReader
from syncview.media.recording import Recording, open_recording
from syncview.media.scrub.pictures import SMALL_PIXELS, PictureMaker, small_size
from tests.media.ffmpeg_tools import ffmpeg
from tests.media.scrub.shown import shown
from tests.media_samples import make_clip

CORNERS = ((200, 40, 40), (40, 180, 40), (40, 60, 200), (210, 200, 60))
"""RGB at the upper left, upper right, lower left and lower right."""


def corners(size: tuple[int, int]) -> NDArray[np.uint8]:
    width, height = size
    picture = np.zeros((height, width, 3), dtype=np.uint8)
    for place, colour in enumerate(CORNERS):
        rows = slice(height // 2, None) if place >= 2 else slice(height // 2)
        columns = slice(width // 2, None) if place % 2 else slice(width // 2)
        picture[rows, columns] = colour
    return picture


def seen(rgb: NDArray[np.uint8]) -> list[tuple[int, ...]]:
    """Colours in the middle of the four quarters."""
    rows, columns, _ = rgb.shape
    middles = [(rows // 4, columns // 4), (rows // 4, columns * 3 // 4)]
    middles += [(rows * 3 // 4, columns // 4), (rows * 3 // 4, columns * 3 // 4)]
    return [
        tuple(rgb[r - 2 : r + 3, c - 2 : c + 3].reshape(-1, 3).mean(axis=0).round().astype(int)) for r, c in middles
    ]


def both(recording: Recording) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The small picture and the full one of the first frame."""
    maker = PictureMaker(recording)
    with FrameReader(recording) as reader:
        frame = reader.frame(0)
        return maker.small_rgb(maker.small(frame)), maker.full_rgb(frame)


@pytest.mark.parametrize(
    ("size", "pixel_format", "colour"),
    [
        ((1280, 720), "yuv420p", (1, 1, 1, 1)),
        ((1280, 720), "yuv420p", (2, 0, 2, 2)),  # untagged: BT.709 at this size for viewers, not what was written
        ((640, 360), "yuv420p", (5, 1, 5, 6)),
        ((640, 360), "yuv420p", (2, 0, 2, 2)),
        ((640, 360), "yuvj420p", (6, 2, 6, 6)),
        ((1280, 720), "yuv420p", (1, 2, 1, 1)),
        ((1280, 720), "yuv420p10le", (1, 1, 1, 1)),
        ((1280, 720), "yuv420p10le", (9, 1, 9, 14)),
        ((1280, 720), "yuv420p10le", (1, 2, 1, 1)),
        ((640, 360), "yuv444p", (1, 1, 1, 1)),
        ((640, 360), "yuv422p", (5, 1, 5, 6)),
        ((322, 182), "yuv420p", (1, 1, 1, 1)),
    ],
)
def test_colours_are_those_that_were_recorded(
    tmp_path: Path, size: tuple[int, int], pixel_format: str, colour: tuple[int, int, int, int]
) -> None:
    written = (1, 1, 1, 1) if colour[0] == 2 and size[1] >= 720 else colour
    clip = make_clip(
        tmp_path / "clip.mp4",
        frame_count=3,
        size=size,
        pixel_format=pixel_format,
        colour=written,
        painter=lambda _n, _t: corners(size),
    )
    if written != colour:
        plain = tmp_path / "untagged.mp4"
        tags = "h264_metadata=colour_primaries=2:transfer_characteristics=2:matrix_coefficients=2"
        ffmpeg("-i", clip, "-c", "copy", "-bsf:v", tags, "-movflags", "-write_colr", plain)
        clip = plain
    recording = open_recording(clip)
    assert recording.colour.matrix_code == colour[0]
    for rgb in both(recording):
        np.testing.assert_allclose(seen(rgb), CORNERS, atol=4)


@pytest.mark.parametrize("turn_ccw", [0, 90, 180, 270])
@pytest.mark.parametrize("aspect", [Fraction(1), Fraction(4, 3)])
def test_pictures_stand_upright_with_square_pixels(tmp_path: Path, turn_ccw: int, aspect: Fraction) -> None:
    """As ffmpeg turns it."""
    clip = make_clip(
        tmp_path / "clip.mp4",
        frame_count=3,
        size=(240, 180),
        colour=(5, 1, 5, 6),
        rotation_ccw_deg=turn_ccw,
        sample_aspect=aspect,
        painter=lambda _n, _t: corners((240, 180)),
    )
    recording = open_recording(clip)
    width, height = recording.display_width, recording.display_height
    wide = Fraction(240) * aspect
    expected = wide / 180 if turn_ccw % 180 == 0 else Fraction(180) / wide
    small, full = both(recording)
    assert full.shape == (height, width, 3)
    for rgb in (small, full):
        assert rgb.shape[1] / rgb.shape[0] == pytest.approx(float(expected), rel=0.02)
        assert rgb.flags.c_contiguous
    raw = ffmpeg(
        "-i", clip, "-frames:v", "1", "-vf", f"scale={width}:{height}", "-f", "rawvideo", "-pix_fmt", "rgb24", "-"
    )
    truth = np.frombuffer(raw, dtype=np.uint8).reshape(height, width, 3)
    np.testing.assert_allclose(seen(full), seen(truth), atol=4)
    np.testing.assert_allclose(seen(small), seen(truth), atol=4)


def test_detail_is_as_ffmpeg_shows_it(tmp_path: Path) -> None:
    draw = np.random.default_rng(1)
    coarse = draw.integers(30, 220, (45, 80, 3), dtype=np.uint8)
    clip = make_clip(
        tmp_path / "clip.mp4",
        frame_count=2,
        size=(1280, 720),
        colour=(1, 1, 1, 1),
        painter=lambda _n, _t: coarse.repeat(16, axis=0).repeat(16, axis=1),
    )
    raw = ffmpeg("-i", clip, "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "-")
    truth = np.frombuffer(raw, dtype=np.uint8).reshape(720, 1280, 3)
    _, full = both(open_recording(clip))
    assert np.abs(full.astype(int) - truth).mean() < 2


def test_colours_go_through_the_files_on_disk(tmp_path: Path) -> None:
    clip = make_clip(
        tmp_path / "clip.mp4",
        size=(180, 240),
        colour=(1, 2, 1, 1),
        rotation_ccw_deg=90,
        painter=lambda _n, _t: corners((180, 240)),
    )
    recording = open_recording(clip)
    with shown(recording, memory_bytes=0) as own:
        truth = own.answers(0)[-1]
    with shown(recording, folder=tmp_path / "folder", memory_bytes=0) as own:
        own.wait_for_proxies()
        picture = own.answers(0)[-1]
    assert picture.is_proxy
    assert not truth.is_proxy
    assert picture.rgb.shape == truth.rgb.shape
    np.testing.assert_allclose(seen(picture.rgb), seen(truth.rgb), atol=3)


@pytest.mark.parametrize(
    ("size", "small"),
    [
        ((1920, 1080), (960, 540)),
        ((1080, 1920), (540, 960)),
        ((3840, 2160), (960, 540)),
        ((640, 360), (640, 360)),
        ((641, 361), (640, 360)),
        ((8, 8), (16, 16)),
    ],
)
def test_small_sizes(size: tuple[int, int], small: tuple[int, int]) -> None:
    assert small_size(*size) == small
    assert small_size(2704, 2028)[0] * small_size(2704, 2028)[1] <= SMALL_PIXELS * 1.01
