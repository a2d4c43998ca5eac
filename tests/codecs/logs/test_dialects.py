"""Text logs in the shapes they come in, each read right without an option.

Every dialect writes the same drive: four samples, speeds of 10, 20, 30 and 40 m/s, a tenth of a second apart.
Shapes are common practice (no source); separators, quotes and line ends follow RFC 4180 and its cousins.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import LogTable, read_log

KMH = ("36.0", "72.0", "108.0", "144.0")
MPH = ("22.369363", "44.738726", "67.108089", "89.477452")
"""10 m/s = 22.369363 mile/h, NIST SP 811 (1 mile/h = 0.44704 m/s)."""
SECONDS = ("0.0", "0.1", "0.2", "0.3")


def rows(times: tuple[str, ...], speeds: tuple[str, ...] = KMH, rpm: tuple[str, ...] = ("4000",) * 4, sep: str = ",",
         end: str = "") -> str:  # fmt: skip
    return "".join(f"{t}{sep}{v}{sep}{n}{end}\n" for t, v, n in zip(times, speeds, rpm, strict=True))


def comma(values: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(value.replace(".", ",") for value in values)


def quoted(values: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f'"{value}"' for value in values)


PLAIN = "time [s],speed [km/h],rpm [1/min]\n" + rows(SECONDS)
FROM_MS = tuple(f"2030-05-04T10:00:00.{i}00Z" for i in range(4))

DIALECTS: dict[str, str | bytes] = {
    "plain": PLAIN,
    "semicolons": PLAIN.replace(",", ";"),
    "tabs": PLAIN.replace(",", "\t"),
    "bars": PLAIN.replace(",", "|"),
    "semicolons and decimal commas": ("time [s];speed [km/h];rpm\n" + rows(comma(SECONDS), comma(KMH), sep=";")),
    "tabs and decimal commas": ("time [s]\tspeed [km/h]\trpm\n" + rows(comma(SECONDS), comma(KMH), sep="\t")),
    "commas and quoted decimal commas": (
        '"time [s]","speed [km/h]","rpm"\n' + rows(quoted(comma(SECONDS)), quoted(comma(KMH)))),
    "everything quoted": (
        '"time [s]","speed [km/h]","rpm"\n' + rows(quoted(SECONDS), quoted(KMH), quoted(("4000",) * 4))),
    "quotes and a comma in the heading": PLAIN.replace("rpm [1/min]", '"engine, ""crank"" [1/min]"'),
    "blanks after separators": PLAIN.replace(",", ", "),
    "aligned with blanks": PLAIN.replace(",", "  ,  "),
    "CR LF": PLAIN.replace("\n", "\r\n"),
    "CR alone": PLAIN.replace("\n", "\r"),
    "byte order mark": PLAIN.encode("utf-8-sig"),
    "UTF-16": PLAIN.encode("utf-16"),
    "UTF-16 big-endian": b"\xfe\xff" + PLAIN.encode("utf-16-be"),
    "UTF-16 without a mark": PLAIN.encode("utf-16-le"),
    "Windows text with degrees": PLAIN.replace("rpm [1/min]", "Öltemperatur [°C]").encode("cp1252"),
    "units in the second row": ("time,speed,rpm\ns,km/h,1/min\n" + rows(SECONDS)),
    "bracketed units in the second row": ("time,speed,rpm\n[s],[km/h],[1/min]\n" + rows(SECONDS)),
    "units row with blanks": ("time;speed;lap\ns;km/h;\n" + rows(SECONDS, rpm=("1",) * 4, sep=";")),
    "units row, headings alike": ("time,speed,rpm,rpm\ns,km/h,1/min,1/min\n"
                                  + rows(SECONDS, rpm=("1,2",) * 4)),
    "preamble of pairs": ("Date;04/05/2030\nDriver;somebody\nSample rate;10\n\ntime [s];speed [km/h];rpm\n"
                          + rows(SECONDS, sep=";")),
    "preamble of sentences with commas": ("Logged by hand, on a wet day, with care\n\n" + PLAIN),
    "preamble with a summary of laps": ("lap,lap time,best\n1,61.2,0\n2,60.9,1\n\n" + PLAIN),
    "preamble with an open quotation mark": ('Tyres: 15" rims\n' + PLAIN),
    "comment signs": ("# logged by hand\n# time [s],speed [km/h],rpm\n" + rows(SECONDS)),
    "blank line below the heading": PLAIN.replace("[1/min]\n", "[1/min]\n\n"),
    "separator at each end": ("time [s];speed [km/h];rpm;\n" + rows(SECONDS, sep=";", end=";")),
    "separator at the samples' ends": ("time [s];speed [km/h];rpm\n" + rows(SECONDS, sep=";", end=";")),
    "separator at the heading's end": ("time [s];speed [km/h];rpm;\n" + rows(SECONDS, sep=";")),
    "no line end at the end": PLAIN.rstrip("\n"),
    "blank lines at the end": (PLAIN + "\n\n\n"),
    "zero bytes at the end": PLAIN + "\0" * 5000,
    "speed in mile/h": ("Time (s),Speed (mph),RPM\n" + rows(SECONDS, MPH)),
    "speed in m/s, milliseconds": ("time [ms],speed [m/s],rpm\n" + rows(("0", "100", "200", "300"),
                                                                        ("10", "20", "30", "40"))),
    "unit behind the time's name": ("timestamp_ms,speed [km/h],rpm\n" + rows(("0", "100", "200", "300"))),
    "h:mm:ss.mmm": ("time,speed [km/h],rpm\n" + rows(tuple(f"0:00:00.{i}00" for i in range(4)))),
    "mm:ss,mmm": ("time;speed [km/h];rpm\n" + rows(tuple(f"00:00,{i}00" for i in range(4)), comma(KMH), sep=";")),
    "minutes only when there are any": ("time,speed [km/h],rpm\n" + rows(("59.8", "59.9", "1:00.0", "1:00.1"))),
    "a word in the time column": PLAIN + "late,1,1\n",
    "time beyond a thousand": (
        "time [s],speed [km/h],rpm\n" + rows(('"1,000.0"', '"1,000.1"', '"1,000.2"', '"1,000.3"'))),
    "ISO 8601 in UTC": ("timestamp,speed [km/h],rpm\n" + rows(FROM_MS)),
    "ISO 8601 with a blank and without a zone": (
        "timestamp,speed [km/h],rpm\n" + rows(tuple(t.replace("T", " ")[:-1] for t in FROM_MS))),
    "ISO 8601, whole and broken seconds": ("timestamp,speed [km/h],rpm\n" + rows(
        ("2030-05-04T10:00:00Z", *FROM_MS[1:]))),
    "seconds since 1970": ("timestamp,speed [km/h],rpm\n" + rows(tuple(f"1893456000.{i}" for i in range(4)))),
    "milliseconds since 1970": ("timestamp,speed [km/h],rpm\n" + rows(tuple(f"1893456000{i}00" for i in range(4)))),
    "nanoseconds since 1970": ("time,speed [km/h],rpm\n" + rows(tuple(f"1893456000{i}00000000" for i in range(4)))),
    "date and time apart": ("date,time,speed [km/h]\n" + "".join(
        f"04.05.2030,00:00:00.{i},{v}\n" for i, v in enumerate(KMH))),
    "date and time apart over midnight": ("date,time,speed [km/h]\n" + "".join(
        f"{d},{t},{v}\n" for d, t, v in zip(("2030-05-04",) * 2 + ("2030-05-05",) * 2, (
            "23:59:59.8", "23:59:59.9", "00:00:00.0", "00:00:00.1"), KMH, strict=True))),
    "US date, twelve hours": ("time,speed [km/h],rpm\n" + rows(
        ("5/4/2030 12:00:00.0 AM", "5/4/2030 12:00:00.1 AM", "5/4/2030 12:00:00.2 AM", "5/4/2030 12:00:00.3 AM"))),
    "thousandths in a column of their own": ("time,ms,speed [km/h]\n" + "".join(
        f"00:00:00,{i * 100},{v}\n" for i, v in enumerate(KMH))),
    "a coarse clock beside a fine one": ("time,elapsed [s],speed [km/h]\n" + "".join(
        f"10:00:00,{s},{v}\n" for s, v in zip(SECONDS, KMH, strict=True))),
    "German heading": ("Zeit [s];speed [km/h];Drehzahl [1/min]\n" + rows(comma(SECONDS), comma(KMH), sep=";")),
    "numbers with exponents": PLAIN.replace("36.0", "3.60E+01").replace("72.0", "+7.2e1"),
    "thousands": ("time [s],speed [km/h],rpm\n" + rows(SECONDS, rpm=('"4,000"', '"12,000"', "900", '"1,000.5"'))),
    "blanks as dashes": (PLAIN.replace("4000\n", "-\n", 2)),
    "blanks as NaN": (PLAIN.replace("4000\n", "NaN\n", 2)),
    "a column of words": ("time [s],flag,speed [km/h]\n" + "".join(
        f"{s},green,{v}\n" for s, v in zip(SECONDS, KMH, strict=True))),
    "two headings alike": PLAIN.replace("rpm [1/min]", "speed [km/h]"),
    "a slower channel with blanks": ("time [s],speed [km/h],air [degC]\n" + rows(SECONDS, rpm=("21.5", "", "", ""))),
    "more lines of faster channels": ("time [s],fast,speed [km/h]\n0.00,1,36\n0.05,2,\n0.1,3,72\n0.15,4,\n"
                                      "0.2,5,108\n0.25,6,\n0.3,7,144\n"),
}  # fmt: skip
"""What the shape is called, and the file."""


def speeds_of(table: LogTable) -> tuple[list[float], list[float]]:
    """Moments from the first, and speeds, where there is a speed."""
    speed = table.channel("speed")
    assert speed is not None
    assert speed.unit == "m/s"
    known = np.isfinite(speed.values)
    return (table.time_s - table.time_s[0])[known].tolist(), speed.values[known].tolist()


@pytest.mark.parametrize("shape", DIALECTS)
def test_each_dialect_is_read_right_without_options(tmp_path: Path, shape: str) -> None:
    times, speeds = speeds_of(read(tmp_path, DIALECTS[shape]))
    assert times == pytest.approx([0.0, 0.1, 0.2, 0.3], abs=1e-6)
    assert speeds == pytest.approx([10, 20, 30, 40], rel=1e-6)


def read(folder: Path, data: bytes | str) -> LogTable:
    path = folder / "run.csv"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_log(path)


def test_thousands_are_numbers(tmp_path: Path) -> None:
    rpm = read(tmp_path, DIALECTS["thousands"]).channel("rpm")
    assert rpm is not None
    assert rpm.values.tolist() == [4000, 12000, 900, 1000.5]


def test_engine_speed_below_a_units_row_of_headings_alike(tmp_path: Path) -> None:
    table = read(tmp_path, DIALECTS["units row, headings alike"])
    assert [c.name for c in table.channels] == ["speed", "rpm", "rpm (2)"]
    assert table.channels[2].values == pytest.approx(np.full(4, 2 * np.pi / 30))
    assert any("“rpm” heads more than one column" in item.reason for item in table.skipped)


def test_numbers_since_1970_are_counted_from_the_first_and_said(tmp_path: Path) -> None:
    table = read(tmp_path, DIALECTS["milliseconds since 1970"])
    assert any("counts from 2030-01-01T00:00:00Z" in words and "milliseconds" in words for words in table.warnings)


def test_a_zero_byte_in_a_number_is_told_and_does_not_cut_it(tmp_path: Path) -> None:
    data = (PLAIN + "0.4,1\x002,4000\n" + "0.5,180.0,4000\n").encode()
    table = read(tmp_path, data)
    speed = table.channel("speed")
    assert speed is not None
    assert speed.values[4:] == pytest.approx([np.nan, 50.0], nan_ok=True)
    assert any(item.line == 6 and "is not a number" in item.reason for item in table.skipped)
    assert any("1 zero bytes" in words for words in table.warnings)


def test_headings_with_formulas_and_control_signs_are_plain_names(tmp_path: Path) -> None:
    heading = 'time [s],"=1+2|cmd",\x1b[31mred\x07\u202e,' + "x" * 5000
    table = read(tmp_path, heading + "\n" + "".join(f"{i},1,2,3\n" for i in range(4)))
    names = [c.name for c in table.channels]
    assert names[0] == "=1+2|cmd"
    assert names[1] == "[31mred"
    assert len(names[2]) <= 60


def test_a_line_of_ten_megabytes_is_passed_over_or_refused(tmp_path: Path) -> None:
    table = read(tmp_path, PLAIN + "9" * 10_000_000 + "\n0.4,180,4000\n")
    assert table.time_s.tolist() == pytest.approx([0.0, 0.1, 0.2, 0.3, 0.4])
    assert any(item.line == 6 for item in table.skipped)
    table = read(tmp_path, PLAIN + "0.35," * 2_000_000 + "\n0.4,180,4000\n")
    assert table.time_s[-1] == 0.4
    assert any("fields where the heading has 3" in item.reason for item in table.skipped)
    with pytest.raises(CodecError, match="not a log"):
        read(tmp_path, "a" * 10_000_000)
    with pytest.raises(CodecError, match="not a log"):
        read(tmp_path, "time," * 2_000_000 + "\n" + "1," * 2_000_000 + "\n")


def test_a_quotation_mark_that_never_closes(tmp_path: Path) -> None:
    with pytest.raises(CodecError, match="quotation mark that is not closed"):
        read(tmp_path, PLAIN + '0.4,"180,4000\n0.5,180,4000\n')


def test_a_clock_too_coarse_for_the_lines_is_said(tmp_path: Path) -> None:
    table = read(tmp_path, "time,speed\n" + "".join(f"10:00:0{i // 10},{i}\n" for i in range(40)))
    assert table.time_s.size == 4
    assert any("only 4 of 40 lines have a time of their own" in words for words in table.warnings)
