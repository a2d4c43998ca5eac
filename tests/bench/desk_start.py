"""How soon the desk can be used: the window shown and answering, against importing all that the program depends on.

Run: .venv/bin/python -m tests.bench.desk_start. Interleaved, whole processes, medians; processor time beside the
wall's, because other programs share the machine. The target is a ratio of at most 1/4.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time

# The window is usable when it was painted and an event that was sent after showing it has been answered.
WINDOW = [
    sys.executable,
    "-c",
    "import sys\n"
    "from syncview.desk.app import run\n"
    "from PyQt6.QtCore import QTimer\n"
    "def usable(window):\n"
    "    window.repaint()\n"
    "    import os; os._exit(0)\n"
    "run(when_shown=usable)\n",
]
EVERYTHING = [
    sys.executable,
    "-c",
    "import av, cv2, matplotlib.pyplot, msgspec, numpy, pandas, PIL.Image, pint, pyproj, scipy.signal, scipy.ndimage\n"
    "import PyQt6.QtWidgets, PyQt6.QtMultimedia",
]
RUNS = 7


def spent_s(command: list[str], environment: dict[str, str]) -> tuple[float, float]:
    """Wall and processor time of one process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begin = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment)
    wall_s = time.perf_counter() - begin
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        own = dict.fromkeys(("XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"), folder)
        environment = {**os.environ, **own, "QT_QPA_PLATFORM": "offscreen"}
        for command in (WINDOW, EVERYTHING):  # once uncounted: bytecode and file cache
            spent_s(command, environment)
        pairs = [(spent_s(WINDOW, environment), spent_s(EVERYTHING, environment)) for _ in range(RUNS)]
    for number, name in enumerate(("on the wall", "of the processor")):
        window_ms = statistics.median(window[number] for window, _ in pairs) * 1000
        all_ms = statistics.median(everything[number] for _, everything in pairs) * 1000
        ratio = statistics.median(window[number] / everything[number] for window, everything in pairs)
        print(f"time {name}: window usable {window_ms:6.0f} ms, all dependencies {all_ms:6.0f} ms, ratio {ratio:.3f}")
    print("target: a ratio of at most 0.25")


if __name__ == "__main__":
    main()
