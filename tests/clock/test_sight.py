"""The same place looks the same each lap."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from syncview.channels import FloatArray
from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import LapStart, LogLaps
from syncview.clock.sight import reduced, seen_lag_s
from syncview.clock.sight_check import check_sight

LAP_M = 1500.0


def landscape(seed: int = 0) -> NDArray[np.float64]:
    """A strip of scenery along the lap, 0.25 m a column, closed."""
    rng = np.random.default_rng(seed)
    strip = gaussian_filter(rng.normal(size=(54, round(LAP_M * 4))), (2, 8), mode=("nearest", "wrap"))
    return np.asarray(128 + 90 * strip / np.abs(strip).max(), dtype=np.float64)


def view(strip: NDArray[np.float64], metres: float, light: float, seed: int) -> NDArray[np.uint8]:
    """The scenery seen from a place: what lies 0 to 96 columns ahead; noise and light of its own."""
    at = round(metres * 4) % strip.shape[1]
    columns = (at + np.arange(96)) % strip.shape[1]
    noise = np.random.default_rng(seed).normal(0, 4, (54, 96))
    return np.clip(strip[:, columns] * light + noise, 0, 255).astype(np.uint8)


class Drive:
    """Laps at a speed that varies along the lap, each a little differently."""

    def __init__(self, seed: int, laps: int = 4, unlike: float = 0.005) -> None:
        rng = np.random.default_rng(seed)
        along = np.linspace(0, 1, 400, endpoint=False)
        pace = 30 + 10 * np.sin(2 * np.pi * 3 * along)
        steps = []
        for _ in range(laps):
            own = pace * (
                1 + 0.03 * np.sin(2 * np.pi * (along * rng.integers(1, 4) + rng.random())) + rng.normal(0, unlike)
            )
            steps.append(LAP_M / 400 / own)
        self.log_s = 5.0 + np.concatenate(([0.0], np.cumsum(np.concatenate(steps))))
        self.metres = np.arange(self.log_s.size) * (LAP_M / 400)
        self.starts_s: FloatArray = self.log_s[::400]

    def laps(self) -> LogLaps:
        return LogLaps(tuple(LapStart(float(s), 1e-4, i + 1) for i, s in enumerate(self.starts_s)), "made")

    def pictures(
        self, offset_s: float, spans: Iterable[tuple[float, float]]
    ) -> Iterator[tuple[float, NDArray[np.uint8]]]:
        strip = landscape()
        for begin, end in spans:
            for k in range(round(begin * 30), round(end * 30)):
                log_s = k / 30 - offset_s
                if self.log_s[0] <= log_s <= self.log_s[-1]:
                    metres = float(np.interp(log_s, self.log_s, self.metres))
                    yield k / 30, view(strip, metres, 0.7 + 0.3 * np.sin(k / 900), k)


OFFSET_S = 2.5
DRIVE = Drive(1)
END_S = float(DRIVE.log_s[-1]) + OFFSET_S
KEYS_S = np.arange(0.0, END_S, 2.0)


def check(clock: ClockMap) -> str:
    return check_sight(clock, DRIVE.laps(), END_S, lambda spans: DRIVE.pictures(OFFSET_S, spans), KEYS_S).verdict


def test_the_right_clock_puts_the_same_place_under_every_lap_start() -> None:
    found = check_sight(ClockMap(OFFSET_S), DRIVE.laps(), END_S, lambda spans: DRIVE.pictures(OFFSET_S, spans), KEYS_S)
    assert found.verdict == "agrees"
    assert max(abs(error) for error in found.errors_s) < 0.035  # a frame at 30 per second


def test_a_whole_lap_off_contradicts() -> None:
    drive = Drive(3, unlike=0.015)
    end_s = float(drive.log_s[-1]) + OFFSET_S
    for off_s in (drive.starts_s[1] - drive.starts_s[0], drive.starts_s[3] - drive.starts_s[4]):
        clock = ClockMap(OFFSET_S + float(off_s))
        found = check_sight(clock, drive.laps(), end_s, lambda spans: drive.pictures(OFFSET_S, spans), KEYS_S)
        assert found.verdict == "contradicts", found


def test_a_whole_lap_off_does_not_agree_when_laps_are_near_equal() -> None:
    lap_s = float(DRIVE.starts_s[1] - DRIVE.starts_s[0])
    assert np.ptp(np.diff(DRIVE.starts_s)) < 0.25
    assert check(ClockMap(OFFSET_S + lap_s)) != "agrees"
    assert check(ClockMap(OFFSET_S - lap_s)) != "agrees"


def test_another_sessions_laps_contradict_or_say_nothing() -> None:
    other = Drive(7).laps()
    found = check_sight(ClockMap(OFFSET_S), other, END_S, lambda spans: DRIVE.pictures(OFFSET_S, spans), KEYS_S)
    assert found.verdict != "agrees"


def test_darkness_says_nothing() -> None:
    black = np.zeros((54, 96), dtype=np.uint8)
    found = check_sight(
        ClockMap(OFFSET_S),
        DRIVE.laps(),
        END_S,
        lambda spans: ((t, black) for begin, end in spans for t in np.arange(begin, end, 0.04)),
        KEYS_S,
    )
    assert found.verdict == "says nothing"


@pytest.mark.parametrize("off_s", [0.1, -0.2, 0.4, -0.5, 0.8])
def test_one_lap_start_off_never_passes_the_first_look(off_s: float) -> None:
    """Lap times of which one is wrong: the narrow windows must not find the place where it is not."""
    starts = list(DRIVE.laps().starts)
    late = [LapStart(s.log_s + (off_s if i % 2 else 0.0), s.sigma_s, s.number) for i, s in enumerate(starts)]
    found = check_sight(
        ClockMap(OFFSET_S),
        LogLaps(tuple(late), "made"),
        END_S,
        lambda spans: DRIVE.pictures(OFFSET_S, spans),
        KEYS_S,
    )
    assert found.verdict == ("contradicts" if abs(off_s) > 0.15 else "says nothing")


def test_the_right_clock_costs_a_few_seconds_of_decoding() -> None:
    asked: list[tuple[float, float]] = []

    def pictures(spans: list[tuple[float, float]]) -> Iterator[tuple[float, NDArray[np.uint8]]]:
        asked.extend(spans)
        return DRIVE.pictures(OFFSET_S, spans)

    assert check_sight(ClockMap(OFFSET_S), DRIVE.laps(), END_S, pictures, KEYS_S).verdict == "agrees"
    assert len(asked) <= 4
    assert sum(end - KEYS_S[begin >= KEYS_S][-1] for begin, end in asked) < 4 * 2.3


@pytest.mark.parametrize("along", [0.1, 0.45, 0.8])
def test_the_lag_is_the_time_to_the_same_place_anywhere_on_the_lap(along: float) -> None:
    first, second = (float(np.interp(lap * LAP_M + along * LAP_M, DRIVE.metres, DRIVE.log_s)) for lap in (1, 2))
    spans = [(first + OFFSET_S - 0.2, first + OFFSET_S + 0.2), (second + OFFSET_S - 1.5, second + OFFSET_S + 1.5)]
    views = reduced(DRIVE.pictures(OFFSET_S, spans))
    moment_s = float(views.time_s[6])
    there_m = float(np.interp(moment_s - OFFSET_S, DRIVE.log_s, DRIVE.metres))
    lag_s = float(np.interp(there_m + LAP_M, DRIVE.metres, DRIVE.log_s)) + OFFSET_S - moment_s
    found = seen_lag_s(views, moment_s, lag_s - 1.0, lag_s + 1.2)
    assert found == pytest.approx(lag_s, abs=0.02)
    assert seen_lag_s(views, moment_s + 10, lag_s - 1.0, lag_s + 1.2) is None, "nothing was seen there"
    assert seen_lag_s(views, moment_s, lag_s + 0.2, lag_s + 1.2) is None, "it comes earlier"
