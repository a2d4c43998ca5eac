"""How well corners and facts are found in generated sessions, and how long facts take.

    python -m tests.bench.corners [CIRCUITS]

Each circuit (20 unless said) is driven three laps with usual noise and logged at 10, 20, 50 and 100 Hz; the truth is
the generator's. Printed are medians and high percentiles of the errors and how many stay within the bar; before that,
the time that all facts of 30 laps take.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, field

import numpy as np

from syncview.track.corners import Corner
from syncview.track.distance import build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from syncview.track.facts import session_facts
from tests.track.generator import Session, TruePass, drive, random_circuit

RATES_HZ = (10, 20, 50, 100)
NEAR_M = 30.0
"""A corner found further from a true one's apex is another corner."""
BARS: dict[str, float] = {
    "apex, all laps": 3.0,
    "apex, one lap": 3.0,
    "slowest, km/h": 0.5,
    "brake onset": 2.0,
    "full throttle": 3.0,
}
"""What is aimed at, metres unless said."""
BARS_AT_10_HZ: dict[str, float] = {"apex, all laps": 8.0, "apex, one lap": 8.0, "brake onset": 5.0}


@dataclass(slots=True)
class Errors:
    """Absolute errors of one rate, over all circuits and laps."""

    true: int = 0
    found: int = 0
    hits: int = 0
    onsets_missed: int = 0
    onsets_invented: int = 0
    by_fact: dict[str, list[float]] = field(default_factory=dict)

    def add(self, fact: str, error: float) -> None:
        """Keep one error."""
        self.by_fact.setdefault(fact, []).append(abs(error))


def beside_m(a_m: float, b_m: float, length_m: float) -> float:
    """Signed distance along the lap."""
    return (a_m - b_m + length_m / 2) % length_m - length_m / 2


def matched(session: Session, corners: tuple[Corner, ...]) -> dict[int, Corner]:
    """True corner -> the one found for it; each is used once."""
    length_m = session.circuit.length_m
    pairs = sorted(
        (min(abs(beside_m(apex, true.apex_m, length_m)) for apex in corner.apexes), index, corner.number)
        for index, true in enumerate(session.circuit.corners)
        for corner in corners
        if corner.side == true.side
    )
    result: dict[int, Corner] = {}
    for gap_m, index, number in pairs:
        taken = {corner.number for corner in result.values()}
        if gap_m <= NEAR_M and index not in result and number not in taken:
            result[index] = corners[number - 1]
    return result


def measure(session: Session, basis: FactBasis, errors: Errors) -> None:
    """Add one session's errors."""
    circuit = session.circuit
    found = matched(session, basis.corners)
    sharp = {i for i in range(len(circuit.corners)) if i not in session.flat}
    errors.true += len(sharp)
    errors.found += sum(not c.flat for c in basis.corners)
    errors.hits += sum(index in sharp and not corner.flat for index, corner in found.items())
    facts = session_facts(basis)
    for true in session.passes:
        if true.corner in session.flat or true.corner not in found:
            continue
        corner = found[true.corner]
        fact, apex_m = facts[true.lap, corner.number], circuit.corners[true.corner].apex_m
        if true.lap == 1:
            errors.add("apex, all laps", beside_m(corner.apex_m, apex_m, circuit.length_m))
        if fact.apex.distance_m.value is not None:
            errors.add("apex, one lap", beside_m(fact.apex.distance_m.value, apex_m, circuit.length_m))
        if fact.slowest.speed_mps.value is not None:
            errors.add("slowest, km/h", 3.6 * (fact.slowest.speed_mps.value - true.min_speed_mps))
        _pedals(errors, true, fact.brake.distance_m.value, fact.full.distance_m.value, circuit.length_m)
        if true.brake_onset_s is not None and fact.brake.log_s.value is not None and fact.brake.speed_mps.value:
            errors.add(
                "brake onset, in time", (fact.brake.log_s.value - true.brake_onset_s) * fact.brake.speed_mps.value
            )


def _pedals(errors: Errors, true: TruePass, onset_m: float | None, full_m: float | None, length_m: float) -> None:
    errors.onsets_missed += onset_m is None and true.brake_onset_m is not None
    errors.onsets_invented += onset_m is not None and true.brake_onset_m is None
    if onset_m is not None and true.brake_onset_m is not None:
        errors.add("brake onset", beside_m(onset_m, true.brake_onset_m, length_m))
    if full_m is not None and true.full_throttle_m is not None:
        errors.add("full throttle", beside_m(full_m, true.full_throttle_m, length_m))


def accuracy(circuits: int, *, noise: float = 1.0, without: tuple[str, ...] = ()) -> None:
    """Print the table; `noise` is a factor on all sensors' noise (1: position wanders by 0.5 m on each axis)."""
    lacking = f", without {' and '.join(without)}" if without else f", position wandering by {0.5 * noise:.1f} m"
    print(f"{circuits} circuits x 3 laps{lacking}; metres unless said: median / 95 % / 99 % / greatest")
    for rate_hz in RATES_HZ:
        errors = Errors()
        for seed in range(circuits):
            session = drive(seed, rate_hz=rate_hz, noise=noise, without=without)
            measure(session, prepare_facts(build_track(session.log, session.lap_starts_s), session.log), errors)
        print(f"{rate_hz:3d} Hz: recall {errors.hits / errors.true:.3f}, precision {errors.hits / errors.found:.3f} of "
              f"{errors.true} corners; brakings missed {errors.onsets_missed}, invented {errors.onsets_invented}")  # fmt: skip  # noqa: E501
        for name, values in errors.by_fact.items():
            shown = " / ".join(f"{value:.2f}" for value in np.quantile(values, (0.5, 0.95, 0.99, 1.0)))
            print(f"      {name:22s} {shown}   ({len(values)}){within(name, values, rate_hz)}")


def within(fact: str, errors: list[float], rate_hz: int) -> str:
    """How many errors stay within the bar, in words; empty for facts without one."""
    bars = BARS | (BARS_AT_10_HZ if rate_hz <= 10 else {})
    return f"  {np.mean(np.array(errors) <= bars[fact]):.1%} within {bars[fact]:g}" if fact in bars else ""


def speed() -> None:
    """Print how long the facts of an hour take: 30 laps at 100 Hz; and of 10, for the growth."""
    seed = next(s for s in range(100) if len(random_circuit(s).corners) >= 11)
    spent = {}
    for laps in (10, 30):
        session = drive(seed, rate_hz=100, laps=laps)
        track = build_track(session.log, session.lap_starts_s)
        begin = time.perf_counter()
        basis = prepare_facts(track, session.log)
        ready = time.perf_counter()
        count = len(session_facts(basis))
        spent[laps] = time.perf_counter() - begin
        print(f"{laps} laps, {count} corners driven, {session.log_s.size} samples: {spent[laps]:.2f} s "
              f"(channels {ready - begin:.2f} s, facts {spent[laps] - ready + begin:.2f} s)")  # fmt: skip
    print(f"30 laps take {spent[30] / spent[10]:.2f} times as long as 10")


if __name__ == "__main__":
    speed()
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    accuracy(number)
    accuracy(number, noise=0.4)
    accuracy(number, without=("latitude", "longitude"))
