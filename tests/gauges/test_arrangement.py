"""Where plates lie: inside the safe area, apart from each other, clear of captions."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.gauges.arrangement import Arrangement, arrange
from syncview.gauges.cards import LapClock
from syncview.gauges.choice import GaugeChoice
from syncview.gauges.colour import ColourCoding
from syncview.gauges.seesaw import SeeSaw
from syncview.gauges.sheet import Box
from syncview.media.planes import LAYOUTS

SIZES = [(640, 360), (854, 480), (640, 272), (1280, 720), (1920, 1080), (3840, 2160), (1080, 1920), (720, 720),
         (1440, 1080), (2560, 1080), (606, 1080), (1080, 1080), (1080, 1350), (202, 360), (256, 144)]  # fmt: skip
choices = st.builds(GaugeChoice, **dict.fromkeys(GaugeChoice.names(), st.booleans()))


def _boxes(places: Arrangement) -> list[Box]:
    placed = (places.seesaw, places.lap, places.card, places.gap, places.marker, places.map, places.captions)
    return [box for box in placed if box is not None]


def _assert_sound(size: tuple[int, int], places: Arrangement) -> None:
    width, height = size
    boxes = _boxes(places)
    for box in boxes:
        assert box.left >= 0.05 * width
        assert box.right <= 0.95 * width
        assert box.top >= 0.05 * height
        assert box.bottom <= 0.95 * height
        assert not any(side % 2 for side in (box.left, box.top, box.right, box.bottom))
        assert box.width > 0
        assert box.height > 0
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


@pytest.mark.parametrize("size", SIZES)
def test_plates_lie_inside_the_safe_area_and_apart(size: tuple[int, int]) -> None:
    _assert_sound(size, arrange(*size))


@given(st.integers(60, 2200), st.integers(60, 2200), choices)
def test_any_size_and_choice_is_laid_out_soundly_or_refused(
    half_width: int, half_height: int, choice: GaugeChoice
) -> None:
    """EBU R 95's safe area, and captions apart from every gauge; what is missing is named."""
    size = (2 * half_width, 2 * half_height)
    try:
        places = arrange(*size, choice)
    except ValueError:
        with pytest.raises(ValueError, match="too small"):
            arrange(*size, choice)
        assert min(size) < 400
        return
    _assert_sound(size, places)
    chosen = {name for name in GaugeChoice.names() if name != "note" and getattr(choice, name)}
    assert len(_boxes(places)) - 1 == len(chosen) - len(places.left_out)
    assert set(places.left_out) <= chosen
    assert bool(places.notes) == bool(places.left_out)


@pytest.mark.parametrize("size", [(640, 360), (1920, 1080), (1080, 1920), (1080, 1080), (720, 1280), (1280, 1280),
                                  (1440, 1080), (3840, 2160)])  # fmt: skip
def test_usual_sizes_have_room_for_everything(size: tuple[int, int]) -> None:
    assert arrange(*size).left_out == ()


@pytest.mark.parametrize(("size", "shape"), [((1920, 1080), "wide"), ((1440, 1080), "wide"), ((1080, 1080), "square"),
                                             ((1080, 1350), "tall"), ((1080, 1920), "tall")])  # fmt: skip
def test_the_layout_follows_the_shape(size: tuple[int, int], shape: str) -> None:
    assert arrange(*size).shape == shape


def test_small_pictures_lose_the_least_important_and_say_so() -> None:
    places = arrange(256, 144)
    assert places.seesaw is not None
    assert "marker" in places.left_out
    assert "marker countdown" in places.notes[0]
    assert "left out" in places.notes[0]


@pytest.mark.parametrize("size", SIZES)
def test_labels_stay_readable(size: tuple[int, int]) -> None:
    """Capitals of labels, 27.5 units, have six rows or more (no source)."""
    assert arrange(*size).unit * 27.5 >= 6


def test_a_phone_held_upright_shows_letters_as_large_as_one_held_flat() -> None:
    """One screen of 16:9: letters of a wide film on its long side, of a tall one on its short side."""
    flat, upright = arrange(1920, 1080), arrange(1080, 1920)
    assert upright.unit / 1080 / (flat.unit / 1920) == pytest.approx(1920 / 1080, rel=0.3)


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (1920, 1080), (3840, 2160), (2560, 1080)])
def test_captions_have_most_of_the_width_beside_the_seesaw(size: tuple[int, int]) -> None:
    places = arrange(*size)
    assert places.captions.width >= 0.6 * size[0]
    assert places.seesaw is not None
    assert places.captions.bottom >= places.seesaw.bottom - 2


def test_captions_go_above_the_seesaw_in_upright_pictures() -> None:
    places = arrange(1080, 1920)
    assert places.seesaw is not None
    assert places.captions.bottom < places.seesaw.top
    assert places.captions.width >= 0.88 * 1080


def test_pictures_too_small_for_gauges_are_refused() -> None:
    with pytest.raises(ValueError, match="too small"):
        arrange(176, 100)
    with pytest.raises(ValueError, match="too small"):
        arrange(100, 400)


@pytest.mark.parametrize("size", SIZES)
def test_changing_parts_do_not_touch_each_other(size: tuple[int, int]) -> None:
    places = arrange(*size)
    assert places.seesaw is not None
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
    places = arrange(*size, GaugeChoice.of(["seesaw", "lap_time"]))
    if places.lap is None:
        assert min(size) < 160
        return
    clock = LapClock(places.lap, places.unit, coding=ColourCoding("bt709", False), layout=LAYOUTS["yuv420p"])
    sprite, box = clock.plate_for(lap_time_s)
    assert box.left >= places.lap.left
    assert (box.right, box.top, box.bottom) == (places.lap.right, places.lap.top, places.lap.bottom)
    assert (sprite.width, sprite.height) == (box.width, box.height)
