"""RGB to Y'CbCr against FFmpeg's scaler, and against values that follow from the standards."""

from __future__ import annotations

import av
import numpy as np
import pytest

from syncview.gauges.colour import ColourCoding, Matrix, coding_of
from syncview.media.colour_tags import ColourTags

COLOURS = np.array(
    [
        (0, 0, 0), (255, 255, 255), (255, 0, 0), (0, 255, 0), (0, 0, 255),
        (213, 94, 0), (0, 114, 178), (12, 15, 20), (128, 128, 128), (240, 228, 66),
    ],
    dtype=np.uint8,
)  # fmt: skip
FFMPEG_NAMES: dict[Matrix, str] = {"bt601": "ITU601", "bt709": "ITU709", "bt2020": "BT2020"}


@pytest.mark.parametrize("matrix", FFMPEG_NAMES)
@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("bits", [8, 10])
def test_codes_are_ffmpegs(matrix: Matrix, full: bool, bits: int) -> None:
    pixel_format = "yuv444p" if bits == 8 else "yuv444p10le"
    ours = ColourCoding(matrix, full, bits).from_rgb(COLOURS / 255)
    for colour, codes in zip(COLOURS, ours, strict=True):
        frame = av.VideoFrame.from_ndarray(np.tile(colour, (16, 16, 1)), format="rgb24").reformat(
            format=pixel_format, dst_colorspace=FFMPEG_NAMES[matrix], dst_color_range="JPEG" if full else "MPEG"
        )
        dtype = np.uint8 if bits == 8 else np.dtype("<u2")
        theirs = [int(np.frombuffer(memoryview(plane), dtype=dtype)[0]) for plane in frame.planes]
        # One step of 8 bits: the scaler works with rounded coefficients.
        assert np.abs(codes - theirs).max() <= 1.01 * (1 << (bits - 8)), (colour, codes, theirs)


def test_codes_of_the_standards() -> None:
    """75 % colour bars in BT.709 (values of the usual test signal tables, from memory)."""
    coding = ColourCoding("bt709", is_full_range=False)
    bars = np.array([(0.75, 0.75, 0), (0.75, 0, 0), (0, 0, 0.75)])
    assert np.rint(coding.from_rgb(bars)).tolist() == [[168, 44, 136], [51, 109, 212], [28, 212, 120]]
    white_black = np.array([(1.0, 1.0, 1.0), (0.0, 0.0, 0.0)])
    assert coding.from_rgb(white_black)[:, 0].tolist() == [235, 16]
    deep = ColourCoding("bt709", is_full_range=False, bits=10)
    assert deep.from_rgb(white_black)[:, 0].tolist() == [940, 64]


def test_untagged_pictures_are_assumed_and_said_so() -> None:
    untagged = ColourTags(2, 0, 2, 2)
    large, note = coding_of(untagged, pixel_format="yuv420p", height=1080, bits=8)
    assert (large.matrix, large.is_full_range) == ("bt709", False)
    assert note is not None
    assert "does not state" in note
    small, _note = coding_of(untagged, pixel_format="yuvj420p", height=576, bits=8)
    assert (small.matrix, small.is_full_range) == ("bt601", True)
    tagged, note = coding_of(ColourTags(9, 2, 9, 14), pixel_format="yuv420p10le", height=360, bits=10)
    assert (tagged.matrix, tagged.is_full_range, note) == ("bt2020", True, None)
    odd, note = coding_of(ColourTags(8, 1, 1, 1), pixel_format="yuv444p", height=1080, bits=8)
    assert odd.matrix == "bt709"
    assert note is not None
    assert "ycgco" in note
