"""Parts of pictures: shape, place, samples kept."""

from __future__ import annotations

from fractions import Fraction

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.media.framing import ASPECTS, framing_for
from syncview.media.planes import LAYOUTS, plane_views


@given(
    st.integers(72, 2200).map(lambda n: 2 * n),
    st.integers(72, 2200).map(lambda n: 2 * n),
    st.sampled_from(sorted(ASPECTS)),
    st.floats(0, 1),
)
def test_a_part_has_its_shape_and_lies_inside(width: int, height: int, shape: str, across: float) -> None:
    aspect = ASPECTS[shape]
    part = framing_for(width, height, aspect, across=across)
    assert all(n % 2 == 0 for n in (part.left, part.top, part.width, part.height))
    assert 0 <= part.left <= width - part.width
    assert 0 <= part.top <= height - part.height
    assert abs(part.width - part.height * aspect) <= 2 * max(1.0, float(aspect)) + 2
    assert part.width in range(width - 1, width + 1) or part.height in range(height - 1, height + 1)
    assert part.place(0.5, 0.5)[1] == pytest.approx(0.5, abs=0.02)


def test_known_parts() -> None:
    upright = framing_for(1920, 1080, Fraction(9, 16))
    assert (upright.left, upright.width, upright.height) == (656, 606, 1080)  # 1080 x 9 / 16 = 607.5
    assert framing_for(1920, 1080, None).is_whole
    assert framing_for(1920, 1080, Fraction(1), across=0.0).left == 0
    assert framing_for(1920, 1080, Fraction(1)).place(0.0, 0.0) == (-420 / 1080, 0.0)


@pytest.mark.parametrize("pixel_format", sorted(LAYOUTS))
def test_samples_and_tags_are_kept(pixel_format: str) -> None:
    frame = av.VideoFrame(64, 36, pixel_format)
    for view in plane_views(frame):
        view[...] = np.arange(view.size, dtype=np.uint16).reshape(view.shape) % 256
    frame.pts, frame.time_base, frame.colorspace, frame.color_range = 7, Fraction(1, 60), 1, 1
    part = framing_for(64, 36, Fraction(1))
    cut = part.cut(frame)
    assert (cut.width, cut.height, cut.pts, cut.time_base, cut.colorspace, cut.color_range) == (
        36, 36, 7, Fraction(1, 60), 1, 1,
    )  # fmt: skip
    for view, whole in zip(plane_views(cut), plane_views(frame), strict=True):
        left = part.left * whole.shape[1] // 64
        assert np.array_equal(view, whole[:, left : left + view.shape[1]])
