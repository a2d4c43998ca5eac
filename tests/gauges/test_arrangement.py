"""Where plates lie: inside the safe area, apart from each other, clear of captions."""

from __future__ import annotations

from itertools import combinations

import pytest

from syncview.gauges.arrangement import arrange
from syncview.gauges.cards import LapClock
from syncview.gauges.colour import ColourCoding
from syncview.gauges.seesaw import SeeSaw
from syncview.media.planes import LAYOUTS

SIZES = [(640, 360), (854, 480), (640, 272), (1280, 720), (1920, 1080), (3840, 2160), (1080, 1920), (720, 720),
         (1440, 1080), (2560, 1080), (606, 1080)]  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
def test_plates_lie_inside_the_safe_area_and_apart(size: tuple[int, int]) -> None:
    width, height = size
    places = arrange(width, height)
    boxes = [places.seesaw, places.lap, places.card, places.captions]
    for box in boxes:
        assert box.left >= 0.05 * width
        assert box.right <= 0.95 * width
        assert box.top >= 0.05 * height
        assert box.bottom <= 0.95 * height
        assert not any(side % 2 for side in (box.left, box.top, box.right, box.bottom))
        assert box.width > 0
        assert box.height > 0
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (1920, 1080), (3840, 2160), (2560, 1080)])
def test_captions_have_most_of_the_width_beside_the_seesaw(size: tuple[int, int]) -> None:
    places = arrange(*size)
    assert places.captions.width >= 0.6 * size[0]
    assert places.captions.bottom >= places.seesaw.bottom - 2


def test_captions_go_above_the_seesaw_in_upright_pictures() -> None:
    places = arrange(1080, 1920)
    assert places.captions.bottom < places.seesaw.top
    assert places.captions.width >= 0.88 * 1080


def test_pictures_too_small_for_gauges_are_refused() -> None:
    with pytest.raises(ValueError, match="too small"):
        arrange(176, 100)


@pytest.mark.parametrize("size", SIZES)
def test_changing_parts_do_not_touch_each_other(size: tuple[int, int]) -> None:
    places = arrange(*size)
    seesaw = SeeSaw(
        places.seesaw, places.unit, units="metric", steering_lock_rad=7,
        coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"],
    )  # fmt: skip
    slots = seesaw.slots()
    ticks, fixed = slots[-5:], slots[:-5]
    assert not any(one.overlaps(other) for one, other in combinations(fixed, 2))
    assert not any(tick.overlaps(other) for tick in ticks for other in fixed)
    for box in slots:
        assert box.left >= 0
        assert box.top >= 0
        assert box.right <= places.seesaw.width
        assert box.bottom <= places.seesaw.height


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("lap_time_s", [None, 83.4, 754.0, 59999.9])
def test_lap_clock_stays_in_its_place(size: tuple[int, int], lap_time_s: float | None) -> None:
    places = arrange(*size)
    clock = LapClock(places.lap, places.unit, coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"])
    sprite, box = clock.plate_for(lap_time_s)
    assert box.left >= places.lap.left
    assert (box.right, box.top, box.bottom) == (places.lap.right, places.lap.top, places.lap.bottom)
    assert (sprite.width, sprite.height) == (box.width, box.height)
