"""Lap times and which laps stand for the driving."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.errors import LogError, SyncviewError
from syncview.track.laps import IN_LAP, OUT_LAP, format_gap_ms, format_ms, lap_table, parse_lap_time, whole_ms
from tests.track.made import FloatArray, make_log

LAP_S = 60.0


@pytest.mark.parametrize(
    ("time_ms", "text"),
    [  # Worked values of the project's standards sheet, section 9 (lap times).
        (83_456, "1:23.456"),
        (60_000, "1:00.000"),
        (59_999, "0:59.999"),
        (61 * 60_000, "61:00.000"),
        (0, "0:00.000"),
        (-545, "-0:00.545"),
    ],
)
def test_format(time_ms: int, text: str) -> None:
    assert format_ms(time_ms) == text


def test_rounding_never_shows_sixty_seconds() -> None:
    assert format_ms(whole_ms(59.9996)) == "1:00.000"
    assert format_ms(59_999 + 1) == "1:00.000"


def test_half_milliseconds_go_to_even() -> None:
    # 0.0625 s and 0.1875 s are exact in binary: 62.5 ms and 187.5 ms.
    assert (whole_ms(0.0625), whole_ms(0.1875)) == (62, 188)


def test_gap_is_signed() -> None:
    assert format_gap_ms(83_456 - 84_001) == "-0.545"
    assert format_gap_ms(1002) == "+1.002"
    assert format_gap_ms(0) == "0.000"


@given(st.integers(0, 10**8))
def test_parse_reads_what_format_writes(time_ms: int) -> None:
    assert parse_lap_time(format_ms(time_ms)) == time_ms


@pytest.mark.parametrize(
    ("text", "time_ms"), [("83.456", 83_456), (" 1:23.4 ", 83_400), ("1:23", 83_000), ("0.5", 500)]
)
def test_parse_other_spellings(text: str, time_ms: int) -> None:
    assert parse_lap_time(text) == time_ms


@pytest.mark.parametrize(
    "text", ["", "1:60.000", "1:2:3", "-1:00.000", "1:23.4567", "1:23,456", "nan", "1:3.0", "１:00"]
)
def test_parse_refuses(text: str) -> None:
    with pytest.raises(SyncviewError, match="not a lap time"):
        parse_lap_time(text)


def session(
    lap_speeds: list[float], *, rate_hz: float = 10, lap_m: float = 3000.0, lead_s: float = 5.0
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Constant speed on every lap, with a lead in and out."""
    times = [lap_m / v for v in lap_speeds]
    starts = lead_s + np.concatenate(([0.0], np.cumsum(times)))
    time_s = np.arange(0.0, starts[-1] + lead_s, 1 / rate_hz)
    which = np.clip(np.searchsorted(starts, time_s, side="right") - 1, 0, len(times) - 1)
    return time_s, np.array(lap_speeds)[which], starts


@given(st.lists(st.floats(0.001, 500.0), min_size=1, max_size=12))
def test_laps_add_up_to_their_span(steps_s: list[float]) -> None:
    starts = np.cumsum([1.0, *steps_s])
    log = make_log(np.array([0.0, starts[-1] + 1]))
    laps = lap_table(log, starts).timed
    assert sum(lap.time_ms for lap in laps) == whole_ms(float(starts[-1])) - whole_ms(float(starts[0]))


def test_out_lap_and_in_lap_are_listed_untimed() -> None:
    time_s, speed, starts = session([50, 51, 50])
    table = lap_table(make_log(time_s, speed=speed), starts)
    assert [(lap.number, lap.timed) for lap in table.laps] == [(0, False), (1, True), (2, True), (3, True), (4, False)]
    assert (table.laps[0].remark, table.laps[-1].remark) == (OUT_LAP, IN_LAP)
    assert table.best is not None
    assert table.best.number == 2


def test_log_from_line_to_line_has_no_out_lap() -> None:
    time_s = np.arange(0, 60.05, 0.1)
    table = lap_table(make_log(time_s, speed=np.full(time_s.size, 50.0)), np.array([0.0, time_s[-1]]))
    assert [lap.number for lap in table.laps] == [1]


def test_numbers_follow_a_steady_counter() -> None:
    time_s, speed, starts = session([50, 51, 50])
    counter = np.asarray(np.searchsorted(starts, time_s, side="right") + 6, dtype=np.float64)
    table = lap_table(make_log(time_s, speed=speed, lap=counter), starts)
    assert [lap.number for lap in table.laps] == [6, 7, 8, 9, 10]


def test_numbers_ignore_a_counter_that_jumps() -> None:
    time_s, speed, starts = session([50, 51, 50])
    counter = np.asarray(2 * np.searchsorted(starts, time_s, side="right"), dtype=np.float64)
    assert [lap.number for lap in lap_table(make_log(time_s, speed=speed, lap=counter), starts).timed] == [1, 2, 3]


def test_a_stop_is_named_and_never_best() -> None:
    time_s, speed, starts = session([50, 60, 50])
    speed[(time_s > starts[1] + 20.05) & (time_s < starts[1] + 23.05)] = 0.0
    table = lap_table(make_log(time_s, speed=speed), starts)
    assert "the car stood for 2.9 s" in table.timed[1].remark
    assert table.best is not None
    assert table.best.number != 2


def test_a_short_halt_is_no_stop() -> None:
    time_s, speed, starts = session([50, 50])
    speed[(time_s > 20) & (time_s < 21.5)] = 0.5
    assert all("stood" not in lap.remark for lap in lap_table(make_log(time_s, speed=speed), starts).laps)


def test_a_hole_is_named() -> None:
    time_s, speed, starts = session([50, 50, 50])
    kept = (time_s < starts[1] + 10.05) | (time_s > starts[1] + 11.95)
    table = lap_table(make_log(time_s[kept], speed=speed[kept]), starts)
    assert table.timed[1].remark == "the data have a hole of 2.0 s"
    assert [lap.representative for lap in table.timed] == [True, False, True]


def test_a_cut_lap_is_named_and_never_best() -> None:
    time_s, speed, starts = session([50, 50, 50, 50])
    cut = starts.copy()
    cut[2:] -= 6.0
    cut[3:] += 6.0
    table = lap_table(make_log(time_s, speed=speed), cut)
    assert "10% less" in table.timed[1].remark
    assert table.best is not None
    assert table.best.number in (1, 4)


def test_a_slow_lap_is_named() -> None:
    time_s, speed, starts = session([50, 35, 50])
    table = lap_table(make_log(time_s, speed=speed), starts)
    assert table.timed[1].remark == "1.43 times the best time"


def test_there_may_be_no_best_lap() -> None:
    time_s, speed, starts = session([50])
    speed[200:260] = 0.0
    assert lap_table(make_log(time_s, speed=speed), starts).best is None
    assert lap_table(make_log(time_s, speed=speed), starts[:1]).best is None


def test_no_crossing_leaves_one_untimed_lap() -> None:
    table = lap_table(make_log(np.arange(0, 10, 0.1)), np.array([]))
    assert [(lap.timed, lap.remark) for lap in table.laps] == [(False, "there is no line crossing in the log")]


@pytest.mark.parametrize("starts", [[5.0, 4.0], [5.0, 5.0], [1.0, float("nan")], [-1.0, 5.0], [1.0, 11.0]])
def test_impossible_crossings_are_refused(starts: list[float]) -> None:
    with pytest.raises(LogError):
        lap_table(make_log(np.arange(0, 10, 0.1)), np.array(starts))


def test_speed_without_values_is_no_obstacle() -> None:
    time_s = np.arange(0, 130, 0.1)
    table = lap_table(make_log(time_s, speed=np.full(time_s.size, np.nan)), np.array([1.0, 61.0, 121.0]))
    assert len(table.timed) == 2
