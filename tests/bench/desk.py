"""How quick the window is: python tests/bench/desk.py [PART ...] (all parts without a name).

Each part is a module of its own beside this one: those with a `run(folder)` share what is slow to make, kept in
`folder` for the next run; those with a main of their own run as programs. Ratios hold within one run, not for another
machine.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Callable
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

PARTS = {"seeking": "tests.bench.desk_seeking", "drag": "tests.bench.desk_drag"}
"""Name on the command line and module, with `run(folder)`."""
PROGRAMS = {"start": "desk_start.py", "traces": "desk_traces.py"}
"""Name on the command line and file beside this one, with a main of its own."""


def main() -> None:
    """Run the parts that are named."""
    parser = argparse.ArgumentParser(description="Benches of the desk.")
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join([*PARTS, *PROGRAMS]))
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "desk-bench")
    words = parser.parse_args()
    words.folder.mkdir(parents=True, exist_ok=True)
    unknown = sorted({*words.parts} - {*PARTS, *PROGRAMS})
    if unknown:
        parser.error(f"there is no part {', '.join(unknown)}")
    for name in words.parts or [*PARTS, *PROGRAMS]:
        print(f"== {name}", flush=True)
        if name in PROGRAMS:
            subprocess.run([sys.executable, str(Path(__file__).with_name(PROGRAMS[name]))], check=True)
        else:
            run: Callable[[Path], None] = import_module(PARTS[name]).run
            run(words.folder)


if __name__ == "__main__":
    main()
