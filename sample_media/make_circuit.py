"""Makes circuit.toml from the sample's log with the program's own commands: names and boards are the recipe's.

python sample_media/make_circuit.py [OUT.toml]
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path

from syncview.cli import main

HERE = Path(__file__).parent


def make(output: Path) -> None:
    """Type the commands."""
    truth = json.loads((HERE / "truth.json").read_text("utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        project = f"{folder}/sample"
        _do("new", project, "--recording", HERE / "session.mp4", "--log", HERE / "session.csv")
        _do("circuit", "make", project, output, "--name", truth["circuit"], "--overwrite")
    for corner in truth["corners"]:
        _do("circuit", "rename", output, corner["number"], corner["name"])
    for board in truth["boards"]:
        _do("circuit", "add-marker", output, "--key", f"b{board['distance_m']}-{board['corner']}", "--kind", "board",
            "--words", f"{board['distance_m']} board", "--side", board["side"], "--corner", board["corner"],
            f"--position={board['lat']},{board['lon']}")  # fmt: skip


def _do(*words: object) -> None:
    if main([str(word) for word in words]):
        raise SystemExit(f"stopped at: {' '.join(map(str, words))}")


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "circuit.toml")
