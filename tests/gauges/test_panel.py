"""The gauges as they appear: legible over anything, true to the values, honest about what is missing."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from syncview.gauges import palette
from syncview.gauges.choice import GaugeChoice
from syncview.gauges.colour import ColourCoding
from syncview.gauges.map_plate import MapOutline
from syncview.gauges.panel import GaugePanel, preview
from syncview.gauges.values import CornerLabel, GaugeValues, MarkerAhead

VALUES = GaugeValues(
    speed_mps=41.2, gear=4, throttle=0.0, brake=0.78, steering_rad=0.9, lap_time_s=83.456,
    corner=CornerLabel(4, "Hairpin", "left"), note="Brake at the board,\nthen wait.", gap_s=0.34, lap_distance_m=700.0,
    marker=MarkerAhead("100 board", 42.0),
)  # fmt: skip
_ROUND = np.linspace(0, 2 * np.pi, 200, endpoint=False)
OUTLINE = MapOutline(
    400 * np.cos(_ROUND), 250 * np.sin(_ROUND) + 60 * np.cos(3 * _ROUND), 2100.0, ((1, 100.0), (2, 900.0), (3, 1500.0))
)
SIZES = [(640, 360), (1280, 720), (1920, 1080), (1080, 1920), (1080, 1080), (606, 1080)]


def _luminance(rgb: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Relative luminance of WCAG 2.2."""
    share = rgb / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def _contrast(lighter: float, darker: float) -> float:
    return (lighter + 0.05) / (darker + 0.05)


def test_luminance_formula_gives_published_ratios() -> None:
    """Worked values of WCAG 2.2's formula: #767676 on white 4.54, red on white 4.00, blue on white 8.59."""
    for colour, ratio in (((0x76,) * 3, 4.5422), ((255, 0, 0), 3.9985), ((0, 0, 255), 8.5925)):
        darker = float(_luminance(np.array(colour, dtype=np.uint8)))
        assert _contrast(1.0, darker) == pytest.approx(ratio, abs=1e-4)


def _plain(size: tuple[int, int], level: int) -> NDArray[np.uint8]:
    return np.full((size[1], size[0], 3), level, dtype=np.uint8)


def _backgrounds(size: tuple[int, int]) -> dict[str, NDArray[np.uint8]]:
    draw = np.random.default_rng(8)
    busy = draw.choice(np.array([0, 255], dtype=np.uint8), (size[1] // 2, size[0] // 2, 3))
    return {
        "white": _plain(size, 255),
        "black": _plain(size, 0),
        "busy": np.repeat(np.repeat(busy, 2, axis=0), 2, axis=1),
    }


@cache
def _parts(size: tuple[int, int]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where writing is solid, and where the bare plate shows: told apart by what a white background lets through."""
    on_white = preview(_plain(size, 255), VALUES, outline=OUTLINE).astype(int)
    on_black = preview(_plain(size, 0), VALUES, outline=OUTLINE).astype(int)
    through = (on_white - on_black).max(axis=-1)
    writing = (through <= 2) & (on_black.min(axis=-1) >= 200)
    plate = (abs(through - round(255 * (1 - palette.PLATE_OPACITY))) <= 3) & (on_black.max(axis=-1) <= 30)
    return writing, plate


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("background", ["white", "black", "busy"])
def test_text_keeps_its_contrast_over_any_picture(size: tuple[int, int], background: str) -> None:
    """WCAG 2.2, 1.4.3: at least 4.5:1, of the dimmest writing against the brightest spot of the plates."""
    writing, plate = _parts(size)
    assert writing.sum() > 0.004 * size[0] * size[1]
    assert plate.sum() > 0.06 * size[0] * size[1]
    luminance = _luminance(preview(_backgrounds(size)[background], VALUES, outline=OUTLINE))
    assert _contrast(float(luminance[writing].min()), float(luminance[plate].max())) >= 4.5


def test_contrast_holds_in_a_limited_range_film() -> None:
    """The same through the planes that films are made of: 4:2:0, limited range, over white."""
    size = (1920, 1080)
    writing, plate = _parts(size)
    frame = av.VideoFrame.from_ndarray(_plain(size, 255), format="rgb24").reformat(
        format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG"
    )
    _panel(size, lock_rad=7.854, outline=OUTLINE).draw(frame, VALUES)
    rgb = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="MPEG").to_ndarray()
    luminance = _luminance(np.asarray(rgb, dtype=np.uint8))
    # The plate beside writing shares chroma samples with it; its luma decides the contrast.
    assert _contrast(float(np.quantile(luminance[writing], 0.01)), float(np.quantile(luminance[plate], 0.99))) >= 4.5


@pytest.mark.parametrize("colour", [palette.BRAKE, palette.THROTTLE, palette.AHEAD, palette.BEHIND])
def test_bars_stand_out_from_their_track(colour: palette.Colour) -> None:
    """WCAG 2.2, 1.4.11: graphics keep 3:1; the track is opaque, so no picture changes this."""
    bar = float(_luminance(np.array(colour, dtype=np.uint8)))
    assert _contrast(bar, float(_luminance(np.array(palette.TRACK, dtype=np.uint8)))) >= 3
    assert _contrast(float(_luminance(np.array(palette.INK, dtype=np.uint8))), bar) >= 1.5


def test_the_dot_stands_out_from_its_ring_and_the_ring_from_the_line() -> None:
    ring = float(_luminance(np.array(palette.PLATE, dtype=np.uint8)))
    for colour in (palette.DOT, palette.QUIET):
        assert _contrast(float(_luminance(np.array(colour, dtype=np.uint8))), ring) >= 3


def _panel(
    size: tuple[int, int], pixel_format: str = "yuv420p", lock_rad: float = 4.0, outline: MapOutline | None = None
) -> GaugePanel:
    return GaugePanel(
        *size, coding=ColourCoding("bt709", False), pixel_format=pixel_format, steering_lock_rad=lock_rad,
        outline=outline,
    )  # fmt: skip


def _difference(one: GaugeValues, other: GaugeValues, size: tuple[int, int] = (640, 360)) -> NDArray[np.bool_]:
    ground = _plain(size, 90)
    changed = preview(ground, one, steering_lock_rad=4.0) != preview(ground, other, steering_lock_rad=4.0)
    return np.asarray(changed.any(axis=-1))


def _bar_length(values: GaugeValues, colour: palette.Colour, size: tuple[int, int] = (1280, 720)) -> int:
    picture = preview(_plain(size, 90), values).astype(int)
    near = np.abs(picture - np.array(colour)).max(axis=-1) <= 12
    return int(near.any(axis=0).sum())


@pytest.mark.parametrize("share", [0.0, 0.1, 0.25, 0.5, 0.8, 1.0])
def test_bars_are_as_long_as_their_value(share: float) -> None:
    full = _bar_length(replace(VALUES, brake=0.0, throttle=1.0), palette.THROTTLE)
    assert full > 115
    length = _bar_length(replace(VALUES, brake=0.0, throttle=share), palette.THROTTLE)
    assert length == pytest.approx(share * full, abs=1.01)
    hatched = _bar_length(replace(VALUES, throttle=0.0, brake=1.0), palette.BRAKE)
    assert _bar_length(replace(VALUES, throttle=0.0, brake=share), palette.BRAKE) == pytest.approx(
        share * hatched, abs=1.01
    )


def test_brake_grows_to_the_left_and_throttle_to_the_right() -> None:
    middle = _tick_column(replace(VALUES, steering_rad=0.0))
    brake = np.flatnonzero(_difference(replace(VALUES, brake=0.2), replace(VALUES, brake=0.6)).any(axis=0))
    throttle = np.flatnonzero(_difference(replace(VALUES, throttle=0.2), replace(VALUES, throttle=0.6)).any(axis=0))
    assert brake.max() < middle < throttle.min()


def _tick_column(values: GaugeValues) -> float:
    columns = np.flatnonzero(_difference(values, replace(values, steering_rad=None)).any(axis=0))
    return float((columns[0] + columns[-1]) / 2)


def test_steering_tick_runs_to_the_side_of_the_turn() -> None:
    places = [_tick_column(replace(VALUES, steering_rad=angle)) for angle in (3.9, 2.0, 0.0, -2.0, -3.9)]
    assert places == sorted(places)
    middle = places[2]
    assert middle - places[1] == pytest.approx(places[3] - middle, abs=2)


def test_wheel_beyond_the_lock_is_shown_differently() -> None:
    at_lock, beyond = replace(VALUES, steering_rad=4.0), replace(VALUES, steering_rad=4.4)
    assert _difference(at_lock, beyond).any()
    assert not _difference(beyond, replace(VALUES, steering_rad=9.0)).any()


def test_missing_is_not_zero() -> None:
    zero = GaugeValues(0.0, 0, 0.0, 0.0, 0.0, 0.0, None)
    for name in ("speed_mps", "gear", "throttle", "brake", "steering_rad", "lap_time_s"):
        assert _difference(zero, replace(zero, **{name: None})).any(), name


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_not_a_number_is_missing(value: float) -> None:
    for wrong, missing in (
        (replace(VALUES, speed_mps=value), replace(VALUES, speed_mps=None)),
        (replace(VALUES, throttle=value), replace(VALUES, throttle=None)),
        (replace(VALUES, brake=value), replace(VALUES, brake=None)),
        (replace(VALUES, steering_rad=value), replace(VALUES, steering_rad=None)),
        (replace(VALUES, lap_time_s=value), replace(VALUES, lap_time_s=None)),
        (replace(VALUES, gap_s=value), replace(VALUES, gap_s=None)),
    ):
        assert not _difference(wrong, missing).any()


def test_card_shows_in_corners_only() -> None:
    card = _panel((640, 360)).arrangement.card
    assert card is not None
    changed = _difference(VALUES, replace(VALUES, corner=None))
    rows, columns = np.nonzero(changed)
    assert rows.min() >= card.top
    assert rows.max() < card.bottom
    assert columns.min() == card.left
    assert columns.max() < card.right


def test_sides_differ_by_shape_alone() -> None:
    left = replace(VALUES, corner=CornerLabel(4, "Hairpin", "left"))
    right = replace(VALUES, corner=CornerLabel(4, "Hairpin", "right"))
    assert _difference(left, right).sum() > 200


def test_long_corner_names_stay_on_their_card() -> None:
    long = replace(VALUES, corner=CornerLabel(12, "The very long bend behind the old brewery and the mill", "right"))
    card = _panel((640, 360)).arrangement.card
    assert card is not None
    changed = _difference(long, replace(VALUES, corner=None))
    assert np.flatnonzero(changed.any(axis=0)).max() < card.right


def test_units_change_the_figures() -> None:
    ground = _plain((1280, 720), 90)
    metric = preview(ground, GaugeValues(speed_mps=44.704))
    imperial = preview(ground, GaugeValues(speed_mps=44.704), units="imperial")  # 100 mph, 160.9 km/h
    assert (metric != imperial).any()
    assert not (
        preview(ground, GaugeValues(speed_mps=27.8), units="metric")
        != preview(ground, GaugeValues(speed_mps=100 / 3.6))
    ).any()


def test_frames_do_not_depend_on_what_was_drawn_before() -> None:
    """The panel repaints only what changed; after a random walk it must look as if drawn afresh."""
    draw = np.random.default_rng(11)
    size = (640, 360)
    panel = _panel(size, outline=OUTLINE)
    labels = (None, CornerLabel(1, None, "left"), CornerLabel(2, "Mill", "right"))
    for _ in range(60):
        some = [None if draw.random() < 0.2 else float(draw.random()) for _ in range(5)]
        values = GaugeValues(
            None if some[0] is None else some[0] * 90, None if some[1] is None else int(some[1] * 8) - 1,
            some[2], some[3], None if some[4] is None else some[4] * 10 - 5,
            None if draw.random() < 0.2 else float(draw.random() * 1000), labels[draw.integers(3)],
            gap_s=None if draw.random() < 0.2 else float(draw.normal() * 0.8),
            lap_distance_m=None if draw.random() < 0.2 else float(draw.random() * 2100),
            marker=None if draw.random() < 0.3 else MarkerAhead(f"{draw.integers(1, 3)}00 board", draw.random() * 150),
        )  # fmt: skip
        walked, fresh = (av.VideoFrame.from_ndarray(_plain(size, 90), format="rgb24").reformat(format="yuv420p")
                         for _ in range(2))  # fmt: skip
        panel.draw(walked, values)
        _panel(size, outline=OUTLINE).draw(fresh, values)
        assert np.array_equal(walked.to_ndarray(), fresh.to_ndarray())


@pytest.mark.parametrize("pixel_format", ["yuv420p", "nv12", "yuv420p10le", "yuv422p", "yuv444p"])
def test_every_pixel_format_looks_the_same(pixel_format: str) -> None:
    size = (640, 360)
    bits = 10 if "10" in pixel_format else 8
    panel = GaugePanel(
        *size, coding=ColourCoding("bt709", False, bits), pixel_format=pixel_format,
        steering_lock_rad=7.854,
    )  # fmt: skip
    frame = av.VideoFrame.from_ndarray(_plain(size, 90), format="rgb24").reformat(
        format=pixel_format, dst_colorspace="ITU709", dst_color_range="MPEG"
    )
    panel.draw(frame, VALUES)
    rgb = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="MPEG").to_ndarray()
    wanted = preview(_plain(size, 90), VALUES)
    assert np.abs(np.asarray(rgb).astype(int) - wanted).mean() < 2.5  # the scaler's own rounding is 2


def test_wrong_frames_and_settings_are_refused() -> None:
    panel = _panel((640, 360))
    for frame in (av.VideoFrame(640, 362, "yuv420p"), av.VideoFrame(640, 360, "yuv444p")):
        with pytest.raises(ValueError, match="on a panel for"):
            panel.draw(frame, VALUES)
    with pytest.raises(ValueError, match="cannot be drawn on rgb24"):
        _panel((640, 360), "rgb24")
    with pytest.raises(ValueError, match="10 bits"):
        _panel((640, 360), "yuv420p10le")
    with pytest.raises(ValueError, match="steering lock"):
        _panel((640, 360), lock_rad=0)
    with pytest.raises(ValueError, match="does not fit"):
        preview(_plain((640, 360), 0), GaugeValues(speed_mps=500))
    with pytest.raises(ValueError, match="lap time"):
        preview(_plain((640, 360), 0), GaugeValues(lap_time_s=-0.5))


def test_only_what_was_chosen_is_drawn() -> None:
    ground = _plain((1280, 720), 90)
    assert not (preview(ground, VALUES, outline=OUTLINE, choice=GaugeChoice.of([])) != ground).any()
    every = GaugePanel(
        1280, 720, coding=ColourCoding("bt709", False), pixel_format="yuv420p", steering_lock_rad=4, outline=OUTLINE
    ).arrangement  # fmt: skip
    places = {"seesaw": every.seesaw, "lap_time": every.lap, "corner": every.card, "gap": every.gap,
              "marker": every.marker, "map": every.map, "note": every.captions}  # fmt: skip
    assert set(places) == set(GaugeChoice.names())
    for name in places:
        shown = preview(ground, VALUES, outline=OUTLINE, choice=GaugeChoice.of([name]))
        assert (shown != ground).any(axis=-1).sum() > 2000, name


@pytest.mark.parametrize("size", [(1920, 1080), (640, 360), (1080, 1920), (1080, 1080)])
def test_notes_cover_no_gauge_and_gauges_no_note(size: tuple[int, int]) -> None:
    """The picture with both differs from that with gauges alone only where captions may be."""
    ground = _plain(size, 90)
    place = _panel(size, outline=OUTLINE).caption_free_area
    alone = preview(ground, replace(VALUES, note=None), outline=OUTLINE)
    both = preview(ground, replace(VALUES, note="W" * 37 + "\n" + "W" * 37), outline=OUTLINE)
    rows, columns = np.nonzero((alone != both).any(axis=-1))
    assert place.left <= columns.min()
    assert columns.max() < place.right
    assert place.top <= rows.min()
    assert rows.max() < place.bottom
    assert not (alone[place.top : place.bottom, place.left : place.right] != 90).any()


def test_a_choice_names_what_it_does_not_know() -> None:
    with pytest.raises(ValueError, match="no gauge 'horn'; gauges are seesaw, lap_time"):
        GaugeChoice.of(["map", "horn"])
    assert GaugeChoice().without(["map", "gap"]) == GaugeChoice(map=False, gap=False)
