"""Delimited text in the many ways it is written. Expected values are typed beside each file."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import read_log


def write(folder: Path, text: str, *, encoding: str = "utf-8", name: str = "run.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


PLAIN = "time [s],speed [km/h],gear\n0.00,36,2\n0.01,72,2\n0.02,108,3\n"


def test_plain(tmp_path: Path) -> None:
    table = read_log(write(tmp_path, PLAIN))
    assert table.time_s.tolist() == [0.0, 0.01, 0.02]
    speed, gear = table.channels
    assert speed.values == pytest.approx([10, 20, 30])
    assert (speed.name, speed.unit, speed.written_unit) == ("speed", "m/s", "km/h")
    assert (gear.unit, gear.written_unit) == (None, "")
    assert not table.skipped


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(tmp_path: Path, encoding: str) -> None:
    text = PLAIN.replace("gear", "température [°C]")
    table = read_log(write(tmp_path, text, encoding=encoding))
    assert table.channels[1].name == "température"
    assert table.channels[1].values == pytest.approx([275.15, 275.15, 276.15])


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_separators_and_line_ends(tmp_path: Path, separator: str, line_end: str) -> None:
    table = read_log(write(tmp_path, PLAIN.replace(",", separator).replace("\n", line_end)))
    assert table.channels[0].values == pytest.approx([10, 20, 30])


def test_decimal_comma_preamble_and_units_row(tmp_path: Path) -> None:
    text = (
        "Session;Morning\nDriver;somebody\n\ntime;speed;engine;flag\ns;km/h;1/min;\n"
        "0,00;36,0;6000;go\n0,01;72,0;6010;go\n"
    )
    table = read_log(write(tmp_path, text))
    assert table.time_s.tolist() == [0.0, 0.01]
    assert [c.name for c in table.channels] == ["speed", "engine"]
    # 6000 rpm = 628.3185 rad/s, NIST SP 811.
    assert table.channels[1].values[0] == pytest.approx(628.3185, abs=1e-4)
    assert any("flag" in item.reason for item in table.skipped)


def test_units_from_a_csv_on_the_web_description(tmp_path: Path) -> None:
    path = write(tmp_path, "time,v\n0.0,60\n0.1,100\n")
    description = {
        "@context": "http://www.w3.org/ns/csvw",
        "url": "run.csv",
        "tableSchema": {
            "columns": [
                {"name": "time", "titles": "time", "schema:unitText": "s"},
                {"name": "v", "titles": ["v", "speed"], "schema:unitText": "mile/h"},
            ]
        },
    }
    path.with_name("run.csv-metadata.json").write_text(json.dumps(description), "utf-8")
    table = read_log(path)
    assert table.channels[0].values == pytest.approx([26.8224, 44.704])
    assert not table.warnings


def test_a_broken_description_is_named(tmp_path: Path) -> None:
    path = write(tmp_path, PLAIN)
    path.with_name("run.csv-metadata.json").write_text("{", "utf-8")
    with pytest.raises(CodecError, match=r"run\.csv-metadata\.json.*cannot be understood"):
        read_log(path)


def test_every_bad_line_and_cell_is_told(tmp_path: Path) -> None:
    text = (
        "time [s],speed [km/h],rpm\n0.00,36,5000\n0.01,36,oops\n0.01,36,5000\n,36,5000\n"
        "0.02,36,5000,7,8\n0.03,,5000\n0.04,36,5000\n0.05,3"
    )
    table = read_log(write(tmp_path, text))
    assert table.time_s.tolist() == [0.0, 0.01, 0.03, 0.04]
    assert np.isnan(table.channels[1].values).tolist() == [False, True, False, False]
    assert np.isnan(table.channels[0].values).tolist() == [False, False, True, False]
    told = {item.line: item.reason for item in table.skipped}
    assert "cut short" in told[9]
    assert "5 fields" in told[6]
    assert "“oops”" in told[3]
    assert told[5] == "no time"
    assert "repeat the time" in told[4]


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        (["0", "500", "1000"], [0.0, 0.5, 1.0]),
        (["10:00:59.5", "10:01:00.25", "10:01:01"], [36059.5, 36060.25, 36061.0]),
        (["0:59.5", "1:00.25", "1:01"], [59.5, 60.25, 61.0]),
        (["23:59:59.5", "00:00:00.5", "00:00:01.5"], [86399.5, 86400.5, 86401.5]),
        (["2030-01-01T10:00:00.250Z", "2030-01-01T10:00:01Z", "2030-01-01T11:00:02+01:00"], [0.0, 0.75, 1.75]),
    ],
)
def test_ways_to_write_time(tmp_path: Path, column: list[str], expected: list[float]) -> None:
    unit = " [ms]" if column[1] == "500" else ""
    text = f"time{unit},speed [m/s]\n" + "".join(f"{t},1\n" for t in column)
    assert read_log(write(tmp_path, text)).time_s == pytest.approx(expected)


def test_time_without_unit_is_seconds_and_said(tmp_path: Path) -> None:
    table = read_log(write(tmp_path, "time,speed [m/s]\n0,1\n1,1\n"))
    assert "states no unit" in table.warnings[0]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("speed [km/h],gear\n1,2\n3,4\n", "no column is headed “time”"),
        ("time [s],speed\n61.20,1\n12.05,1\n", r"line 3: time goes back from 61.200 s to 12.050 s"),
        ("time [parsec],speed\n1,1\n2,1\n", "no column is headed|not known"),
        ("time [s],speed\n1,1\n", "fewer than two times"),
        ("just words\nand more\n", "not a log that can be read"),
        ("", "the file is empty"),
        ("   \n", "the file is empty"),
        ("time,speed\nsoon,1\nlater,2\n", "not a log|not a time"),
    ],
)
def test_bad_files_are_refused_in_a_sentence(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(CodecError, match=message) as caught:
        read_log(write(tmp_path, text))
    assert "run.csv" in str(caught.value)
    assert caught.value.remedy.endswith(".")


def test_binary_is_no_log(tmp_path: Path) -> None:
    path = tmp_path / "run.csv"
    path.write_bytes(bytes(range(256)) * 20)
    with pytest.raises(CodecError, match="not a log"):
        read_log(path)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(
    steps=st.lists(st.integers(1, 50), min_size=2, max_size=40),
    data=st.data(),
    separator=st.sampled_from([",", ";", "\t"]),
)
def test_what_is_written_is_read(tmp_path: Path, steps: list[int], data: st.DataObject, separator: str) -> None:
    time_s = np.cumsum(steps) / 100
    value = st.one_of(st.none(), st.floats(-1e6, 1e6).map(lambda v: round(v, 3)))
    column = data.draw(st.lists(value, min_size=len(steps), max_size=len(steps)))
    rows = [f"{t:.2f}{separator}{'' if v is None else v}{separator}1" for t, v in zip(time_s, column, strict=True)]
    heading = separator.join(("time [s]", "x [m]", "lap"))
    table = read_log(write(tmp_path, "\n".join((heading, *rows)) + "\n"))
    assert table.time_s == pytest.approx(time_s)
    read = table.channel("x")
    if any(v is not None for v in column):
        assert read is not None
        expected = [np.nan if v is None else v for v in column]
        assert read.values == pytest.approx(expected, nan_ok=True)
    else:
        assert read is None
        assert any("“x” holds no numbers" in item.reason for item in table.skipped)


def test_an_hour_at_100_hz_with_20_channels_is_read(tmp_path: Path) -> None:
    rows = 360_000 // 20  # three minutes here: the shape of the work is the same, the suite stays quick
    frame = np.round(np.random.default_rng(0).normal(size=(rows, 20)), 3)
    frame[:, 0] = np.arange(rows) / 100
    path = tmp_path / "long.csv"
    heading = ",".join(["time [s]", *(f"c{i} [m]" for i in range(19))])
    np.savetxt(path, frame, delimiter=",", fmt="%.3f", header=heading, comments="")
    table = read_log(path)
    assert table.time_s.size == rows
    assert len(table.channels) == 19


def test_pieces_join_without_a_seam_and_lines_keep_their_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("syncview_codecs.logs.cells.CELLS_AT_ONCE", 3000)  # pieces of a thousand lines
    lines = ["time [s],x [m],gear", *(f"{i / 10:.1f},{i},{i % 6}" for i in range(3500))]
    lines[1501] = "150.0,1500,0,7,8"  # line 1502: too many fields
    lines[2001] = "200.0,soon,2"  # line 2002, in the third piece
    lines[2501] = "oops,2500,4"  # line 2502: no time
    table = read_log(write(tmp_path, "\n".join(lines) + "\n"))
    i = np.delete(np.arange(3500), [1500, 2500])
    assert table.time_s == pytest.approx(i / 10)
    assert table.channels[0].values == pytest.approx(np.where(i == 2000, np.nan, i), nan_ok=True)
    assert table.channels[1].values == pytest.approx(np.where(i == 2000, 2, i % 6))
    told = {item.line: item.reason for item in table.skipped}
    assert "5 fields" in told[1502]
    assert "“soon”" in told[2002]
    assert told[2502] == "no time"
