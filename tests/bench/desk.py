"""How quick the window is: python tests/bench/desk.py [PART ...] (all parts without a name).

Each part is a module of its own beside this one with a `run(folder)` that prints its table; `folder` keeps what is
slow to make (by default one in the system's folder for temporary files, kept for the next run). Ratios hold within one
run, not for another machine.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

PARTS = {"seeking": "tests.bench.desk_seeking", "drag": "tests.bench.desk_drag"}
"""Name on the command line and module."""


def main() -> None:
    """Run the parts that are named."""
    parser = argparse.ArgumentParser(description="Benches of the desk.")
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "desk-bench")
    words = parser.parse_args()
    words.folder.mkdir(parents=True, exist_ok=True)
    for name in words.parts or PARTS:
        run: Callable[[Path], None] = import_module(PARTS[name]).run
        print(f"== {name}", flush=True)
        run(words.folder)


if __name__ == "__main__":
    main()
