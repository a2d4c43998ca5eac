from __future__ import annotations

import codecs
from pathlib import Path

import pytest

from syncview_codecs.captions import FORMATS, Cue, format_for, read_captions
from syncview_codecs.errors import CodecError

SRT = "1\n00:00:01,000 --> 00:00:02,000\nFrein à la borne – später\n"
CUE = (Cue(1000, 2000, "Frein à la borne – später", "1"),)


@pytest.mark.parametrize(
    "raw",
    [
        SRT.encode(),
        SRT.encode("utf-8-sig"),
        SRT.encode("utf-16"),
        codecs.BOM_UTF16_BE + SRT.encode("utf-16-be"),
        SRT.replace("\n", "\r\n").encode(),
    ],
)
def test_encodings_with_a_sure_mark_read_without_warning(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "lap.srt"
    path.write_bytes(raw)
    found = read_captions(path)
    assert (found.cues, found.warnings, found.skipped) == (CUE, (), ())


def test_windows_1252_is_assumed_and_said(tmp_path: Path) -> None:
    path = tmp_path / "lap.srt"
    path.write_bytes(SRT.encode("cp1252"))
    found = read_captions(path)
    assert found.cues == CUE
    assert "line 3" in found.warnings[0]
    assert "Windows-1252" in found.warnings[0]


def test_content_decides_and_a_misleading_name_is_said(tmp_path: Path) -> None:
    for written in FORMATS:
        for named in FORMATS:
            path = tmp_path / f"lap{named.suffixes[0].upper()}"
            path.write_text(written.write([Cue(5, 1005, "a & b")]), encoding="utf-8")
            found = read_captions(path)
            assert [(cue.start_ms, cue.end_ms, cue.text) for cue in found.cues] == [(5, 1005, "a & b")]
            assert bool(found.warnings) == (written is not named)
            assert format_for(path) is named


@pytest.mark.parametrize(
    ("raw", "problem"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf\r\n", "empty"),
        (b"\x00\x00\x00\x18ftypisom\x00\x00", "binary"),
        (b"time,speed\n0,1\n", "not a caption file"),
        (b"\xff\xfe1", "damaged"),
        (b"1\n00:00:01,000 --> 00:00:02,000\n\x81\xff\n", "neither UTF-8 nor Windows-1252"),
    ],
)
def test_other_files_are_refused_with_a_remedy(tmp_path: Path, raw: bytes, problem: str) -> None:
    path = tmp_path / "lap.srt"
    path.write_bytes(raw)
    with pytest.raises(CodecError, match=problem) as caught:
        read_captions(path)
    assert caught.value.name == "lap.srt"
    assert caught.value.remedy


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    with path.open("wb") as file:
        file.truncate(10**9)  # a sparse file: no disk is used
    with pytest.raises(CodecError, match="1000 MB"):
        read_captions(path)


def test_a_missing_file_and_an_unknown_suffix_are_clear_errors(tmp_path: Path) -> None:
    with pytest.raises(CodecError, match="no such file"):
        read_captions(tmp_path / "none.srt")
    with pytest.raises(CodecError, match=r"\.vtt, \.srt"):
        format_for(tmp_path / "lap.txt")
