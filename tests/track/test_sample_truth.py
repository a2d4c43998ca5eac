"""The sample session against what is true of it (its recipe's own record)."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from syncview.channels import open_log
from syncview.clock.log_lap_starts import find_lap_starts
from syncview.track.corner_facts import CornerFacts
from syncview.track.distance import build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from syncview.track.facts import session_facts

SAMPLE = Path(__file__).parents[2] / "sample_media"
LAPS = (1, 2, 3)


@cache
def truth() -> dict[str, Any]:
    data: dict[str, Any] = json.loads((SAMPLE / "truth.json").read_text(encoding="utf-8"))
    return data


@cache
def measured() -> tuple[FactBasis, dict[tuple[int, int], CornerFacts]]:
    log = open_log(SAMPLE / "session.csv")
    starts_s = np.array([start.log_s for start in find_lap_starts(log).starts])
    basis = prepare_facts(build_track(log, starts_s), log)
    return basis, session_facts(basis)


def events(lap: int, kind: str) -> list[tuple[int, dict[str, Any]]]:
    """(corner, true event) of those corners that have it on this lap."""
    corners = truth()["laps"][lap - 1]["corners"]
    return [(int(number), corner[kind]) for number, corner in corners.items() if corner[kind] is not None]


def place_m(event: dict[str, Any]) -> float:
    """Lap distance of a true position on the reference line that was measured."""
    line = measured()[0].track.line
    assert line is not None
    return float(line.place_of(np.radians([event["lat"]]), np.radians([event["lon"]]))[0][0])


def beside_m(value: float | None, event: dict[str, Any]) -> float:
    assert value is not None
    length_m = measured()[0].track.lap_length_m
    return (value - place_m(event) + length_m / 2) % length_m - length_m / 2


def test_lap_times() -> None:
    track = measured()[0].track
    assert [lap.number for lap in track.timed] == list(LAPS)
    assert [lap.time_ms for lap in track.timed] == pytest.approx(truth()["lap_times_ms"], abs=2)
    assert track.best is not None
    assert track.best.time_ms == pytest.approx(min(truth()["lap_times_ms"]), abs=2)


def test_lap_length() -> None:
    lengths = [lap["driven_length_m"] for lap in truth()["laps"]]
    track = measured()[0].track
    assert track.best is not None
    assert track.lap_length_m == pytest.approx(lengths[track.best.number - 1], abs=1.0)


def test_all_corners_and_no_others() -> None:
    found = measured()[0].corners
    assert [(c.number, c.side) for c in found] == [(c["number"], c["side"]) for c in truth()["corners"]]
    assert [c.number for c in found if c.flat] == [c["number"] for c in truth()["corners"] if c["kind"] == "kink"]


@pytest.mark.parametrize("lap", LAPS)
def test_apexes(lap: int) -> None:
    """Within 5 m; the flat kink's top is 60 m long (200 m radius and more), so it is left out."""
    basis, facts = measured()
    for number, event in events(lap, "apex"):
        if not basis.corners[number - 1].flat:
            assert abs(beside_m(facts[lap, number].apex.distance_m.value, event)) < 5.0


@pytest.mark.parametrize("lap", LAPS)
def test_brake_onsets(lap: int) -> None:
    """Within 3 m and 10 ms; true onset is 2 % of the pedal, the fact's 5 % of the session's hardest braking."""
    _, facts = measured()
    for number, event in events(lap, "brake_onset"):
        brake = facts[lap, number].brake
        assert abs(beside_m(brake.distance_m.value, event)) < 3.0
        assert brake.log_s.value == pytest.approx(event["log_s"], abs=0.01)
        assert brake.peak.value is not None
        assert 100 * brake.peak.value == pytest.approx(
            truth()["laps"][lap - 1]["corners"][str(number)]["peak_brake_pct"], abs=2
        )
    braked = {number for number, _ in events(lap, "brake_onset")}
    assert braked == {corner for (of, corner), fact in facts.items() if of == lap and fact.brake.log_s.known}


@pytest.mark.parametrize("lap", LAPS)
def test_slowest_places_and_gears(lap: int) -> None:
    _, facts = measured()
    for number, event in events(lap, "min_speed"):
        slowest = facts[lap, number].slowest
        assert slowest.speed_mps.value is not None
        assert 3.6 * slowest.speed_mps.value == pytest.approx(event["speed_kmh"], abs=0.5)
        assert abs(beside_m(slowest.distance_m.value, event)) < 3.0
        assert facts[lap, number].gears.lowest.value == truth()["laps"][lap - 1]["corners"][str(number)]["gear_min"]


@pytest.mark.parametrize("lap", LAPS)
@pytest.mark.parametrize("kind", ["throttle_pickup", "full_throttle"])
def test_throttle(lap: int, kind: str) -> None:
    """Pickup within 2 m (5 and 6 %), full throttle within 3 m (98 and 95 %)."""
    _, facts = measured()
    for number, event in events(lap, kind):
        fact = facts[lap, number].pickup if kind == "throttle_pickup" else facts[lap, number].full
        assert abs(beside_m(fact.distance_m.value, event)) < (2.0 if kind == "throttle_pickup" else 3.0)


def test_the_one_catch() -> None:
    """The recipe has one slide, at the exit of corner 8 on lap 3."""
    _, facts = measured()
    assert {key: fact.steering.reversals.value for key, fact in facts.items() if fact.steering.reversals.value} == {
        (3, 8): 1
    }
