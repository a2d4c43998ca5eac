"""NMEA 0183: worked sentences, files written by pynmea2, and sentences gone wrong."""

from __future__ import annotations

from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pynmea2
import pytest

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import read_log

WORKED_RMC = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"
WORKED_GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
"""Worked examples that tutorials of the standard share (from memory), checksums included."""
KNOT = 1852 / 3600
"""m/s, NIST SP 811."""


def sealed(body: str) -> str:
    """A sentence with its checksum: the exclusive or of all bytes between `$` and `*` (NMEA 0183)."""
    return f"${body}*{reduce(xor, body.encode('ascii')):02X}"


def write(folder: Path, *lines: str, name: str = "run.nmea") -> Path:
    path = folder / name
    path.write_bytes("".join(line + "\r\n" for line in lines).encode("latin-1"))
    return path


def test_the_checksum_of_the_worked_examples() -> None:
    assert sealed(WORKED_RMC[1:-3]) == WORKED_RMC
    assert sealed(WORKED_GGA[1:-3]) == WORKED_GGA


def test_worked_examples_are_read(tmp_path: Path) -> None:
    later = sealed("GPRMC,123520,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W")
    table = read_log(write(tmp_path, WORKED_RMC, WORKED_GGA, later, name="run.txt"))
    assert table.time_s.tolist() == [0.0, 1.0]
    found = {c.name: c for c in table.channels}
    assert np.degrees(found["latitude"].values) == pytest.approx([48.1173] * 2, abs=1e-9)
    assert np.degrees(found["longitude"].values) == pytest.approx([11 + 31 / 60] * 2, abs=1e-9)
    assert found["speed"].values == pytest.approx([22.4 * KNOT] * 2)
    assert (found["speed"].unit, found["speed"].written_unit) == ("m/s", "kn")
    assert found["altitude"].values == pytest.approx([545.4, np.nan], nan_ok=True)
    assert any("1994-03-23T12:35:19Z" in words for words in table.warnings)


def test_a_file_written_by_pynmea2(tmp_path: Path) -> None:
    lines: list[str] = []
    for number in range(40):
        tenths = 235959_0 + number if number < 10 else number - 10
        stamp = f"{tenths // 10:06d}.{tenths % 10}0"
        day = "311229" if number < 10 else "010130"
        place = (f"5204.{2700 + number:04d}", "N", "00101.0000", "W")
        speed, height = f"{58.32 + number / 100:.2f}", f"{30 + number / 10:.1f}"
        rmc = (stamp, "A", *place, speed, "271.5", day, "", "", "A")
        gga = (stamp, *place, "4", "12", "0.7", height, "M", "47.0", "M", "", "")
        lines.extend((str(pynmea2.RMC("GN", "RMC", rmc)), str(pynmea2.GGA("GN", "GGA", gga))))
    table = read_log(write(tmp_path, *lines))
    i = np.arange(40)
    assert table.time_s == pytest.approx(i / 10, abs=1e-6)  # over midnight and the turn of the year
    found = {c.name: c.values for c in table.channels}
    assert np.degrees(found["latitude"]) == pytest.approx(52 + (4.27 + i / 10000) / 60, abs=1e-12)
    assert np.degrees(found["longitude"]) == pytest.approx(np.full(40, -1 - 1 / 60))
    assert found["speed"] == pytest.approx((58.32 + i / 100) * KNOT)
    assert found["altitude"] == pytest.approx(30 + i / 10)
    assert not table.skipped


def test_wrong_checksums_garbage_and_lost_fixes_are_told(tmp_path: Path) -> None:
    table = read_log(
        write(
            tmp_path,
            WORKED_RMC,
            WORKED_RMC.replace("022.4", "922.4"),
            "foobar",
            sealed("GPRMC,123520,V,,,,,,,230394,,"),
            sealed("GPGSV,1,1,00"),
            sealed("GPRMC,123521,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"),
            sealed("GPRMC,126161,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"),
        )
    )
    assert table.time_s.tolist() == [0.0, 1.0, 2.0]
    speed = table.channel("speed")
    assert speed is not None
    assert speed.values == pytest.approx([22.4 * KNOT, np.nan, 22.4 * KNOT], nan_ok=True)
    told = {item.line: item.reason for item in table.skipped}
    assert "checksum of RMC is wrong" in told[2]
    assert "no sentence" in told[3]
    assert "RMC has no time" in told[7]
    assert any("without a valid fix" in item.reason for item in table.skipped)
    assert any("1 sentence(s) of other kinds" in item.reason for item in table.skipped)


def test_speed_from_vtg_where_there_is_no_rmc(tmp_path: Path) -> None:
    lines = []
    for i in range(3):
        lines.append(sealed(f"GPGGA,10000{i},4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"))
        lines.append(sealed(f"GPVTG,084.4,T,,M,{10 + i}.0,N,18.5,K,A"))
    table = read_log(write(tmp_path, *lines))
    speed = table.channel("speed")
    assert speed is not None
    assert speed.values == pytest.approx(np.array([10, 11, 12]) * KNOT)
    assert any("VTG sentences carry no time" in words for words in table.warnings)


def test_a_stamp_before_each_sentence_and_a_missing_checksum(tmp_path: Path) -> None:
    lines = [f"[1234.{i}] $GPRMC,12351{i},A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W" for i in range(3)]
    table = read_log(write(tmp_path, *lines))
    assert table.time_s.tolist() == [0.0, 1.0, 2.0]
    assert any("3 sentence(s) carry no checksum" in words for words in table.warnings)


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ((WORKED_RMC,), "fewer than two moments"),
        ((WORKED_RMC.replace("*6A", "*6B"),) * 3, "fewer than two moments.*checksum of RMC is wrong"),
        ((WORKED_GGA, sealed("GPGGA,123518,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")),
         "line 2: time goes back by 1.000 s"),
    ],
)  # fmt: skip
def test_bad_files_are_refused_in_a_sentence(tmp_path: Path, lines: tuple[str, ...], message: str) -> None:
    with pytest.raises(CodecError, match=message) as caught:
        read_log(write(tmp_path, *lines))
    assert "run.nmea" in str(caught.value)


def test_a_line_of_megabytes_costs_nothing(tmp_path: Path) -> None:
    later = sealed("GPRMC,123520,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W")
    table = read_log(write(tmp_path, WORKED_RMC, "x" * 3_000_000, later))
    assert table.time_s.tolist() == [0.0, 1.0]
