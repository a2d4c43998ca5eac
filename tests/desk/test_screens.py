"""The window at usual sizes in both themes: it fits, and something is drawn. Whether it is good is looked at by eye."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image


@pytest.mark.slow
@pytest.mark.parametrize(
    ("width", "height", "scale", "theme"),
    [(1280, 720, 1, "dark"), (1920, 1080, 1, "light"), (1280, 720, 2, "light"), (1920, 1080, 1, "dark")],
)
def test_screens(width: int, height: int, scale: int, theme: str, tmp_path: Path) -> None:
    folders = {name: str(tmp_path / "own") for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.desk.draw_screens", str(tmp_path), str(width), str(height), theme],
        env={**os.environ, **folders, "QT_QPA_PLATFORM": "offscreen", "QT_SCALE_FACTOR": str(scale)},
        cwd=Path(__file__).parents[2], capture_output=True, text=True, timeout=240,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    names = {path.name.partition("-")[0] for path in tmp_path.glob("*.png")}
    assert names == {"welcome", "desk", "fault", "match"}
    for path in tmp_path.glob("*.png"):
        picture = np.asarray(Image.open(path).convert("RGB"))
        assert picture.shape[:2] == (height * scale, width * scale), path.name
        assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 50, path.name
