"""gzip and zip around logs: one member, bounded size, nothing left behind."""

from __future__ import annotations

import gzip
import struct
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pytest

from syncview_codecs.errors import CodecError
from syncview_codecs.logs import packed, read_log

CSV = "time [s],speed [km/h]\n" + "".join(f"{i / 100:.2f},{36 + i}\n" for i in range(5000))


def zipped(folder: Path, *members: tuple[str, bytes], name: str = "run.zip") -> Path:
    path = folder / name
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for inner, data in members:
            archive.writestr(inner, data)
    return path


def test_gzip_and_zip_are_read_as_the_log_in_them(tmp_path: Path) -> None:
    packed_up = tmp_path / "run.csv.gz"
    packed_up.write_bytes(gzip.compress(CSV.encode()))
    archive = zipped(tmp_path, ("day/run.csv", CSV.encode()), ("__MACOSX/day/._run.csv", b"x"), ("day/.DS_Store", b"x"))
    for path in (packed_up, archive):
        table = read_log(path)
        assert table.name == path.name
        assert table.time_s.size == 5000
        assert table.channels[0].values == pytest.approx((36 + np.arange(5000)) / 3.6)
    assert not list(Path(tempfile.gettempdir()).glob("syncview-log-*"))


def test_a_description_beside_the_archive_counts(tmp_path: Path) -> None:
    path = zipped(tmp_path, ("run.csv", b"time,v\n0,36\n1,72\n"))
    (tmp_path / "run.csv-metadata.json").write_text(
        '{"tableSchema": {"columns": [{"name": "time", "unitText": "s"}, {"name": "v", "unitText": "km/h"}]}}', "utf-8"
    )
    assert read_log(path).channels[0].values == pytest.approx([10, 20])


def test_an_inner_fault_names_both_files(tmp_path: Path) -> None:
    path = zipped(tmp_path, ("run.csv", b"time [s],v\n5,1\n6,1\n4,1\n"))
    with pytest.raises(CodecError, match=r"run\.csv in run\.zip, line 4: time goes back"):
        read_log(path)


@pytest.mark.parametrize(
    ("members", "message"),
    [
        ([("a.csv", CSV.encode()), ("b.csv", CSV.encode())], "holds 2 files .*a.csv, b.csv.*not one"),
        ([], "holds 0 files"),
        ([("inner.zip", b"PK\x03\x04 and more")], "an archive in the archive"),
        ([("inner.gz", gzip.compress(CSV.encode()))], "an archive in the archive"),
        ([("clip.bin", bytes(range(256)) * 400)], "clip.bin in run.zip: this is not a log"),
        ([("empty.csv", b"")], "the file is empty"),
        ([("../../up.csv", b"no log")], "not a log"),
    ],
)
def test_bad_archives_are_refused_in_a_sentence(tmp_path: Path, members: list[tuple[str, bytes]], message: str) -> None:
    with pytest.raises(CodecError, match=message):
        read_log(zipped(tmp_path, *members))


def test_a_claim_of_ten_gigabytes_is_refused_before_unpacking(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = zipped(tmp_path, ("run.csv", CSV.encode()))
    data = bytearray(path.read_bytes())
    entry = data.index(b"PK\x01\x02")  # the directory's entry: uncompressed size at byte 24 (APPNOTE 4.3.12)
    data[entry + 24 : entry + 28] = struct.pack("<I", 0xFFFF_FFFE)
    path.write_bytes(data)

    def never(*_: object) -> None:
        raise AssertionError("unpacked all the same")

    monkeypatch.setattr(zipfile.ZipFile, "open", never)
    with pytest.raises(CodecError, match=r"unpacked it is more than 4 GB \(its header says 4\.3 GB\)"):
        read_log(path)


def test_what_swells_beyond_the_limit_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packed, "LARGEST_UNPACKED_BYTES", 10_000_000)
    path = tmp_path / "run.csv.gz"
    path.write_bytes(gzip.compress(CSV.encode() + b"0,0\n" * 5_000_000))
    with pytest.raises(CodecError, match="unpacked it is more than"):
        read_log(path)
    assert not list(Path(tempfile.gettempdir()).glob("syncview-log-*"))


def test_damaged_and_locked_archives(tmp_path: Path) -> None:
    path = tmp_path / "run.csv.gz"
    path.write_bytes(gzip.compress(CSV.encode())[:-4000])
    with pytest.raises(CodecError, match="cannot be unpacked"):
        read_log(path)
    path = zipped(tmp_path, ("run.csv", CSV.encode()))
    path.write_bytes(path.read_bytes()[:-30])
    with pytest.raises(CodecError, match="cannot be unpacked"):
        read_log(path)
    whole = zipped(tmp_path, ("run.csv", CSV.encode())).read_bytes()
    path.write_bytes(whole.replace(b"run.csv", b"\0" * 7))  # a name that is empty
    with pytest.raises(CodecError, match=r"cannot be unpacked|holds 0 files"):
        read_log(path)
    data = bytearray(whole)
    data[data.index(b"PK\x01\x02") + 8] |= 1  # general purpose bit 0: encrypted (APPNOTE 4.4.4)
    path.write_bytes(data)
    with pytest.raises(CodecError, match="locked by a password"):
        read_log(path)
