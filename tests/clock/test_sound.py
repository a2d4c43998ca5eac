"""Engine sound against the logged engine speed, on sessions whose clock is known."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.clock.sound import (
    BINS_PER_OCTAVE,
    FRAME_S,
    LOWEST_HZ,
    ORDERS,
    SAMPLE_RATE_HZ,
    engine_track,
    score_offsets,
    spectrogram,
)
from syncview.clock.sound_evidence import hear
from tests.clock.engine import engine_log, engine_sound

ONE_FRAME_S = 1 / 60


@pytest.mark.parametrize(
    ("rpm", "cylinders", "firing_hz"),
    # Four-stroke firing frequency rpm/60 * cylinders/2, worked values of common handbooks.
    [(600, 4, 20.0), (3000, 4, 100.0), (6000, 4, 200.0), (6000, 6, 300.0), (7200, 8, 480.0)],
)
def test_firing_order_lands_on_the_firing_frequency(rpm: float, cylinders: int, firing_hz: float) -> None:
    track = engine_track(np.arange(0.0, 10.0, 0.1), np.full(100, rpm * 2 * np.pi / 60))
    assert cylinders / 2 in ORDERS
    hz = LOWEST_HZ * 2 ** (track.place[0] / BINS_PER_OCTAVE) * cylinders / 2
    assert hz == pytest.approx(firing_hz, rel=1e-6)


def test_a_tone_stands_in_the_bin_of_its_frequency() -> None:
    time_s = np.arange(0, 30, 1 / SAMPLE_RATE_HZ)
    # 400 Hz for the middle ten seconds only: a tone that never stops is whitened away on purpose.
    tone = np.where((time_s > 10) & (time_s < 20), np.sin(2 * np.pi * 400 * time_s), 0.0)
    noise = 0.01 * np.random.default_rng(0).normal(size=tone.size)
    picture = spectrogram([(tone + noise).astype(np.float32)], begin_s=5.0)
    row = round((5.0 + 15.0 - picture.begin_s) / FRAME_S)
    assert abs(int(np.argmax(picture.stored[row])) - np.log2(400 / LOWEST_HZ) * BINS_PER_OCTAVE) <= 1


def test_coarse_search_agrees_with_scipy_correlation_of_the_same_pictures() -> None:
    # The two-dimensional FFT search against scipy.signal.correlate2d by brute force, for one order.
    from scipy.signal import correlate2d

    from syncview.clock import sound as module

    rng = np.random.default_rng(3)
    picture = rng.normal(size=(60, module.BINS // module.SEARCH_STEP)).astype(np.float32)
    curve = (rng.random((25, module._CURVE_BINS)) < 0.02).astype(np.float32)
    ours, _ = module._correlate(picture, curve)
    full = correlate2d(picture, curve, mode="full")
    order_two = int(np.flatnonzero(ORDERS == 2.0)[0])
    column = round(module.BINS_PER_OCTAVE / module.SEARCH_STEP) + module._CURVE_BASE + curve.shape[1] - 1
    np.testing.assert_allclose(ours[:, order_two], full[:, column], atol=1e-3)


def test_a_long_search_goes_block_by_block_and_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    from syncview.clock import sound as module

    rng = np.random.default_rng(4)
    picture = rng.normal(size=(130, module.BINS // module.SEARCH_STEP)).astype(np.float32)
    curve = (rng.random((75, module._CURVE_BINS)) < 0.02).astype(np.float32)
    whole, lit = module._correlate(picture, curve)
    monkeypatch.setattr(module, "BLOCK_ROWS", 32)
    parts, parts_lit = module._correlate(picture, curve)
    np.testing.assert_allclose(parts, whole, atol=1e-4)
    np.testing.assert_allclose(parts_lit, lit, atol=1e-6)


@pytest.mark.parametrize("seconds", [0.2, 4.0, 50.0, 100.0])
def test_sound_in_blocks_is_whitened_as_a_whole(seconds: float) -> None:
    # The running means by scipy.ndimage over the whole spectrogram at once.
    from scipy.ndimage import uniform_filter1d

    from syncview.clock import sound as module

    rng = np.random.default_rng(5)
    samples = rng.normal(size=round(seconds * SAMPLE_RATE_HZ)).astype(np.float32)
    cuts = np.sort(rng.integers(0, samples.size, 9))
    made = spectrogram(np.split(samples, cuts), 0.0)
    rows = max(0, (samples.size - module.WINDOW) // module.HOP + 1)
    assert len(made) == rows
    if not rows:
        return
    cut = np.stack([samples[k * module.HOP :][: module.WINDOW] for k in range(rows)])
    lower, share = module._bin_places()
    power = np.abs(np.fft.rfft(cut * np.hanning(module.WINDOW)))
    level = np.log(power[:, lower] * (1 - share) + power[:, lower + 1] * share + 1e-7)
    level -= uniform_filter1d(level, BINS_PER_OCTAVE, axis=1, mode="nearest")
    level -= uniform_filter1d(level, round(12 / FRAME_S), axis=0, mode="nearest")
    expected = np.clip(level / level.std(), -3, 3)
    np.testing.assert_allclose(made.level(0, rows), expected, atol=0.06)  # two roundings to 1/28 and 1/40
    assert np.std(made.level(0, rows) - expected) < 0.03


@pytest.mark.parametrize(
    ("seed", "cylinders", "noise", "drift_ppm"),
    [(0, 4, 0.5, 300), (1, 6, 1.0, -100), (2, 8, 2.0, 40), (3, 2, 4.0, 0), (5, 3, 1.0, -300)],
)
def test_the_clock_is_found_within_a_quarter_frame(seed: int, cylinders: int, noise: float, drift_ppm: float) -> None:
    log = engine_log(200, seed)
    rate, offset_s = 1 + drift_ppm * 1e-6, -7.37
    sound = engine_sound(log, 190, offset_s=offset_s, rate=rate, cylinders=cylinders, noise=noise)
    best = hear(spectrogram([sound], 0.0), engine_track(log.time_s, log.engine_rad_s)).candidates[0]
    assert best.fits
    for log_s in (8.0, 100.0, 195.0):
        error_s = best.clock.to_media_s(log_s) - (rate * log_s + offset_s)
        assert abs(error_s) < ONE_FRAME_S / 4
        assert abs(error_s) < best.clock.half_width_s(log_s)


@pytest.mark.parametrize("seed", range(3))
def test_a_foreign_log_never_fits(seed: int) -> None:
    log, foreign = engine_log(200, seed), engine_log(200, seed + 100)
    sound = engine_sound(log, 190, offset_s=3.0)
    evidence = hear(spectrogram([sound], 0.0), engine_track(foreign.time_s, foreign.engine_rad_s))
    assert not any(candidate.fits for candidate in evidence.candidates)


def test_another_session_on_the_same_circuit_never_fits() -> None:
    # The hardest wrong pair: same circuit, same shifts, lap times a little different.
    log = engine_log(200, 4)
    sound = engine_sound(log, 190, offset_s=3.0)
    slower = engine_track(log.time_s * 1.012, log.engine_rad_s)
    assert not any(candidate.fits for candidate in hear(spectrogram([sound], 0.0), slower).candidates)


@pytest.mark.parametrize(
    ("engine", "loudness", "words"),
    [
        (np.full(20000, 500.0), 0.2, "hardly changes"),
        (np.zeros(20000), 0.2, "never above idle"),
        (np.linspace(300, 700, 20000), 0.0, "silent"),
    ],
)
def test_what_says_nothing_is_named(engine: np.typing.NDArray[np.float64], loudness: float, words: str) -> None:
    sound = (loudness * np.random.default_rng(0).normal(size=190 * SAMPLE_RATE_HZ)).astype(np.float32)
    evidence = hear(spectrogram([sound], 0.0), engine_track(np.arange(20000) / 100, engine))
    assert not evidence.candidates
    assert words in evidence.why_not


def test_too_little_in_common_gives_no_offsets() -> None:
    log = engine_log(12, 0)
    sound = engine_sound(log, 12, offset_s=0.0)
    scores, _ = score_offsets(spectrogram([sound], 0.0), engine_track(log.time_s, log.engine_rad_s))
    assert not scores.offset_s.size
