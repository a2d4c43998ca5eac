"""The sheet: read back by Poppler's pdftotext and pdffonts."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from syncview.cli import main


def told(program: str, path: Path, *words: str) -> str:
    return subprocess.run([program, str(path), *words], check=True, capture_output=True, text=True).stdout


@pytest.mark.slow
def test_the_sheet_has_the_day_the_facts_the_notes_and_the_cautions(project: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.pdf"
    assert main(["conditions", str(project), "--set", "fuel=12 L"]) == 0
    assert main(["notes", "add", str(project), "Wait for the $wheel$ & go.", "--corner", "3"]) == 0
    assert main(["sheet", str(project), str(sheet)]) == 0
    pages = told("pdftotext", sheet, "-layout", "-").split("\f")[:-1]
    assert len(pages) == 13  # map, facts, notes, ten corners
    assert "12 L (3.17 US gal)" in pages[1]
    assert "Corner 3" in pages[2]
    assert "Wait for the $wheel$ & go." in pages[2]
    assert all("build up to them with margin" in " ".join(page.split()) for page in pages)
    fonts = told("pdffonts", sheet).splitlines()[2:]
    assert fonts
    assert all(line.split()[-5] == "yes" for line in fonts)  # embedded


def test_what_cannot_be_written_is_refused(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", str(project), str(tmp_path / "sheet.txt")]) == 7
    assert "the sheet is a PDF" in capsys.readouterr().err
    kept = tmp_path / "kept.pdf"
    kept.write_bytes(b"dear")
    assert main(["sheet", str(project), str(kept)]) == 7
    assert kept.read_bytes() == b"dear"
