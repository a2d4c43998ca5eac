"""Lap starts between samples, and what is not a lap start."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import ROLES, FloatArray, SessionLog, Signal
from syncview.clock.log_lap_starts import driven_m, find_lap_starts
from syncview.errors import LogError


def make_log(time_s: FloatArray, **channels: FloatArray) -> SessionLog:
    roles = {role.name: role for role in ROLES}
    signals = {
        name: Signal(roles[name], name, np.asarray(values, dtype=float), roles[name].unit)
        for name, values in channels.items()
    }
    return SessionLog("made.csv", time_s, signals)


def drive(
    rate_hz: float, *, lap_m: float = 2000.0, laps: float = 3.4, first_m: float = 700.0
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Time, driven metres beyond the line, speed, and the exact crossings, from a smooth speed."""
    fine = np.arange(0, 300, 1e-3)
    speed = 35 + 12 * np.sin(fine / 7) + 6 * np.sin(fine / 2.3)
    metres = first_m + np.concatenate(([0], np.cumsum((speed[1:] + speed[:-1]) / 2 * 1e-3)))
    crossings = np.interp(np.arange(1, laps) * lap_m, metres, fine)
    time_s = np.arange(0.0013, crossings[-1] + 20, 1 / rate_hz)
    return time_s, np.interp(time_s, fine, metres), np.interp(time_s, fine, speed), crossings


@pytest.mark.parametrize(("rate_hz", "within_s"), [(100, 0.0002), (20, 0.002), (10, 0.004)])
def test_crossings_are_placed_between_samples(rate_hz: float, within_s: float) -> None:
    time_s, metres, speed, crossings = drive(rate_hz)
    log = make_log(time_s, lap=metres // 2000, lap_distance=metres % 2000, speed=speed)
    laps = find_lap_starts(log)
    assert laps.starts_s[: crossings.size] == pytest.approx(crossings, abs=within_s)
    assert [start.number for start in laps.starts][:3] == [1, 2, 3]


def test_distance_resets_alone_are_enough() -> None:
    time_s, metres, speed, crossings = drive(50)
    laps = find_lap_starts(make_log(time_s, lap_distance=metres % 2000, speed=speed))
    assert laps.starts_s[: crossings.size] == pytest.approx(crossings, abs=0.001)


def test_a_counter_alone_is_placed_midway_and_says_how_exactly() -> None:
    time_s, metres, _, crossings = drive(20)
    laps = find_lap_starts(make_log(time_s, lap=metres // 2000))
    assert np.abs(laps.starts_s[: crossings.size] - crossings).max() <= 0.025
    # A uniform distribution over one sample: standard deviation = width / sqrt(12).
    assert laps.starts[0].sigma_s == pytest.approx(0.05 / np.sqrt(12))
    assert "midway" in laps.source


def test_spurious_steps_are_left_out_with_the_reason() -> None:
    time_s, metres, speed, crossings = drive(50)
    lap = metres // 2000
    lap[(time_s > crossings[1] + 10)] += 1  # someone pressed the button in the middle of a lap
    laps = find_lap_starts(make_log(time_s, lap=lap, speed=speed))
    assert laps.starts_s[: crossings.size] == pytest.approx(crossings, abs=0.02)
    (wrong,) = laps.rejected
    assert wrong.log_s == pytest.approx(crossings[1] + 10, abs=0.05)
    assert "after the lap start before" in wrong.reason


def test_steps_while_standing_and_set_back_counters_are_told_apart() -> None:
    time_s, metres, speed, crossings = drive(50)
    lap = metres // 2000
    stand = np.arange(time_s[-1] + 0.02, time_s[-1] + 30, 0.02)
    lap_end = np.where(stand > stand[0] + 20, 0, lap[-1] + (stand > stand[0] + 10))
    log = make_log(
        np.concatenate((time_s, stand)),
        lap=np.concatenate((lap, lap_end)),
        speed=np.concatenate((speed, np.zeros(stand.size))),
    )
    laps = find_lap_starts(log)
    assert laps.starts_s == pytest.approx(crossings, abs=0.02)
    reasons = [wrong.reason for wrong in laps.rejected]
    assert any("stands" in reason for reason in reasons)
    assert any("set back" in reason for reason in reasons)


def test_a_crossing_in_a_hole_is_not_placed() -> None:
    time_s, metres, speed, crossings = drive(50)
    kept = (time_s < crossings[1] - 4) | (time_s > crossings[1] + 5)
    laps = find_lap_starts(
        make_log(time_s[kept], lap=metres[kept] // 2000, lap_distance=metres[kept] % 2000, speed=speed[kept])
    )
    assert laps.starts_s == pytest.approx(np.delete(crossings, 1), abs=0.001)
    (wrong,) = laps.rejected
    assert "in a hole of 9.0 s" in wrong.reason
    brief = np.abs(time_s - crossings[1]) < 15
    with pytest.raises(LogError, match=r"no lap start was found .* in a hole of 9.0 s in the data\)"):
        find_lap_starts(make_log(time_s[kept & brief], lap=metres[kept & brief] // 2000))


def test_neither_counter_nor_distance_is_refused_with_the_remedy() -> None:
    with pytest.raises(LogError, match=r"neither a lap counter nor a lap distance.*--role lap="):
        find_lap_starts(make_log(np.arange(10.0), speed=np.ones(10)))


def test_no_crossing_is_refused() -> None:
    with pytest.raises(LogError, match="no lap start"):
        find_lap_starts(make_log(np.arange(10.0), lap=np.zeros(10), speed=np.ones(10)))


def test_driven_metres_bridge_missing_speed() -> None:
    speed = np.array([10.0, np.nan, 10.0, 20.0])
    assert driven_m(np.arange(4.0), speed) == pytest.approx([0, 10, 20, 35])
