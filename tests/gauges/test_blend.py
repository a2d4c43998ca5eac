"""Sprites over frames of every pixel format against compositing in RGB."""

from __future__ import annotations

import av
import numpy as np
import pytest

from syncview.gauges.blend import lay_sprites
from syncview.gauges.colour import ColourCoding
from syncview.gauges.sprites import make_sprite
from syncview.media.planes import LAYOUTS, plane_rows, workable_format
from tests.media_samples import make_clip

WIDTH, HEIGHT = 64, 48


def _frame(pixel_format: str, rgb: np.ndarray) -> av.VideoFrame:
    full = pixel_format.startswith("yuvj")
    return av.VideoFrame.from_ndarray(rgb, format="rgb24").reformat(
        format=pixel_format, dst_colorspace="ITU709", dst_color_range="JPEG" if full else "MPEG"
    )


def _rgb(frame: av.VideoFrame) -> np.ndarray:
    full = frame.format.name.startswith("yuvj")
    made = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="JPEG" if full else "MPEG")
    return np.asarray(made.to_ndarray()).astype(int)


@pytest.mark.parametrize("pixel_format", LAYOUTS)
@pytest.mark.parametrize("opacity", [255, 150, 0])
def test_result_is_what_compositing_in_rgb_gives(pixel_format: str, opacity: int) -> None:
    ground = np.full((HEIGHT, WIDTH, 3), (90, 140, 200), dtype=np.uint8)
    rgba = np.zeros((16, 24, 4), dtype=np.uint8)
    rgba[...] = (230, 110, 30, opacity)
    layout = LAYOUTS[pixel_format]
    coding = ColourCoding("bt709", pixel_format.startswith("yuvj"), layout.bits)
    frame = _frame(pixel_format, ground)
    lay_sprites(frame, [(make_sprite(rgba, coding=coding, layout=layout), 10, 6)])
    result = _rgb(frame)
    share = opacity / 255
    expected = np.array((230, 110, 30)) * share + np.array((90, 140, 200)) * (1 - share)
    assert np.abs(result[8:20, 12:32] - expected).max() <= 4
    untouched = _rgb(_frame(pixel_format, ground))
    outside = np.ones((HEIGHT, WIDTH), dtype=bool)
    outside[5:23, 9:35] = False
    assert np.array_equal(result[outside], untouched[outside])


@pytest.mark.parametrize("pixel_format", LAYOUTS)
def test_samples_outside_the_sprite_stay_bit_for_bit(pixel_format: str) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (HEIGHT, WIDTH, 3), dtype=np.uint8)
    layout = LAYOUTS[pixel_format]
    frame, before = _frame(pixel_format, noise), _frame(pixel_format, noise)
    rgba = np.full((16, 24, 4), 255, dtype=np.uint8)
    lay_sprites(frame, [(make_sprite(rgba, coding=ColourCoding("bt709", False, layout.bits), layout=layout), 10, 6)])
    for number, (now, then) in enumerate(zip(plane_rows(frame), plane_rows(before), strict=True)):
        sx, sy = (layout.chroma_shift_x, layout.chroma_shift_y) if number else (0, 0)
        wide = 2 if number and layout.interleaved else 1
        same = np.array(now == then)
        same[6 >> sy : 22 >> sy, (10 >> sx) * wide : (34 >> sx) * wide] = True
        assert same.all()


def test_clear_sprite_changes_nothing() -> None:
    noise = np.random.default_rng(1).integers(0, 255, (HEIGHT, WIDTH, 3), dtype=np.uint8)
    frame, before = _frame("yuv420p", noise), _frame("yuv420p", noise)
    clear = np.zeros((16, 24, 4), dtype=np.uint8)
    sprite = make_sprite(clear, coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"])
    lay_sprites(frame, [(sprite, 10, 6)])
    assert all(np.array_equal(a, b) for a, b in zip(plane_rows(frame), plane_rows(before), strict=True))


def test_decoder_keeps_its_reference_pictures(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Painting on each decoded frame must not reach the frames that are predicted from it."""
    path = make_clip(tmp_path / "clip.mp4", frame_count=40)
    rgba = np.full((100, 200, 4), 255, dtype=np.uint8)
    sprite = make_sprite(rgba, coding=ColourCoding("bt601", False), layout=LAYOUTS["yuv420p"])
    with av.open(str(path)) as container:
        plain = [frame.to_ndarray()[:180] for frame in container.decode(video=0)]
    with av.open(str(path)) as container:
        for frame, expected in zip(container.decode(video=0), plain, strict=True):
            lay_sprites(frame, [(sprite, 0, 0)])
            luma = plane_rows(frame)[0]
            assert np.array_equal(luma[100:], expected[100:])
            assert np.array_equal(luma[:100, 200:], expected[:100, 200:])


def test_places_that_would_shift_colours_are_refused() -> None:
    frame = av.VideoFrame(WIDTH, HEIGHT, "yuv420p")
    rgba = np.zeros((16, 24, 4), dtype=np.uint8)
    sprite = make_sprite(rgba, coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"])
    for x, y in ((1, 0), (0, 3)):
        with pytest.raises(ValueError, match="even"):
            lay_sprites(frame, [(sprite, x, y)])
    for x, y in ((-2, 0), (42, 0), (0, 34)):
        with pytest.raises(ValueError, match="out of the picture"):
            lay_sprites(frame, [(sprite, x, y)])
    with pytest.raises(ValueError, match="even sides"):
        make_sprite(rgba[:15], coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"])


def test_pasting_columns_keeps_luma_and_chroma_together() -> None:
    layout, coding = LAYOUTS["yuv420p"], ColourCoding("bt709", False)
    red = make_sprite(np.full((8, 16, 4), (255, 0, 0, 255), dtype=np.uint8), coding=coding, layout=layout)
    blue = make_sprite(np.full((8, 16, 4), (0, 0, 255, 255), dtype=np.uint8), coding=coding, layout=layout)
    mixed = red.copy()
    mixed.paste_columns(blue, 0, 0, 5, 12)
    assert [int(value) for value in mixed.colour[0][0]] == [63] * 5 + [32] * 7 + [63] * 4
    assert (mixed.colour[1][0] == blue.colour[1][0, 0]).tolist() == [False] * 3 + [True] * 3 + [False] * 2
    assert red.colour[0][0, 7] == 63  # the copy is independent


def test_workable_formats() -> None:
    wanted = {"yuv420p": "yuv420p", "rgb24": "yuv420p", "gray": "yuv420p", "yuv422p12le": "yuv420p10le"}
    assert {name: workable_format(name) for name in wanted} == wanted
    with pytest.raises(ValueError, match="no plane layout"):
        plane_rows(av.VideoFrame(16, 16, "rgb24"))
