"""`syncview desk`, and `syncview` alone: the window, or a sentence why there is none."""

from __future__ import annotations

import importlib.util
import sys
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from syncview.cli import main


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Path | None]:
    """Which projects the window was asked to open, instead of a window."""
    from syncview.desk import app

    calls: list[Path | None] = []

    def run(project: Path | None = None) -> int:
        calls.append(project)
        return 0

    monkeypatch.setattr(app, "run", run)
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    return calls


def test_the_window_opens(asked: list[Path | None]) -> None:
    assert main([]) == 0
    assert main(["desk"]) == 0
    assert main(["desk", "monday"]) == 0
    assert asked == [None, None, Path("monday.syncview.json")]


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there is always a display")
def test_without_a_display(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main([]) == 1
    said = capsys.readouterr().err
    assert "there is no display" in said
    assert "syncview --help" in said


def test_without_the_library(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    real = importlib.util.find_spec

    def find(name: str, package: str | None = None) -> ModuleSpec | None:
        return None if name == "PyQt6" else real(name, package)

    monkeypatch.setattr(importlib.util, "find_spec", find)
    assert main(["desk"]) == 1
    assert "pip install 'syncview[desk]'" in capsys.readouterr().err
