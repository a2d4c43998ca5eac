"""What many laps say together: which of them stand for the driving, medians and spreads, sections, the best of each.

The lap is cut into sections half-way between corners that are not flat, and at the start line; sections do not overlap
and leave nothing out, so a lap's section times add up to its lap time, and the sum of the best sections is a lap time
that nobody has driven. It is an upper bound of the pace: it takes for granted that the best of every section can be
joined, although the laps that were best there came with other speeds (`joins` says how unlike they were).

Spread is the median absolute deviation from the median (MAD), unscaled; 1.4826 times it estimates the standard
deviation of normal scatter (Rousseeuw and Croux, JASA 88, 1993; from memory, checked against scipy.stats by test).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.track.corner_facts import CornerFacts
from syncview.track.corners import Corner
from syncview.track.distance import Track
from syncview.track.fact_basis import FactBasis
from syncview.track.laps import Lap, whole_ms

FloatArray = NDArray[np.float64]

LOST_SHARE = 0.2
"""A section slower than the median by this share and by `LOST_S` was not driven at pace: traffic, a slide, an
excursion. Common practice, no source; drivers of one pace differ by a few per cent."""
LOST_S = 0.7
NEARLY_STOPPED_SHARE = 0.35
NEARLY_STOPPED_MPS = 8.0
"""Slower than both this share of the usual speed at the place and this speed: spun, or as good as stopped."""
SPUN_DEG = 120.0
"""The car turned this much further than usual, within a section: a spin (a slide that is caught stays below)."""
OFF_PACE_SHARE = 0.05
OFF_PACE_MADS = 6.0
"""A lap slower than the median by both was not driven at pace, even if it lost no more in one place than elsewhere."""
LEAST_LAPS = 3
"""Fewer laps have no usual to differ from."""

BETTER: Mapping[str, int] = {
    "brake.before_apex_m": -1,
    "brake.to_peak_s": -1,
    "slowest.speed_mps": 1,
    "apex.speed_mps": 1,
    "pickup.after_apex_m": -1,
    "full.after_apex_m": -1,
    "pedals.coasting_s": -1,
    "span.entry_speed_mps": 1,
    "span.exit_speed_mps": 1,
    "span.time_s": -1,
    "span.against_reference_s": -1,
    "steering.reversals": -1,
}
"""Facts of which more (1) or less (−1) is quicker if nothing else changes. Of the others no value is the best."""


@dataclass(frozen=True, slots=True)
class LapVerdict:
    """Whether a timed lap stands for the driving."""

    lap: Lap
    reasons: tuple[str, ...]
    """Why it does not; empty when it does."""

    @property
    def stands(self) -> bool:
        """It counts in medians and spreads."""
        return not self.reasons


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the lap that is timed as one."""

    begin_m: float
    end_m: float
    corners: tuple[int, ...]
    """Numbers of the corners whose apex lies in it."""

    @property
    def words(self) -> str:
        """`corner 3`, `corners 4 and 5`, or `the straight over the line`."""
        if not self.corners:
            return f"{self.begin_m:.0f} to {self.end_m:.0f} m"
        if len(self.corners) == 1:
            return f"corner {self.corners[0]}"
        return f"corners {', '.join(map(str, self.corners[:-1]))} and {self.corners[-1]}"


@dataclass(frozen=True, slots=True, eq=False)
class SectionTimes:
    """Times of all timed laps in all sections."""

    sections: tuple[Section, ...]
    laps: tuple[Lap, ...]
    time_s: FloatArray
    """Shape (laps, sections); a row adds up to the lap's time; NaN where the log has a hole."""


@dataclass(frozen=True, slots=True)
class Spread:
    """One fact of one corner over the laps that stand for the driving."""

    fact: str
    unit: str
    count: int
    """Laps on which it is known."""
    median: float
    mad: float
    best: float | None
    """None where no value is better than another."""
    best_lap: int | None


@dataclass(frozen=True, slots=True)
class CornerSpread:
    """How steadily one corner is driven."""

    corner: Corner
    facts: tuple[Spread, ...]
    time_mad_s: float
    """Of the time in its section."""
    behind_best_s: float
    """Median less best time in its section: what is to be won by driving it as well as once."""
    quickest_lap: int
    """The lap that was quickest through its section."""

    def spread(self, fact: str) -> Spread | None:
        """One fact's, if it is known on any lap."""
        return next((each for each in self.facts if each.fact == fact), None)


@dataclass(frozen=True, slots=True)
class BestSections:
    """The lap made of the best sections: an upper bound of the pace, driven by nobody."""

    sections: tuple[Section, ...]
    laps: tuple[int, ...]
    """The lap that was quickest, section by section."""
    times_s: tuple[float, ...]
    time_ms: int
    """Their sum."""
    best_lap: int
    to_best_ms: int
    """The sum less the best lap's time: never positive."""
    joins: tuple[float, ...]
    """At the end of each section but the last: speed with which the next one's lap came, less this one's; m/s. Not
    nil means that the two do not fit together."""


@dataclass(frozen=True, slots=True)
class ManyLaps:
    """A session's laps taken together."""

    verdicts: tuple[LapVerdict, ...]
    corners: tuple[CornerSpread, ...]
    """In lap order."""
    sections: SectionTimes
    best: BestSections | None
    """None when no lap stands for the driving."""

    @property
    def ranking(self) -> tuple[CornerSpread, ...]:
        """Corners from the least steady to the steadiest, by the spread of the time in their sections."""
        return tuple(sorted(self.corners, key=lambda each: (-each.time_mad_s, each.corner.number)))


def many_laps(basis: FactBasis, facts: Mapping[tuple[int, int], CornerFacts]) -> ManyLaps:
    """Take a session's laps together; `facts` are those of `session_facts`, by (lap number, corner number)."""
    times = section_times(basis.track, basis.corners)
    verdicts = lap_verdicts(basis, times)
    standing = [v.lap for v in verdicts if v.stands]
    if not standing:
        return ManyLaps(verdicts, (), times, None)
    corners = tuple(
        _corner_spread(corner, facts, times, standing, basis.track.lap_length_m)
        for corner in basis.corners
        if not corner.flat
    )
    return ManyLaps(verdicts, tuple(filter(None, corners)), times, best_sections(basis.track, times, standing))


def sections_of(corners: Sequence[Corner], lap_length_m: float) -> tuple[Section, ...]:
    """Cut the lap half-way between corners that are not flat, and at the start line."""
    driven = [corner for corner in corners if not corner.flat]
    cuts = {0.0, lap_length_m}
    for before, after in zip(driven, [*driven[1:], *driven[:1]], strict=True):
        gap_m = (after.apex_m - before.apex_m) % lap_length_m or lap_length_m
        exit_m = (before.exit_m - before.apex_m) % lap_length_m
        entry_m = gap_m - (after.apex_m - after.entry_m) % lap_length_m
        middle_m = (before.apex_m + (exit_m + entry_m) / 2) % lap_length_m
        over_line = before is driven[-1] and exit_m <= lap_length_m - before.apex_m <= entry_m
        if not over_line:  # on the straight over the line, the line itself parts them
            cuts.add(middle_m)
    edges = sorted(cuts)
    return tuple(
        Section(a, b, tuple(c.number for c in corners if a <= c.apex_m < b)) for a, b in itertools.pairwise(edges)
    )


def section_times(track: Track, corners: Sequence[Corner]) -> SectionTimes:
    """Times of every timed lap in every section."""
    sections = sections_of(corners, track.lap_length_m)
    edges_m = np.array([section.begin_m for section in sections] + [track.lap_length_m])
    begins_m = np.arange(len(track.timed)) * track.lap_length_m
    at_s = track.log_s_at_course(begins_m[:, None] + edges_m[None, :])
    return SectionTimes(sections, track.timed, np.asarray(np.diff(at_s, axis=1), dtype=np.float64))


def lap_verdicts(basis: FactBasis, times: SectionTimes) -> tuple[LapVerdict, ...]:
    """Which laps stand for the driving: no remark, and nowhere far slower or turned further than the median lap."""
    reasons: dict[int, list[str]] = {lap.number: [lap.remark] if lap.remark else [] for lap in times.laps}
    whole = [row for row, lap in enumerate(times.laps) if not lap.remark]
    if len(whole) >= LEAST_LAPS:
        lap_s = np.array([times.laps[row].time_ms / 1000 for row in whole])
        for row, own_s in zip(whole, lap_s.tolist(), strict=True):
            found = _troubles(basis, times, row, whole)
            over_s = own_s - float(np.median(lap_s))
            if not found and over_s > max(OFF_PACE_SHARE * float(np.median(lap_s)), OFF_PACE_MADS * mad(lap_s)):
                found = [f"{over_s:.1f} s slower than the median lap, everywhere a little: not at pace"]
            reasons[times.laps[row].number] += found
    return tuple(LapVerdict(lap, tuple(reasons[lap.number])) for lap in times.laps)


def _troubles(basis: FactBasis, times: SectionTimes, row: int, whole: list[int]) -> list[str]:
    usual = np.nanmedian(times.time_s[whole], axis=0)
    found = []
    for index, section in enumerate(times.sections):
        lost_s = float(times.time_s[row, index] - usual[index])
        if not lost_s > max(LOST_S, LOST_SHARE * float(usual[index])):
            continue
        found.append(f"lost {lost_s:.1f} s in {section.words}: {_kind(basis, times, row, section)}")
    return found


def _kind(basis: FactBasis, times: SectionTimes, row: int, section: Section) -> str:
    """What it looks like: a spin turns the car, a near stop is slow, the rest may be traffic."""
    begin_m = row * basis.track.lap_length_m + section.begin_m
    end_m = row * basis.track.lap_length_m + section.end_m
    turned_deg = _turned_deg(basis, begin_m, end_m)
    others = [_turned_deg(basis, r * basis.track.lap_length_m + section.begin_m,
                          r * basis.track.lap_length_m + section.end_m)
              for r in range(len(times.laps)) if r != row]  # fmt: skip
    if turned_deg is not None and any(o is not None for o in others):
        usual_deg = float(np.median([o for o in others if o is not None]))
        if abs(turned_deg - usual_deg) > SPUN_DEG:
            return f"spun, the car turned {abs(turned_deg - usual_deg):.0f}° more than usual"
    part = slice(*np.searchsorted(basis.course_m, (begin_m, end_m)))
    slowest_mps = float(basis.track.motion.speed_mps[part].min()) if part.stop > part.start else float("nan")
    usual_mps = _usual_slowest(basis, section)
    if slowest_mps < NEARLY_STOPPED_MPS and slowest_mps < NEARLY_STOPPED_SHARE * usual_mps:
        return f"down to {3.6 * slowest_mps:.0f} km/h, spun or nearly stopped"
    return "traffic, a mistake or an excursion"


def _turned_deg(basis: FactBasis, begin_m: float, end_m: float) -> float | None:
    """How far the nose turned, by the yaw rate; None without one."""
    yaw = basis.log.values("yaw_rate")
    if yaw is None:
        return None
    part = slice(*np.searchsorted(basis.course_m, (begin_m, end_m)))
    if part.stop - part.start < 2 or not np.isfinite(yaw[part]).all():
        return None
    return float(np.degrees(np.trapezoid(yaw[part], basis.time_s[part])))


def _usual_slowest(basis: FactBasis, section: Section) -> float:
    length_m, slowest = basis.track.lap_length_m, []
    for row in range(len(basis.track.timed)):
        part = slice(
            *np.searchsorted(basis.course_m, (row * length_m + section.begin_m, row * length_m + section.end_m))
        )
        if part.stop > part.start:
            slowest.append(float(basis.track.motion.speed_mps[part].min()))
    return float(np.median(slowest)) if slowest else float("nan")


def _corner_spread(corner: Corner, facts: Mapping[tuple[int, int], CornerFacts], times: SectionTimes,
                   standing: Sequence[Lap], lap_length_m: float) -> CornerSpread | None:  # fmt: skip
    index = next(i for i, section in enumerate(times.sections) if corner.number in section.corners)
    rows = [row for row, lap in enumerate(times.laps) if lap in standing and np.isfinite(times.time_s[row, index])]
    if not rows:
        return None
    spent_s = times.time_s[rows, index]
    quickest = int(np.argmin(spent_s))
    return CornerSpread(
        corner=corner,
        facts=_spreads([(lap.number, facts[lap.number, corner.number]) for lap in standing], lap_length_m),
        time_mad_s=mad(spent_s),
        behind_best_s=float(np.median(spent_s) - spent_s[quickest]),
        quickest_lap=times.laps[rows[quickest]].number,
    )


def _spreads(laps: Sequence[tuple[int, CornerFacts]], lap_length_m: float) -> tuple[Spread, ...]:
    known: dict[str, list[tuple[int, float]]] = {}
    units: dict[str, str] = {}
    for number, facts in laps:
        for name, fact in facts.named():
            if fact.value is not None and not name.endswith("log_s"):
                known.setdefault(name, []).append((number, fact.value))
                units[name] = fact.unit
    for name in list(known):
        if name.endswith("past_marker_m") and _markers_differ([facts for _, facts in laps], name):
            del known[name]
        elif name.endswith("distance_m"):
            known[name] = _unwrapped(known[name], lap_length_m)
    return tuple(_spread(name, units[name], values) for name, values in known.items())


def _markers_differ(facts: Sequence[CornerFacts], name: str) -> bool:
    """Metres past one board and past another are not the same quantity."""
    markers = {getattr(getattr(each, name.partition(".")[0]), "marker", None) for each in facts}
    return len(markers - {None}) > 1


def _unwrapped(values: list[tuple[int, float]], lap_length_m: float) -> list[tuple[int, float]]:
    """Lap distances on both sides of the line as neighbours of the first one; they may leave the lap by a little."""
    first, half_m = values[0][1], lap_length_m / 2
    return [(number, first + (at_m - first + half_m) % lap_length_m - half_m) for number, at_m in values]


def _spread(name: str, unit: str, values: Sequence[tuple[int, float]]) -> Spread:
    numbers = np.array([value for _, value in values])
    way = BETTER.get(name)
    best = None if way is None else int(np.argmax(way * numbers))
    return Spread(
        name, unit, len(values), float(np.median(numbers)), mad(numbers),
        None if best is None else float(numbers[best]), None if best is None else values[best][0],
    )  # fmt: skip


def mad(values: FloatArray) -> float:
    """Median absolute deviation from the median, unscaled."""
    return float(np.median(np.abs(values - np.median(values))))


def best_sections(track: Track, times: SectionTimes, standing: Sequence[Lap]) -> BestSections | None:
    """The lap made of the best sections of the laps that stand for the driving; None where holes leave none whole."""
    rows = [row for row, lap in enumerate(times.laps) if lap in standing and np.isfinite(times.time_s[row]).all()]
    if not rows:
        return None
    spent_s = times.time_s[rows]
    chosen = np.argmin(spent_s, axis=0)
    times_s = spent_s[chosen, np.arange(chosen.size)]
    best = min((times.laps[row] for row in rows), key=lambda lap: lap.time_ms)
    own_s = float(times.time_s[times.laps.index(best)].sum())
    time_ms = best.time_ms - whole_ms(own_s - float(times_s.sum()))
    ends_m = np.array([section.end_m for section in times.sections[:-1]])
    taken = np.array(rows)[chosen]
    before, after = (_speed_at(track, r * track.lap_length_m + ends_m) for r in (taken[:-1], taken[1:]))
    return BestSections(
        times.sections,
        tuple(times.laps[row].number for row in taken.tolist()),
        tuple(times_s.tolist()),
        time_ms,
        best.number,
        time_ms - best.time_ms,
        tuple((after - before).tolist()),
    )


def _speed_at(track: Track, course_m: FloatArray) -> FloatArray:
    return np.interp(track.log_s_at_course(course_m), track.motion.log_s, track.motion.speed_mps)
