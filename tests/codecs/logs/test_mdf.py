"""ASAM MDF 4 as asammdf writes it: conversions, several groups and rates, packing, invalid samples."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from asammdf import MDF, Signal

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import read_log


def save(folder: Path, *groups: list[Any], version: str = "4.10", compression: Any = 0, name: str = "run.mf4") -> Path:
    with MDF(version=version) as mdf:
        for group in groups:
            mdf.append(group, common_timebase=True)
        mdf.save(folder / name, overwrite=True, compression=compression)
    return folder / name


def fast(n: int = 100) -> list[Any]:
    t = np.arange(n) / 100
    return [
        Signal(np.linspace(0, 200, n), t, name="speed", unit="km/h"),
        Signal(np.arange(n, dtype="u2") * 40, t, name="rpm", unit="1/min", conversion={"a": 0.25, "b": 10}),
    ]


def slow(n: int = 10) -> list[Any]:
    t = np.arange(n) / 10 + 0.005
    return [Signal(np.arange(n, dtype="u1") % 6, t, name="gear")]


@pytest.mark.parametrize("version", ["4.00", "4.10", "4.11", "4.20"])
@pytest.mark.parametrize("compression", [0, 1, 2])
def test_values_come_back_equal_on_one_clock(tmp_path: Path, version: str, compression: int) -> None:
    table = read_log(save(tmp_path, fast(), slow(), version=version, compression=compression))
    fast_s, slow_s = np.arange(100) / 100, np.arange(10) / 10 + 0.005
    assert table.time_s == pytest.approx(np.sort(np.concatenate((fast_s, slow_s))), abs=1e-12)
    speed, rpm, gear = table.channels
    of_fast = np.isfinite(speed.values)
    assert table.time_s[of_fast] == pytest.approx(fast_s, abs=1e-12)
    assert speed.values[of_fast] == pytest.approx(np.linspace(0, 200, 100) / 3.6)
    assert (speed.unit, speed.written_unit) == ("m/s", "km/h")
    # The linear conversion (physical = 0.25 raw + 10, ASAM MDF 4 cc_type 1), then 2π/60 rad/s per 1/min.
    assert rpm.values[of_fast] == pytest.approx((0.25 * np.arange(100) * 40 + 10) * np.pi / 30)
    of_slow = np.isfinite(gear.values)
    assert table.time_s[of_slow] == pytest.approx(slow_s, abs=1e-12)
    assert np.array_equal(gear.values[of_slow], np.arange(10) % 6)
    assert not np.any(of_fast & of_slow)
    assert any("2 groups" in words for words in table.warnings)


def test_what_coincides_shares_a_row(tmp_path: Path) -> None:
    t = np.arange(10) / 10 + 1e-9  # the same moments, written by another clock
    table = read_log(save(tmp_path, fast(), [Signal(np.arange(10.0), t, name="x", unit="m")]))
    assert table.time_s.size == 100
    assert np.array_equal(np.flatnonzero(np.isfinite(table.channels[2].values)), np.arange(0, 100, 10))


def test_words_invalid_samples_and_names_alike(tmp_path: Path) -> None:
    t = np.arange(4) / 10
    states = {"val_0": 0, "text_0": "R", "val_1": 1, "text_1": "N", "default": "?"}
    group = [
        Signal(np.array([0, 1, 1, 0], "u1"), t, name="gear", conversion=states),
        Signal(np.arange(4.0), t, name="x", unit="m", invalidation_bits=np.array([0, 1, 0, 0], bool)),
        Signal(np.array([b"a", b"b", b"c", b"d"]), t, name="note", encoding="utf-8"),
    ]
    table = read_log(save(tmp_path, group, [Signal(np.arange(4.0) * 2, t, name="x", unit="m")]))
    gear = table.channel("gear")
    assert gear is not None
    assert gear.values.tolist() == [0, 1, 1, 0]
    told = " ".join(item.reason for item in table.skipped)
    assert "the words of “gear” were left as their numbers" in told
    assert "“note” of" in told
    assert "“x” heads more than one column" in told
    first, second = table.channel("x"), table.channel("x (2)")
    assert first is not None
    assert second is not None
    assert first.values == pytest.approx([0, np.nan, 2, 3], nan_ok=True)
    assert second.values == pytest.approx([0, 2, 4, 6])


def test_bad_files_are_refused_in_a_sentence(tmp_path: Path) -> None:
    path = save(tmp_path, fast())
    whole = path.read_bytes()
    cases = {
        "did not finish": b"UnFinMF " + whole[8:],
        "MDF 3.30, not MDF 4": whole[:8] + b"3.30    " + whole[16:],
        "no block at byte 64": whole[:64] + bytes(len(whole) - 64),
        "is damaged": whole[:400],
    }
    for message, data in cases.items():
        path.write_bytes(data)
        with pytest.raises(CodecError, match=message):
            read_log(path)


def test_a_list_that_leads_into_itself_is_refused_quickly(tmp_path: Path) -> None:
    path = save(tmp_path, fast())
    data = bytearray(path.read_bytes())
    at = data.index(b"##DG")
    data[at + 24 : at + 32] = at.to_bytes(8, "little")
    path.write_bytes(data)
    with pytest.raises(CodecError, match="leads back into itself"):
        read_log(path)


def test_a_claim_of_many_gigabytes_is_refused(tmp_path: Path) -> None:
    path = save(tmp_path, fast())
    data = bytearray(path.read_bytes())
    at = data.index(b"##CG")
    cycles_at = at + 24 + 8 * int.from_bytes(data[at + 16 : at + 24], "little") + 8  # cg_cycle_count after cg_record_id
    assert int.from_bytes(data[cycles_at : cycles_at + 8], "little") == 100
    data[cycles_at : cycles_at + 8] = (10**9).to_bytes(8, "little")
    path.write_bytes(data)
    with pytest.raises(CodecError, match="claims 1000000000 samples"):
        read_log(path)


def test_time_running_backwards_is_refused(tmp_path: Path) -> None:
    t = np.array([0.0, 1.0, 0.5])
    with pytest.raises(CodecError, match=r"time goes back to 0.500 s at sample 3"):
        read_log(save(tmp_path, [Signal(np.arange(3.0), t, name="x")]))
