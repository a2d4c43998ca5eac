"""Columns to roles, and values between samples."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import ROLE_NAMES, SessionLog, match_roles, open_log, sample_at
from syncview.errors import LogError
from syncview_codecs.logs import Channel, LogTable


def table(**columns: tuple[list[float], str | None, str]) -> LogTable:
    channels = tuple(Channel(n.replace("_", " "), np.array(v, dtype=float), u, w) for n, (v, u, w) in columns.items())
    return LogTable("run.csv", np.arange(3.0), channels)


def match(source: LogTable, roles: dict[str, str] | None = None, units: dict[str, str] | None = None) -> SessionLog:
    return match_roles(source, roles=roles or {}, units=units or {})


SPEED = ([10.0, 20.0, 30.0], "m/s", "km/h")


@pytest.mark.parametrize(
    ("heading", "role", "unit"),
    [
        ("speed", "speed", "m/s"),
        ("Vehicle_Speed", "speed", "m/s"),
        ("engine speed", "engine_speed", "rad/s"),
        ("RPM", "engine_speed", "rad/s"),
        ("Throttle position", "throttle", "1"),
        ("brake pressure", "brake", "Pa"),
        ("steering angle", "steering", "rad"),
        ("steering wheel angle", "steering", "rad"),
        ("yaw rate", "yaw_rate", "rad/s"),
        ("lateral acceleration", "lateral_acceleration", "m/s²"),
        ("G long", "longitudinal_acceleration", "m/s²"),
        ("Latitude", "latitude", "rad"),
        ("lap distance", "lap_distance", "m"),
        ("ambient temp", "air_temperature", "K"),
    ],
)
def test_headings_are_known_by_their_words(heading: str, role: str, unit: str) -> None:
    source = LogTable("run.csv", np.arange(3.0), (Channel(heading, np.arange(3.0), unit, unit),))
    log = match(source)
    assert list(log.signals) == [role]
    assert log.signals[role].source == heading


def test_a_column_serves_one_role() -> None:
    log = match(table(speed=SPEED, engine_speed=([500.0] * 3, "rad/s", "rpm")))
    assert log.signals["speed"].source == "speed"
    assert log.signals["engine_speed"].source == "engine speed"


def test_two_columns_for_one_role_are_said() -> None:
    log = match(table(gps_speed=SPEED, wheel_speed=SPEED))
    assert log.signals["speed"].source == "wheel speed"
    assert "not from" not in " ".join(log.warnings)
    log = match(table(throttle=([0.1, 0.5, 1.0], "1", "%"), Throttle=([0.1, 0.5, 1.0], "1", "%")))
    assert "--role throttle=COLUMN" in log.warnings[0]


def test_the_persons_word_wins() -> None:
    log = match(table(speed=SPEED, gps_speed=SPEED), roles={"speed": "GPS speed"}, units={"gps speed": "mph"})
    assert log.signals["speed"].source == "gps speed"
    # Written in km/h by the heading, said to be mph: 36 written is 36 mph = 16.09344 m/s (NIST SP 811).
    assert log.signals["speed"].values[0] == pytest.approx(36 * 0.44704)


def test_speed_without_unit_is_refused_with_the_remedy() -> None:
    with pytest.raises(LogError, match=r"speed” is the speed but states no unit.*--unit 'speed=UNIT'"):
        match(table(speed=([1.0, 2.0, 3.0], None, "")))


def test_an_unknown_unit_is_refused_and_named() -> None:
    with pytest.raises(LogError, match="“furlong/week2”, which is not known"):
        match(table(speed=([1.0, 2.0, 3.0], None, "furlong/week2")))


@pytest.mark.parametrize(("most", "factor"), [(100.0, 0.01), (1.0, 1.0)])
def test_pedals_without_unit_are_read_by_their_range_and_it_is_said(most: float, factor: float) -> None:
    log = match(table(throttle=([0.0, most / 2, most], None, "")))
    assert log.signals["throttle"].values[2] == pytest.approx(most * factor)
    assert "states no unit" in log.warnings[0]


def test_unknown_roles_and_columns_are_refused() -> None:
    with pytest.raises(LogError, match="“wings” is not a role"):
        match(table(speed=SPEED), roles={"wings": "speed"})
    with pytest.raises(LogError, match="no column “sped”"):
        match(table(speed=SPEED), roles={"speed": "sped"})


def test_a_missing_channel_names_its_purpose() -> None:
    with pytest.raises(LogError, match="no brake channel, which is needed to find braking points"):
        match(table(speed=SPEED)).need("brake", "to find braking points")


def test_values_between_samples_are_numpys_own() -> None:
    time_s = np.arange(0, 10, 0.5)
    values = np.sin(time_s)
    at = np.linspace(0, 9.4, 77)
    assert sample_at(time_s, values, at) == pytest.approx(np.interp(at, time_s, values))


def test_no_value_is_made_up_outside_or_across_a_hole() -> None:
    time_s = np.array([0.0, 0.5, 1.0, 5.0, 5.5])
    values = np.array([1.0, np.nan, 3.0, 4.0, 5.0])
    found = sample_at(time_s, values, np.array([-0.1, 0.5, 1.0, 3.0, 5.0, 5.25, 5.6]))
    assert found == pytest.approx([np.nan, 2.0, 3.0, np.nan, 4.0, 4.5, np.nan], nan_ok=True)


def test_gears_hold_until_the_next_sample() -> None:
    assert sample_at(np.arange(3.0), np.array([2.0, 3.0, 4.0]), np.array([0.9, 1.0, 1.5]), stepped=True).tolist() == [
        2.0, 3.0, 3.0,
    ]  # fmt: skip


def test_a_missing_file_and_a_folder_are_said(tmp_path: object) -> None:
    from pathlib import Path

    folder = Path(str(tmp_path))
    with pytest.raises(LogError, match="no such file"):
        open_log(folder / "none.csv")
    with pytest.raises(LogError, match="a folder"):
        open_log(folder)


def test_role_names_are_unique() -> None:
    assert len(set(ROLE_NAMES)) == len(ROLE_NAMES)
