"""What the steps show."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from syncview.desk.opening.looks import (
    as_written,
    frames_at,
    free_project_path,
    lap_speeds,
    look_at_log,
    new_project,
    read_table,
)
from syncview.errors import ProjectError
from syncview.project import load

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording

SAMPLE = Path(__file__).parents[3] / "sample_media"


def written(path: Path, text: str) -> Path:
    path.write_text(text)
    return path


def test_a_log_that_fits() -> None:
    look = look_at_log(read_table(SAMPLE / "session.csv"), {}, {})
    assert look.fault is None
    assert look.log is not None
    assert look.log.signals["speed"].source == "speed"
    low, high = look.ranges["speed"]
    speeds_kmh = np.genfromtxt(SAMPLE / "session.csv", delimiter=",", names=True, deletechars="")["speed_[km/h]"]
    assert (low, high) == pytest.approx((speeds_kmh.min(), speeds_kmh.max()), abs=1e-9)
    spark = look.sparks["speed"]
    assert float(np.nanmin(spark.low)) == pytest.approx(low)
    assert float(np.nanmax(spark.high)) == pytest.approx(high)


def test_columns_that_do_not_fit_are_shown_beside_those_that_do(tmp_path: Path) -> None:
    rows = "\n".join(f"{i / 10},{i},{i % 3},{i}" for i in range(50))
    path = written(tmp_path / "run.csv", f"time,speed,steering,rpm\n{rows}\n")
    look = look_at_log(read_table(path), {}, {})
    assert look.fault is not None
    assert "speed" in look.fault.problem
    assert look.misfits == {"speed": "speed", "steering": "steering"}
    assert look.log is not None
    assert set(look.log.signals) == {"engine_speed"}
    look = look_at_log(read_table(path), {}, {"speed": "km/h", "steering": "deg"})
    assert look.fault is None
    assert look.log is not None
    assert look.log.signals["speed"].values[36] == pytest.approx(10.0)


def test_a_unit_that_is_none(tmp_path: Path) -> None:
    path = written(tmp_path / "run.csv", "time,speed\n0,1\n1,2\n2,3\n")
    look = look_at_log(read_table(path), {}, {"speed": "zork"})
    assert look.fault is not None
    assert "zork" in look.fault.problem


def test_values_as_written(tmp_path: Path) -> None:
    path = written(tmp_path / "run.csv", "time,speed [mph]\n0,10\n1,20\n2,60\n")
    assert as_written(read_table(path), "speed") == pytest.approx([10.0, 20.0, 60.0])


def test_frames(sample_recording: Recording) -> None:
    frames = frames_at(sample_recording, [Fraction(1), 2.0, -1.0, 1e6], width=64)
    assert [frame is not None for frame in frames] == [True, True, False, False]
    assert frames[0] is not None
    assert frames[0].rgb.shape == (36, 64, 3)
    assert frames[0].media_s == sample_recording.frames.media_s(sample_recording.frames.index_at(Fraction(1)))


def test_a_lap_s_speeds(sample_session: Session) -> None:
    at_m, speed_mps = lap_speeds(sample_session, 1)
    lap = next(lap for lap in sample_session.track.timed if lap.number == 1)
    # Distance over speed adds up to the lap time: the same definition of speed by another road.
    time_s = float(np.sum(np.diff(at_m) * 2 / (speed_mps[1:] + speed_mps[:-1])))
    assert time_s == pytest.approx(lap.time_ms / 1000, rel=0.005)


def test_a_new_project(tmp_path: Path) -> None:
    path = tmp_path / "p.syncview.json"
    made = new_project(
        SAMPLE / "session.mp4",
        SAMPLE / "session.csv",
        path,
        roles={"speed": "speed"},
        column_units={},
        units="imperial",
    )
    assert load(path) == made
    assert made.units == "imperial"
    with pytest.raises(ProjectError, match="exists"):
        new_project(SAMPLE / "session.mp4", SAMPLE / "session.csv", path, roles={}, column_units={}, units="metric")


def test_a_name_that_is_free(tmp_path: Path) -> None:
    film = tmp_path / "a.mp4"
    assert free_project_path(film).name == "a.syncview.json"
    free_project_path(film).touch()
    assert free_project_path(film).name == "a-2.syncview.json"
