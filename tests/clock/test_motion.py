"""Image motion against the turning of the car."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, shift
from scipy.signal import correlate, correlation_lags

from syncview.channels import FloatArray
from syncview.clock.answers import answers
from syncview.clock.motion import GRID_S, EvenSignal, even_signal, picture_pan, score_offsets, turning
from syncview.clock.motion_evidence import watch
from tests.clock.test_log_lap_starts import make_log

WIDTH, HEIGHT = 160, 90
FRAME_S = 1 / 60


def panning(pan_px: FloatArray, times_s: FloatArray) -> Iterator[tuple[float, NDArray[np.uint8]]]:
    """A textured view that moves to the right by `pan_px` pixels, to the fraction (spline interpolation by scipy)."""
    rng = np.random.default_rng(0)
    texture = gaussian_filter(rng.normal(size=(HEIGHT, WIDTH * 4)), 2.0)
    texture = 128 + 100 * texture / np.abs(texture).max()
    for time_s, pan in zip(times_s, pan_px, strict=True):
        moved = shift(texture, (0, pan), order=1, mode="grid-wrap")[:, WIDTH : 2 * WIDTH]
        yield float(time_s), moved.astype(np.uint8)


@pytest.mark.parametrize("step_px", [0.3, 1.0, -2.5])
def test_known_shifts_are_measured(step_px: float) -> None:
    times = np.arange(30, dtype=np.float64) / 60
    _, pan = picture_pan(panning(step_px * np.arange(30, dtype=np.float64), times))
    # The quickest flow reads some per cent too much; only the shape of the motion is used, never its scale.
    assert float(np.median(pan)) == pytest.approx(step_px * 60 / WIDTH, rel=0.12)


def test_values_belong_to_the_middle_between_pictures_and_holes_are_not_bridged() -> None:
    times = np.concatenate((np.arange(5) / 25, 3 + np.arange(5) / 25))
    middles, _ = picture_pan(panning(np.zeros(10), times))
    assert middles == pytest.approx(np.concatenate((np.arange(4) / 25, 3 + np.arange(4) / 25)) + 0.02)


def driving(seconds: float, seed: int) -> tuple[FloatArray, FloatArray]:
    """A yaw rate as on a circuit: turns of some seconds with straights between."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, seconds, 0.01)
    rate = np.zeros_like(time_s)
    at = 3.0
    while at < seconds - 4:
        length, strength = rng.uniform(1.5, 4.0), rng.normal(0, 0.5)
        inside = (time_s >= at) & (time_s < at + length)
        rate[inside] += strength * np.sin(np.pi * (time_s[inside] - at) / length) ** 2
        at += length + rng.uniform(0.5, 5.0)
    return time_s, rate


def test_scores_peak_where_scipys_own_correlation_does() -> None:
    time_s, rate = driving(120, 1)
    offset_s = 7.4
    picture = even_signal(time_s[1000:9000] + offset_s, rate[1000:9000])
    car = even_signal(time_s, rate)
    ours = score_offsets(picture, car).peaks(most=1, least_share=0.5, apart_s=2)[0][0]
    full = correlate(picture.values, car.values)
    lag = correlation_lags(picture.values.size, car.values.size)[int(np.argmax(full))]
    assert ours == pytest.approx(lag * GRID_S + picture.begin_s - car.begin_s, abs=1e-9)
    assert ours == pytest.approx(offset_s, abs=GRID_S)


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize(("offset_s", "drift_ppm"), [(-12.345, 0.0), (30.0, 300.0)])
def test_the_clock_is_found_whichever_side_the_log_calls_plus(sign: int, offset_s: float, drift_ppm: float) -> None:
    time_s, rate = driving(260, 3)
    media_s = np.arange(0, 230, FRAME_S)
    log_s = (media_s - offset_s) / (1 + drift_ppm * 1e-6)
    rng = np.random.default_rng(4)
    seen = np.interp(log_s, time_s, rate, left=np.nan, right=np.nan) + rng.normal(0, 0.02, media_s.size)
    good = np.isfinite(seen)
    evidence = watch(
        even_signal(media_s[good], seen[good]), even_signal(time_s, sign * rate), car_source="yaw", direct=True
    )
    best = evidence.candidates[0]
    assert best.fits
    for at in (20.0, 120.0, 200.0):
        true = (1 + drift_ppm * 1e-6) * at + offset_s
        assert best.clock.to_media_s(at) == pytest.approx(true, abs=0.016)
        assert abs(best.clock.to_media_s(at) - true) <= best.clock.half_width_s(at)


@pytest.mark.parametrize("seed", range(4))
def test_a_foreign_drive_never_fits(seed: int) -> None:
    time_s, rate = driving(200, seed)
    _, other = driving(200, seed + 100)
    evidence = watch(even_signal(time_s, rate), even_signal(time_s, other), car_source="yaw", direct=True)
    assert not any(candidate.fits for candidate in evidence.candidates)


def test_a_pause_that_only_the_picture_tells_is_measured_but_doubted() -> None:
    time_s, rate = driving(300, 3)
    media_s = np.arange(0, 280, FRAME_S)
    log_s = media_s + np.where(media_s >= 140, 12.0, 0.0)
    picture = even_signal(media_s, np.interp(log_s, time_s, rate))
    (answer,) = answers([watch(picture, even_signal(time_s, rate), car_source="yaw", direct=True)])
    (pause,) = answer.best.clock.pauses
    assert pause.lost_s == pytest.approx(12.0, abs=FRAME_S)
    assert pause.log_s == pytest.approx(140.0, abs=10.0)  # on a straight, somewhere
    assert "misses 12.0 s" in answer.doubts[0]


def test_stretches_in_which_the_picture_follows_less_well_weigh_less() -> None:
    time_s, rate = driving(300, 3)
    late = np.interp(time_s - 0.04, time_s, rate)
    other = np.interp(time_s, *driving(300, 8))
    blurred = time_s % 64 < 32  # here the picture lags by 40 ms and shows something else, too
    seen = np.where(blurred, late + 0.5 * other, rate)
    best = watch(even_signal(time_s, seen), even_signal(time_s, rate), car_source="yaw", direct=True).candidates[0]
    assert best.fits
    assert float(np.mean(best.stretches.offset_s)) > 0.010
    assert abs(best.clock.to_media_s(150.0) - 150.0) < 0.004


def test_a_picture_that_stands_still_says_so() -> None:
    time_s, rate = driving(100, 0)
    still = EvenSignal(np.zeros(5000), np.ones(5000, dtype=bool), 0.0)
    evidence = watch(still, even_signal(time_s, rate), car_source="yaw", direct=True)
    assert evidence.why_not == "the picture does not move"


def test_what_stands_for_the_yaw_rate() -> None:
    time_s = np.arange(5.0)
    speed, side = np.full(5, 20.0), np.full(5, 8.0)
    # Circular motion: a = v · yaw rate, so 8 m/s² at 20 m/s is 0.4 rad/s.
    found = turning(make_log(time_s, speed=speed, lateral_acceleration=side))
    assert found is not None
    assert found.values == pytest.approx(np.full(5, 0.4))
    assert not found.direct
    direct = turning(make_log(time_s, speed=speed, lateral_acceleration=side, yaw_rate=np.ones(5)))
    assert direct is not None
    assert direct.direct
    assert turning(make_log(time_s, speed=speed)) is None
