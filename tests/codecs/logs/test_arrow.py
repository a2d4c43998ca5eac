"""Parquet and Feather as pyarrow and pandas write them; values must come back equal."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.feather
import pyarrow.parquet
import pytest

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import read_log

Write = Callable[[Any, Path], None]


def _parquet(table: Any, path: Path) -> None:
    pyarrow.parquet.write_table(table, path)


def _feather(table: Any, path: Path) -> None:
    pyarrow.feather.write_feather(table, path)


def sample() -> Any:
    """A table with units in the fields' metadata and in a heading, blanks, words and a category."""
    n = 50
    schema = pa.schema(
        [
            pa.field("time", pa.float64(), metadata={"unit": "s"}),
            pa.field("speed", pa.float32(), metadata={"unit": "km/h"}),
            pa.field("steering [deg]", pa.float64()),
            pa.field("gear", pa.int8()),
            pa.field("brake on", pa.bool_()),
            pa.field("marker", pa.string()),
        ]
    )
    t = np.arange(n) / 100
    gear = [None if i % 7 == 0 else i % 6 for i in range(n)]
    return pa.table([t, (t * 100).astype(np.float32), np.sin(t) * 90, gear, t > 0.2, ["go"] * n], schema=schema)


@pytest.mark.parametrize("write", [_parquet, _feather])
def test_values_come_back_equal(tmp_path: Path, write: Write) -> None:
    path = tmp_path / "run.bin"  # the content tells the form, not the name
    write(sample(), path)
    table = read_log(path)
    t = np.arange(50) / 100
    assert np.array_equal(table.time_s, t)
    speed, steering, gear, brake = table.channels
    assert (speed.name, speed.unit, speed.written_unit) == ("speed", "m/s", "km/h")
    assert speed.values == pytest.approx((t * 100).astype(np.float32).astype(float) / 3.6, rel=1e-15)
    assert (steering.name, steering.unit) == ("steering", "rad")
    assert steering.values == pytest.approx(np.radians(np.sin(t) * 90), abs=1e-15)
    assert np.array_equal(np.isnan(gear.values), np.arange(50) % 7 == 0)
    assert np.array_equal(brake.values, (t > 0.2).astype(float))
    assert any("“marker” holds no numbers" in item.reason for item in table.skipped)


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        (pa.array([0, 250, 1000], pa.duration("ms")), [0.0, 0.25, 1.0]),
        (pa.array([10**12, 10**12 + 250, 10**12 + 1000], pa.timestamp("ms", tz="UTC")), [0.0, 0.25, 1.0]),
        (pa.array([3_600_000, 3_600_250, 3_601_000], pa.time32("ms")), [3600.0, 3600.25, 3601.0]),
        (pa.array([1.5, None, 2.5], pa.float64()), [1.5, 2.5]),
        # Nanoseconds since 1970 are beyond a float64's whole numbers: the difference is taken of integers.
        (pa.array([1_893_456_000_000_000_001, 1_893_456_000_000_000_501, 1_893_456_001_000_000_001], pa.int64()),
         [0.0, 5e-7, 1.0]),
    ],
)  # fmt: skip
def test_kinds_of_time(tmp_path: Path, column: Any, expected: list[float]) -> None:
    path = tmp_path / "run.parquet"
    _parquet(pa.table({"timestamp": column, "speed [m/s]": [1.0, 2.0, 3.0]}), path)
    table = read_log(path)
    assert table.time_s == pytest.approx(expected, abs=1e-12)
    assert table.channels[0].values.size == len(expected)


def test_a_frame_written_by_pandas(tmp_path: Path) -> None:
    path = tmp_path / "run.parquet"
    frame = pd.DataFrame({"v [mph]": [60.0, 100.0], "kind": pd.Categorical(["a", "b"])},
                         index=pd.Index([0.0, 0.1], name="time"))  # fmt: skip
    frame.to_parquet(path)
    table = read_log(path)
    # 60 mile/h = 26.8224 m/s, NIST SP 811.
    assert table.channels[0].values == pytest.approx([26.8224, 44.704])


def test_bad_files_are_refused_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "run.parquet"
    _parquet(pa.table({"speed": [1.0, 2.0]}), path)
    with pytest.raises(CodecError, match="no column is headed “time”"):
        read_log(path)
    _parquet(pa.table({"time [s]": [1.0, 2.0, 0.5], "speed": [1.0, 2.0, 3.0]}), path)
    with pytest.raises(CodecError, match=r"goes back from 2.000 s to 0.500 s at row 3"):
        read_log(path)
    path.write_bytes(path.read_bytes()[:-60])
    with pytest.raises(CodecError, match=r"run\.parquet: the file is damaged"):
        read_log(path)


def test_a_missing_library_is_named_with_its_remedy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run.parquet"
    _parquet(sample(), path)
    monkeypatch.setitem(__import__("sys").modules, "pyarrow.parquet", None)
    with pytest.raises(CodecError, match=r"needs the library pyarrow.*pip install pyarrow"):
        read_log(path)
