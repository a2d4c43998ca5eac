"""The sample as a project, made once by the commands that a coach would type."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from syncview.cli import main

SAMPLE = Path(__file__).parents[2] / "sample_media"


@pytest.fixture(scope="session")
def truth() -> dict[str, Any]:
    """What the sample's recipe knows of it."""
    loaded: dict[str, Any] = json.loads((SAMPLE / "truth.json").read_text("utf-8"))
    return loaded


@pytest.fixture(scope="session")
def aligned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An aligned project of the sample."""
    path = tmp_path_factory.mktemp("aligned") / "sample.syncview.json"
    media = ["--recording", str(SAMPLE / "session.mp4"), "--log", str(SAMPLE / "session.csv")]
    assert main(["new", str(path), *media]) == 0
    assert main(["align", str(path)]) == 0
    return path


@pytest.fixture
def project(aligned: Path, tmp_path: Path) -> Path:
    """A copy of the aligned project that a test may change, with its media where it looks for them."""
    path = tmp_path / "mine.syncview.json"
    document = json.loads(aligned.read_text("utf-8"))
    for what, name in (("recording", "session.mp4"), ("log", "session.csv")):
        document[what]["path"] = str(SAMPLE / name)
    path.write_text(json.dumps(document), "utf-8")
    return path


@pytest.fixture
def as_json(capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """Run a command with --json and give back what it printed."""

    def run(*words: object, code: int = 0) -> Any:
        capsys.readouterr()
        assert main([*map(str, words), "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return run


@pytest.fixture
def own_sample(tmp_path: Path) -> Path:
    """A folder with its own copies of the sample's log and recording."""
    for name in ("session.mp4", "session.csv", "talk.srt"):
        shutil.copy(SAMPLE / name, tmp_path / name)
    return tmp_path
