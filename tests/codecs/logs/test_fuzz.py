"""Every reader against damaged files: it returns values on an ascending clock or raises `CodecError`, nothing else."""

from __future__ import annotations

import gzip
import io
import time
import zipfile
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.feather
import pyarrow.parquet
import pytest
from asammdf import MDF, Signal
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import READERS, read_log

LONGEST_S = 20.0
"""Far above what any of these small files takes on a loaded machine; a reader that hangs goes beyond."""


def _mdf(folder: Path) -> bytes:
    t = np.arange(20) / 10
    with MDF(version="4.10") as mdf:
        mdf.append([Signal(np.arange(20.0), t, name="speed", unit="m/s")])
        mdf.append([Signal(np.arange(10, dtype="u1"), t[:10] + 0.01, name="gear")])
        mdf.save(folder / "seed.mf4", overwrite=True)
    return (folder / "seed.mf4").read_bytes()


def _seeds(folder: Path) -> dict[str, bytes]:
    """A whole file of each form, small."""
    text = "time [s],speed [km/h],lap\n" + "".join(f"{i / 10:.1f},{i},1\n" for i in range(20))
    point = '<trkpt lat="52.{0:02d}" lon="-1"><ele>1</ele><time>2030-05-04T10:00:{0:02d}Z</time></trkpt>'
    gpx = ('<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
           + "".join(point.format(i) for i in range(10)) + "</trkseg></trk></gpx>")  # fmt: skip
    nmea = "".join(f"$GPRMC,12351{i},A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W\r\n"
                   f"$GPGGA,12351{i},4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,\r\n$GPVTG,1,T,,M,2,N,3,K\r\n"
                   for i in range(6))  # fmt: skip
    table = pa.table({"time [s]": np.arange(20) / 10, "speed": pa.array(range(20), pa.int16()), "w": ["a"] * 20})
    parquet, feather, archive = io.BytesIO(), io.BytesIO(), io.BytesIO()
    pyarrow.parquet.write_table(table, parquet)
    pyarrow.feather.write_feather(table, feather)
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as opened:
        opened.writestr("run.csv", text)
    return {
        "delimited text": text.encode(),
        "GPX": gpx.encode(),
        "NMEA 0183": nmea.encode(),
        "Parquet": parquet.getvalue(),
        "Feather": feather.getvalue(),
        "ASAM MDF 4": _mdf(folder),
        "gzip": gzip.compress(text.encode(), mtime=0),
        "zip": archive.getvalue(),
    }


@pytest.fixture(scope="module")
def seeds(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    return _seeds(tmp_path_factory.mktemp("seeds"))


def read_or_refuse(path: Path) -> bool:
    """Whether the file was read; what is read must be sound."""
    begin_s = time.process_time()
    table, refusal = None, None
    try:
        table = read_log(path)
    except CodecError as error:
        refusal = error
    assert time.process_time() - begin_s < LONGEST_S
    if table is None:
        assert refusal is not None
        assert refusal.problem
        assert refusal.remedy.endswith(".")
        return False
    assert table.time_s.size >= 2
    assert np.all(np.diff(table.time_s) > 0)
    assert len({c.name for c in table.channels}) == len(table.channels)
    for channel in table.channels:
        assert channel.values.shape == table.time_s.shape
        assert np.isfinite(channel.values).any()
        assert not np.isinf(channel.values).any()
    return True


def test_every_form_has_a_seed_that_is_read(tmp_path: Path, seeds: dict[str, bytes]) -> None:
    assert {reader.name for reader in READERS} <= set(seeds)
    for data in seeds.values():
        (tmp_path / "log").write_bytes(data)
        assert read_or_refuse(tmp_path / "log")


FORMS = ("delimited text", "GPX", "NMEA 0183", "Parquet", "Feather", "ASAM MDF 4", "gzip", "zip")
EDITS = st.lists(
    st.one_of(
        st.tuples(st.just("set"), st.integers(0, 1 << 30), st.binary(min_size=1, max_size=8)),
        st.tuples(st.just("insert"), st.integers(0, 1 << 30), st.binary(min_size=1, max_size=8)),
        st.tuples(st.just("insert"), st.integers(0, 1 << 30), st.sampled_from(
            [b'"', b",", b";", b"\n", b"\r", b"\x00", b"1e999", b"nan", b"-", b"1e308", b"9" * 30, b"<", b"&", b"$",
             b"*", b":"])),
        st.tuples(st.just("cut"), st.integers(0, 1 << 30), st.integers(1, 64).map(bytes)),
        st.tuples(st.just("end"), st.integers(0, 1 << 30), st.just(b"")),
    ),
    min_size=1,
    max_size=6,
)  # fmt: skip


def edited(data: bytes, edits: list[tuple[str, int, bytes]]) -> bytes:
    """The file after damage: bytes replaced, put in, taken out, or the rest lost."""
    for kind, at, piece in edits:
        at %= max(1, len(data))
        if kind == "end":
            data = data[: max(at, 8)]
        else:
            data = data[:at] + (b"" if kind == "cut" else piece) + data[at + (0 if kind == "insert" else len(piece)) :]
    return data


@pytest.mark.parametrize("form", FORMS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=40,
          deadline=None)  # fmt: skip
@given(edits=EDITS)
def test_damaged_files(tmp_path: Path, seeds: dict[str, bytes], form: str, edits: list[tuple[str, int, bytes]]) -> None:
    path = tmp_path / "log"
    path.write_bytes(edited(seeds[form], edits))
    read_or_refuse(path)


CELLS = st.sampled_from(["", "0", "1.5", "-2", "1,5", "x", '"', "1:02", "nan", "inf", "1e400", "2030-01-01T00:00:00Z",
                         "9" * 25, "time", "[s]", " ", "True", "AM", "1893456000", "€"])  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(
    rows=st.lists(st.lists(CELLS, min_size=1, max_size=4), min_size=1, max_size=12),
    separator=st.sampled_from([",", ";", "\t", "|"]),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_tables_of_odd_cells(tmp_path: Path, rows: list[list[str]], separator: str, line_end: str) -> None:
    path = tmp_path / "log"
    heading = separator.join(["time", "a", "b"])
    path.write_text(line_end.join([heading, *(separator.join(row) for row in rows)]), "utf-8", newline="")
    read_or_refuse(path)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100, deadline=None)
@given(
    start=st.sampled_from([b"", b"PAR1", b"ARROW1\x00\x00", b"MDF     4.10    ", b"<gpx>", b"$GPRMC,", b"\x1f\x8b\x08",
                           b"PK\x03\x04", b"\xff\xfe", b"time,a\n1,2\n"]),
    rest=st.binary(max_size=300),
)  # fmt: skip
def test_any_bytes_behind_a_form_s_first(tmp_path: Path, start: bytes, rest: bytes) -> None:
    path = tmp_path / "log"
    path.write_bytes(start + rest)
    read_or_refuse(path)
