"""How right, how certain and how cheap the clock is: python -m tests.bench.clock --folder FOLDER.

Makes sessions with known clocks (kept in the folder, so that a second run measures only), finds the clock of each
without any hint, and prints the errors wherever the answer is *sure*, what is unsure and why, and whether the stated
uncertainty holds. `--cost` measures time and memory on a long 1080p60 recording instead.

The bars are the project's own. Errors are of `ClockMap.to_media_s` against the truth, at the first, middle and last
moment that log and recording share; where the recording was paused, in every part, and the worst counts.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

from tests.bench import clock_cost  # noqa: E402
from tests.clock.sessions.catalogue import QUICK, Named, matched, mismatched  # noqa: E402
from tests.clock.sessions.judging import errors_of, pause_errors_s  # noqa: E402
from tests.clock.sessions.making import make_session  # noqa: E402
from tests.clock.sessions.spec import SessionSpec  # noqa: E402

PLACES = ("start", "middle", "end")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came out for one session."""

    kind: str
    spec: SessionSpec
    sure: bool
    basis: str
    doubts: tuple[str, ...]
    errors_s: tuple[float, float, float] | None
    """Given minus true media time at the start, middle and end; None for a mismatched pair or without a clock."""
    half_widths_s: tuple[float, float, float] | None
    pause_s: tuple[float, float] | None
    """Errors of place and length of the pause that was found; None where there is none or it was not found."""
    seconds: float
    """Time that finding the clock took, opening the files included."""

    @property
    def worst_s(self) -> float:
        return max(map(abs, self.errors_s)) if self.errors_s is not None else 0.0

    @property
    def is_wrong(self) -> bool:
        """Sure of a mismatched pair, or sure and off by more than a frame of the recording."""
        if not self.sure:
            return False
        return self.spec.pair != "own" or self.worst_s > 1 / self.spec.fps

    @property
    def hears(self) -> bool:
        """Whether there is an engine to be heard and an engine speed to compare it with."""
        return self.spec.sound == "engine" and "engine_speed" not in self.spec.without


def run_one(kind: str, spec: SessionSpec, folder: Path) -> Outcome:
    """Make the session (or take it from the folder) and find its clock."""
    import cv2

    from syncview.channels import open_log
    from syncview.clock.align import align
    from syncview.media.recording import open_recording

    cv2.setNumThreads(1)
    made = make_session(folder, spec)
    begin = time.perf_counter()
    fit = align(open_recording(made.recording), open_log(made.log)).fit
    seconds = time.perf_counter() - begin
    errors = widths = pause = None
    if fit.clock is not None and made.truth.matched:
        errors, widths = errors_of(made.truth, fit.clock)
        pause = pause_errors_s(made.truth, fit.clock)
    return Outcome(kind, spec, fit.sure, fit.basis, fit.doubts, errors, widths, pause, seconds)


def run_all(sessions: list[Named], folder: Path, jobs: int) -> list[Outcome]:
    """All sessions on `jobs` processes; tells each as it is done."""
    outcomes: list[Outcome] = []
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        futures = [pool.submit(run_one, kind, spec, folder) for kind, spec in sessions]
        for future in as_completed(futures):
            outcome = future.result()
            outcomes.append(outcome)
            word = "WRONG" if outcome.is_wrong else "sure" if outcome.sure else "unsure"
            error = "" if outcome.errors_s is None else f"{outcome.worst_s * 1000:10.1f} ms"
            line = f"{len(outcomes):3d}/{len(futures)} {outcome.kind:42s} seed {outcome.spec.seed:3d} {word:6s} {error}"
            print(line, file=sys.stderr, flush=True)
    order = {spec.key: place for place, (_, spec) in enumerate(sessions)}
    return sorted(outcomes, key=lambda outcome: order[outcome.spec.key])


def _percentiles(values: Iterable[float]) -> str:
    """Median, 95th percentile and greatest of absolute values, in ms."""
    size = np.abs(np.fromiter(values, dtype=np.float64)) * 1000
    if not size.size:
        return f"{'-':>8s} {'-':>8s} {'-':>8s}"
    return f"{np.median(size):8.2f} {np.percentile(size, 95):8.2f} {size.max():8.2f}"


def report(outcomes: list[Outcome]) -> None:
    """Print the tables."""
    own = [o for o in outcomes if o.spec.pair == "own"]
    foreign = [o for o in outcomes if o.spec.pair != "own"]
    sure = [o for o in own if o.sure and o.errors_s is not None]
    print(f"\nsessions: {len(own)} matched, {len(foreign)} mismatched\n")
    print(f"{'error where sure, ms':34s} {'median':>8s} {'95 %':>8s} {'greatest':>8s}   (bars: 4, 16)")
    for k, place in enumerate(PLACES):
        print(f"  {place:32s} {_percentiles(o.errors_s[k] for o in sure if o.errors_s)}")
    print(f"  {'worst of the three':32s} {_percentiles(o.worst_s for o in sure)}")
    print(f"\nsure and wrong by more than a frame: {sum(o.is_wrong for o in own)} of {len(sure)} sure (bar: 0)")
    print(f"mismatched called sure: {sum(o.sure for o in foreign)} of {len(foreign)} (bar: 0)")
    for title, group, bar in (
        ("with", [o for o in own if o.hears], 5),
        ("without", [o for o in own if not o.hears], 15),
    ):
        unsure = sum(not o.sure for o in group)
        share = unsure / len(group) if group else 0.0
        print(f"matched and unsure {title} engine sound: {unsure} of {len(group)}, {share:.1%} (bar: {bar} %)")
    print("\ntruth inside the stated 95 % interval where sure (bar: 90 to 99 %)")
    for k, place in enumerate(PLACES):
        inside = [abs(o.errors_s[k]) <= o.half_widths_s[k] for o in sure if o.errors_s and o.half_widths_s]
        widths = _percentiles(o.half_widths_s[k] for o in sure if o.half_widths_s)
        held = f"{np.mean(inside):.1%}" if inside else "-"
        print(f"  {place:10s} {held:>7s} of {len(inside)}; stated half width, ms (median, 95 %, greatest) {widths}")
    _pauses(own)
    _by_kind(outcomes)
    _list_unsure(outcomes)


def _pauses(own: list[Outcome]) -> None:
    paused = [o for o in own if o.spec.pause is not None]
    found = [o.pause_s for o in paused if o.pause_s is not None]
    if paused:
        print(f"\npauses found: {len(found)} of {len(paused)}; errors, ms (median, 95 %, greatest):")
        print(f"  place  {_percentiles(one[0] for one in found)}\n  length {_percentiles(one[1] for one in found)}")


def _by_kind(outcomes: list[Outcome]) -> None:
    head = f"{'median ms':>10s} {'greatest':>9s} {'mean':>7s} {'seconds':>8s}"
    print(f"\n{'kind':44s} {'all':>4s} {'sure':>5s} {'wrong':>6s} {head}")
    for kind in dict.fromkeys(o.kind for o in outcomes):
        group = [o for o in outcomes if o.kind == kind]
        worst = [o.worst_s * 1000 for o in group if o.sure and o.errors_s is not None]
        signed = [o.errors_s[1] * 1000 for o in group if o.sure and o.errors_s is not None]
        error = f"{'-':>10s} {'-':>9s} {'-':>7s}"
        if worst:
            error = f"{np.median(worst):10.2f} {max(worst):9.2f} {np.mean(signed):+7.1f}"
        seconds = np.mean([o.seconds for o in group])
        print(f"{kind:44s} {len(group):4d} {sum(o.sure for o in group):5d} {sum(o.is_wrong for o in group):6d} {error} "
              f"{seconds:8.2f}")  # fmt: skip


def _list_unsure(outcomes: list[Outcome]) -> None:
    for title, group in (
        ("wrong", [o for o in outcomes if o.is_wrong]),
        ("matched but unsure", [o for o in outcomes if o.spec.pair == "own" and not o.sure]),
    ):
        print(f"\n{title}:" if group else f"\n{title}: none")
        for o in group:
            error = "no clock" if o.errors_s is None else f"best guess off by {o.worst_s * 1000:.1f} ms"
            if o.spec.pair != "own":
                error = f"a clock for a log of: {o.spec.pair}"
            print(f"  {o.kind}, seed {o.spec.seed} ({o.spec.key}): {error}; basis: {o.basis}")
            for doubt in o.doubts:
                print(f"      {doubt}")


def chosen(arguments: argparse.Namespace) -> list[Named]:
    """The sessions that the options ask for."""
    sessions = [*matched(), *mismatched()]
    if arguments.quick:
        return [next(s for s in sessions if s[0] == kind) for kind in QUICK]
    return [s for s in sessions if arguments.only in s[0]]


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--folder", type=Path, help="keep made sessions here and take them from here")
    parser.add_argument("--only", default="", metavar="WORDS", help="kinds whose name holds these words")
    parser.add_argument("--quick", action="store_true", help=f"{len(QUICK)} sessions")
    parser.add_argument("--jobs", type=int, default=2, help="processes (default 2)")
    parser.add_argument("--cost", action="store_true", help="measure time and memory on a long recording instead")
    parser.add_argument("--minutes", type=float, default=10, help="length of that recording (default 10)")
    parser.add_argument("--key-s", type=float, default=2.0, help="seconds between its key frames (default 2)")
    parser.add_argument("--repeats", type=int, default=1, help="how often to measure (default 1)")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = arguments.folder or Path(scratch)
        if arguments.cost:
            clock_cost.report(folder, arguments.minutes, arguments.key_s, arguments.repeats)
        else:
            report(run_all(chosen(arguments), folder, arguments.jobs))


if __name__ == "__main__":
    main()
