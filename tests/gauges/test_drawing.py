"""Drawings on a still: where they lie, how they show, what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.gauges.drawing import Drawing, DrawingError, checked
from syncview.gauges.drawing_sprites import EDGE, INK, drawn_rgba
from syncview.gauges.sheet import Box

SIZES = [(640, 360), (360, 640), (480, 480)]


@pytest.mark.parametrize("size", SIZES)
def test_an_arrows_point_lies_where_it_was_set(size: tuple[int, int]) -> None:
    width, height = size
    picture = drawn_rgba([Drawing("arrow", (0.2, 0.8), (0.6, 0.4))], width, height)
    inked = np.all(picture[..., :3] == INK, axis=-1) & (picture[..., 3] == 255)
    rows, columns = np.nonzero(inked)
    nearest = np.hypot(columns - 0.6 * width, rows - 0.4 * height)
    assert nearest.min() < 3
    assert columns.max() <= 0.6 * width + 1  # nothing of the head is beyond its point
    assert rows.min() >= 0.4 * height - 1


@pytest.mark.parametrize("size", SIZES)
def test_an_ellipse_touches_its_box(size: tuple[int, int]) -> None:
    width, height = size
    picture = drawn_rgba([Drawing("ellipse", (0.7, 0.2), (0.3, 0.5))], width, height)
    rows, columns = np.nonzero(picture[..., 3] > 128)
    wide = 13 * min(size) / 1080  # half of line and edges
    assert columns.min() == pytest.approx(0.3 * width, abs=wide + 1)
    assert columns.max() == pytest.approx(0.7 * width, abs=wide + 1)
    assert rows.min() == pytest.approx(0.2 * height, abs=wide + 1)
    assert rows.max() == pytest.approx(0.5 * height, abs=wide + 1)
    assert picture[int(0.35 * height), int(0.5 * width), 3] == 0  # its inside is left clear


def test_lines_have_a_dark_edge_on_both_sides() -> None:
    column = drawn_rgba([Drawing("line", (0.1, 0.5), (0.9, 0.5))], 1920, 1080)[:, 960]
    solid = column[column[:, 3] == 255][:, :3]
    assert tuple(solid[0]) == EDGE == tuple(solid[-1])
    assert tuple(solid[len(solid) // 2]) == INK


def test_a_spotlight_darkens_all_but_its_inside() -> None:
    shade = drawn_rgba([Drawing("spotlight", (0.4, 0.4), (0.6, 0.6))], 640, 360)[..., 3]
    assert shade[180, 320] == 0
    assert shade[180, 320 + 60] == 0
    assert shade[0, 0] == shade[180, 420] == 158  # 62 % of 255
    both = drawn_rgba(
        [Drawing("spotlight", (0.4, 0.4), (0.6, 0.6)), Drawing("spotlight", (0, 0), (0.2, 0.2))], 640, 360
    )[..., 3]
    assert both[180, 320] == both[36, 64] == 0


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("kind", ["arrow", "line", "ellipse", "spotlight"])
@pytest.mark.parametrize("corner", [(0.0, 0.0), (0.9, 0.0), (0.0, 0.9), (0.9, 0.9)])
def test_labels_stay_inside_the_safe_area(size: tuple[int, int], kind: str, corner: tuple[float, float]) -> None:
    width, height = size
    end = (corner[0] + 0.1, corner[1] + 0.1)
    bare, named = (
        drawn_rgba([Drawing(kind, corner, end, label)], width, height)  # type: ignore[arg-type]
        for label in ("", "a label of many words that is long")
    )
    changed = np.any(bare != named, axis=-1)
    rows, columns = np.nonzero(changed)
    assert rows.size
    assert rows.min() >= int(0.05 * height) - 1
    assert rows.max() <= 0.95 * height + 1
    assert columns.min() >= int(0.05 * width) - 1
    assert columns.max() <= 0.95 * width + 1


def test_a_label_keeps_clear_of_what_is_taken() -> None:
    drawing = Drawing("arrow", (0.4, 0.8), (0.6, 0.5), "just past the board")
    captions = Box(0, 280, 640, 360)
    bare = drawn_rgba([Drawing("arrow", drawing.begin, drawing.end)], 640, 360)
    named = drawn_rgba([drawing], 640, 360, taken=[captions])
    rows = np.nonzero(np.any(bare != named, axis=-1))[0]
    assert rows.max() < captions.top
    assert np.nonzero(np.any(bare != drawn_rgba([drawing], 640, 360), axis=-1))[0].min() > captions.top


@pytest.mark.parametrize(
    ("drawing", "words"),
    [
        (Drawing("arrow", (0.1, 0.1), (1.2, 0.5)), "not in the picture"),
        (Drawing("arrow", (0.1, 0.1), (0.1, 0.1)), "too small"),
        (Drawing("ellipse", (0.1, 0.1), (0.9, 0.1)), "too small"),
        (Drawing("line", (0.1, 0.1), (0.2, 0.2), "x" * 61), "does not fit"),
        (Drawing("line", (0.1, 0.1), (0.2, 0.2), "a\x07b"), "control character"),
        (Drawing("line", (float("nan"), 0.1), (0.2, 0.2)), "not in the picture"),
    ],
)
def test_what_cannot_be_drawn_is_refused(drawing: Drawing, words: str) -> None:
    with pytest.raises(DrawingError, match=words):
        checked(drawing)


def test_what_can_be_drawn_is_kept() -> None:
    drawing = Drawing("spotlight", (0.0, 0.0), (1.0, 1.0), "here")
    assert checked(drawing) is drawing
