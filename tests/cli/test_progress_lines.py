"""Progress for other programs: lines that are whole JSON, and a word that stops the work."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from syncview.cli.progress_lines import ProgressLines
from syncview.errors import Cancelled


def test_each_line_is_json(capsys: pytest.CaptureFixture[str]) -> None:
    lines = ProgressLines(stop_fd=None)
    lines.report(0.0, "reading “it”")
    lines.report(0.25, "writing")
    lines.report(0.2500001, "writing")
    lines.report(1.0, "writing")
    said = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert said == [
        {"share": 0.0, "what": "reading “it”"}, {"share": 0.25, "what": "writing"}, {"share": 1.0, "what": "writing"},
    ]  # fmt: skip


def stopped(lines: ProgressLines) -> bool:
    end_s = time.monotonic() + 5
    while time.monotonic() < end_s:
        try:
            lines.report(0.5, "on")
        except Cancelled:
            return True
        time.sleep(0.01)
    return False


def test_the_word_stops_it_even_in_pieces() -> None:
    reading, writing = os.pipe()
    lines = ProgressLines(stop_fd=reading)
    os.write(writing, b"hello\nst")
    lines.report(0.1, "on")
    os.write(writing, b"op\r\n")
    assert stopped(lines)
    os.close(writing)
    os.close(reading)


def test_the_end_of_the_input_does_not() -> None:
    reading, writing = os.pipe()
    lines = ProgressLines(stop_fd=reading)
    os.close(writing)
    time.sleep(0.05)
    lines.report(0.1, "on")
    os.close(reading)


@pytest.mark.slow
def test_export_speaks_to_programs(project: Path, tmp_path: Path) -> None:
    words = [sys.executable, "-m", "syncview", "export", str(project), str(tmp_path / "out"), "chapters",
             "--json", "--progress", "json"]  # fmt: skip
    done = subprocess.run(words, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL)
    assert done.returncode == 0, done.stderr
    reported = [json.loads(line) for line in done.stderr.splitlines() if line.startswith("{")]
    assert reported
    assert all(0 <= one["share"] <= 1 and one["what"] for one in reported)
    assert all(Path(one["path"]).exists() for one in json.loads(done.stdout)["files"])


@pytest.mark.slow
def test_export_stops_when_told(project: Path, tmp_path: Path) -> None:
    words = [sys.executable, "-m", "syncview", "export", str(project), str(tmp_path / "out"), "film",
             "--json", "--progress", "json"]  # fmt: skip
    done = subprocess.run(words, capture_output=True, text=True, check=False, input="stop\n")
    assert done.returncode == 130, done.stderr
    assert "syncview: stopped" in done.stderr
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())
