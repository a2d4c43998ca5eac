"""How quickly the command line starts: `syncview --help` against loading all that the program depends on.

Run: .venv/bin/python -m tests.bench.start. Interleaved, whole processes, medians; the target is a ratio of at most 1/4.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

HELP = [sys.executable, "-m", "syncview", "--help"]
EVERYTHING = [
    sys.executable,
    "-c",
    "import av, cv2, matplotlib.pyplot, msgspec, numpy, pandas, PIL.Image, pint, pyproj, scipy.signal, scipy.ndimage",
]
RUNS = 7


def spent_s(command: list[str]) -> float:
    """Wall time of one process."""
    begin = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begin


def main() -> None:
    """Measure and print."""
    for command in (HELP, EVERYTHING):  # once uncounted: bytecode and file cache
        spent_s(command)
    pairs = [(spent_s(HELP), spent_s(EVERYTHING)) for _ in range(RUNS)]
    ratio = statistics.median(a / b for a, b in pairs)
    print(f"syncview --help      {statistics.median(a for a, _ in pairs) * 1000:7.0f} ms")
    print(f"all dependencies     {statistics.median(b for _, b in pairs) * 1000:7.0f} ms")
    print(f"ratio                {ratio:7.3f}   (target at most 0.25)")


if __name__ == "__main__":
    main()
