"""What was dropped: told by content, never by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from syncview.desk.opening.dropped import kind_of, sorted_out
from syncview.errors import SyncviewError

SAMPLE = Path(__file__).parents[3] / "sample_media"


def test_kinds_by_content(project_file: Path, tmp_path: Path) -> None:
    named_wrongly = tmp_path / "film.csv"
    named_wrongly.write_bytes((SAMPLE / "session.mp4").read_bytes()[:5000])
    assert kind_of(named_wrongly) == "recording"
    assert kind_of(SAMPLE / "session.csv") == "log"
    assert kind_of(SAMPLE / "session.mp4") == "recording"
    assert kind_of(project_file) == "project"


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"PAR1\x15\x04", "log"),  # Apache Parquet's opening bytes (its format document)
        (b"MDF     4.10    ", "log"),  # ASAM MDF 4, identification block
        (b"\xff\xfet\x00i\x00m\x00e\x00", "log"),  # UTF-16 text
        (b"\x1a\x45\xdf\xa3\x01\x00", "recording"),  # EBML (RFC 8794), as Matroska begins
        (b"RIFF\x00\x00\x00\x00AVI ", "recording"),
        (b'{"some": "json"}', "log"),
    ],
)
def test_opening_bytes(head: bytes, kind: str, tmp_path: Path) -> None:
    path = tmp_path / "thing"
    path.write_bytes(head)
    assert kind_of(path) == kind


def test_what_cannot_be(tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.touch()
    for path, words in ((empty, "empty"), (tmp_path, "folder"), (tmp_path / "gone", "no such file")):
        with pytest.raises(SyncviewError, match=words):
            kind_of(path)


def test_sorting_out(project_file: Path, tmp_path: Path) -> None:
    second = tmp_path / "second.csv"
    second.write_text("time,speed\n0,1\n")
    found = sorted_out([SAMPLE / "session.csv", SAMPLE / "session.mp4", second, tmp_path])
    assert (found.recording, found.log) == (SAMPLE / "session.mp4", SAMPLE / "session.csv")
    assert [remark.split()[0] for remark in found.remarks] == ["second.csv", f"{tmp_path.name}:"]
    found = sorted_out([SAMPLE / "session.csv", project_file])
    assert (found.project, found.log) == (project_file, None)
    assert "session.csv was left aside" in found.remarks[0]
