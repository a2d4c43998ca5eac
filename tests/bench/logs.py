"""What loading a text log costs against `pandas.read_csv` of the same file, as ratios within one run.

Run: .venv/bin/python -m tests.bench.logs [--minutes 5] [--channels 60] [--repeats 3]. Each measurement runs in a
process of its own, in turn; seconds are processor time of all threads (others on the machine hardly change them),
peaks are of resident memory less what the process holds when its libraries are loaded. Targets: time at most 1.3,
peak at most 1.5.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.bench.clock_cost import peak_mb

RATE_HZ = 100
KINDS = ("pandas", "ours")


def make_text_log(path: Path, minutes: float, channels: int) -> None:
    """A log with a time column and channels of three decimals, at 100 Hz."""
    rng = np.random.default_rng(8)
    units = ("km/h", "1/min", "%", "deg", "bar", "m")
    with path.open("w", encoding="utf-8") as stream:
        stream.write(",".join(["time [s]", *(f"c{i} [{units[i % len(units)]}]" for i in range(channels))]) + "\n")
        for minute in range(int(minutes)):
            rows = np.cumsum(rng.normal(size=(60 * RATE_HZ, channels)), axis=0) + 50
            time_s = minute * 60 + np.arange(60 * RATE_HZ) / RATE_HZ
            np.savetxt(stream, np.column_stack((time_s, rows)), delimiter=",", fmt="%.3f")


def measure(kind: str, path: Path) -> dict[str, float]:
    """Processor seconds and the peak above what the loaded libraries hold, MB."""
    import pandas as pd

    from syncview_codecs.logs import read_log
    from syncview_codecs.logs.units import conversion

    conversion("km/h")  # the units library reads its definitions once in a process, like any library
    before_mb, begin_s = peak_mb(), time.process_time()
    if kind == "pandas":
        size = pd.read_csv(path).shape
    else:
        table = read_log(path)
        size = (table.time_s.size, len(table.channels) + 1)
    return {"seconds": time.process_time() - begin_s, "peak_mb": peak_mb() - before_mb, "cells": size[0] * size[1]}


def main() -> None:
    """Make the log, measure in turn, print ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--channels", type=int, default=60)
    parser.add_argument("--repeats", type=int, default=3)
    chosen = parser.parse_args()
    found: dict[str, list[dict[str, float]]] = {kind: [] for kind in KINDS}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        make_text_log(path, chosen.minutes, chosen.channels)
        for _ in range(chosen.repeats):
            for kind in KINDS:
                told = subprocess.run(
                    [sys.executable, "-m", "tests.bench.logs", kind, str(path)],
                    check=True, cwd=Path(__file__).parents[2], capture_output=True, text=True,
                ).stdout  # fmt: skip
                found[kind].append(json.loads(told))
        size_mb = path.stat().st_size / 1e6
    cells = found["ours"][0]["cells"]
    print(f"{chosen.minutes:g} minutes, {chosen.channels} channels, {RATE_HZ} Hz: {size_mb:.0f} MB of text, "
          f"{cells * 8 / 1e6:.0f} MB as float64")  # fmt: skip
    for kind in KINDS:
        seconds = statistics.median(one["seconds"] for one in found[kind])
        print(f"{kind:8s} {seconds:7.2f} s CPU   peak {max(one['peak_mb'] for one in found[kind]):6.0f} MB")
    for what, most in (("seconds", 1.3), ("peak_mb", 1.5)):
        ratio = statistics.median(a[what] / b[what] for a, b in zip(found["ours"], found["pandas"], strict=True))
        print(f"{what:8s} ratio {ratio:.2f}   (target at most {most})")


if __name__ == "__main__":
    if len(sys.argv) == 3 and sys.argv[1] in KINDS:
        print(json.dumps(measure(sys.argv[1], Path(sys.argv[2]))))
    else:
        main()
