"""Gauges on the screen are the render's own, sample by sample."""

import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.desk.picture.gauge_images import ScreenGauges, scaled
from syncview.gauges.map_plate import MapOutline
from syncview.gauges.panel import preview
from syncview.gauges.values import CornerLabel, GaugeValues, MarkerAhead
from syncview.lesson.film_picture import PanelOptions

TURN = np.linspace(0, 2 * np.pi, 60, endpoint=False)
OPTIONS = PanelOptions(outline=MapOutline(300 * np.cos(TURN), 200 * np.sin(TURN), 1600.0, ((1, 200.0), (2, 900.0))))
VALUES = GaugeValues(
    speed_mps=41.2,
    gear=4,
    throttle=0.0,
    brake=0.73,
    steering_rad=-0.4,
    lap_time_s=83.4,
    corner=CornerLabel(3, "Mill", "left"),
    note=None,
    gap_s=-0.31,
    lap_distance_m=417.0,
    marker=MarkerAhead("100 m board", 64.0),
)


def _laid(ground: NDArray[np.uint8], gauges: ScreenGauges, values: GaugeValues) -> NDArray[np.uint8]:
    """The images over a picture by the rule for multiplied colours: over = colour + ground * (1 - opacity)."""
    laid = ground.astype(np.float64)
    for image in gauges.images(values):
        rows, columns = image.bgra.shape[:2]
        part = laid[image.top : image.top + rows, image.left : image.left + columns]
        opacity = image.bgra[..., 3:].astype(np.float64) / 255
        part[...] = image.bgra[..., 2::-1] + part * (1 - opacity)
    return np.rint(laid).clip(0, 255).astype(np.uint8)


@pytest.mark.parametrize("size", [(1280, 720), (640, 360), (406, 720)])
def test_they_look_as_on_a_film(size: tuple[int, int]) -> None:
    ground = np.full((size[1], size[0], 3), (90, 120, 60), dtype=np.uint8)
    film = preview(ground, VALUES, steering_lock_rad=OPTIONS.steering_lock_rad, outline=OPTIONS.outline)
    screen = _laid(ground, ScreenGauges(*size, OPTIONS), VALUES)
    off = np.abs(screen.astype(int) - film.astype(int))
    assert off.max() <= 4  # the film goes through eight-bit Y'CbCr and back
    assert np.any(np.abs(film.astype(int) - ground) > 100)  # and there is something on it


def test_new_values_show_on_the_next_picture_and_old_images_do_not_linger() -> None:
    gauges = ScreenGauges(640, 360, OPTIONS)
    ground = np.zeros((360, 640, 3), dtype=np.uint8)
    first = _laid(ground, gauges, VALUES)
    other = _laid(ground, gauges, GaugeValues(speed_mps=12.0, gear=2, throttle=1.0, brake=0.0))
    again = _laid(ground, gauges, VALUES)
    assert not np.array_equal(first, other)
    assert np.array_equal(first, again)


def test_pictures_are_scaled_to_the_screen() -> None:
    rgb = np.zeros((90, 160, 3), dtype=np.uint8)
    rgb[:, 80:] = 200
    assert scaled(rgb, 160, 90) is rgb
    for width, height in ((320, 180), (100, 56), (40, 22)):
        made = scaled(rgb, width, height)
        assert made.shape == (height, width, 3)
        assert made.flags.c_contiguous
        assert made.mean() == pytest.approx(100, abs=3)
