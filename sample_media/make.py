"""Makes the sample recording, log and truth again: python sample_media/make.py [--out DIR] [--laps-only]."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def main() -> None:
    """Read the command line and write the files."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="folder to write into")
    parser.add_argument("--laps-only", action="store_true", help="write log and truth, not the recording")
    parser.add_argument("--workers", type=int, default=2, help="processes that draw; the result is the same")
    wanted = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from sample_media.recipe import log, truth
    from sample_media.recipe.circuit import circuit
    from sample_media.recipe.driver import drive

    wanted.out.mkdir(parents=True, exist_ok=True)
    run = drive()
    log.write(run, wanted.out / "session.csv")
    truth.write(circuit(), run, wanted.out / "truth.json")
    print(f"log and truth written, {run.log_s[-1]:.2f} s", file=sys.stderr)
    if not wanted.laps_only:
        from sample_media.recipe import write

        write.recording(wanted.out / "session.mp4", workers=wanted.workers)


if __name__ == "__main__":
    main()
