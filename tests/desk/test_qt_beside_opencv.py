"""opencv-python brings a Qt of its own and points the environment at it; PyQt6 must start beside it all the same."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

OPEN_A_WINDOW = """
import cv2, numpy
picture = cv2.resize(numpy.zeros((8, 8, 3), numpy.uint8), (16, 16))
from PyQt6.QtWidgets import QApplication, QLabel
app = QApplication([])
label = QLabel(f"{picture.shape}")
label.show()
app.processEvents()
print(app.platformName(), label.isVisible())
"""
QT_FIRST = OPEN_A_WINDOW.replace("import cv2, numpy\n", "import PyQt6.QtGui\nimport cv2, numpy\n")


@pytest.mark.parametrize("program", [OPEN_A_WINDOW, QT_FIRST], ids=["opencv first", "qt first"])
@pytest.mark.parametrize("platform", ["offscreen", "xcb"])
def test_both_load_in_one_process(platform: str, program: str) -> None:
    command = [sys.executable, "-c", program]
    if platform == "xcb":
        assert shutil.which("xvfb-run"), "xvfb-run is missing: apt-get install xvfb xauth"
        command = ["xvfb-run", "-a", *command]
    environment = {name: value for name, value in os.environ.items() if not name.startswith("QT_")}
    done = subprocess.run(
        command, env={**environment, "QT_QPA_PLATFORM": platform}, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == [platform, "True"]
