"""Many laps together: statistics against scipy.stats, sections that add up, outliers named."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import stats

from syncview.channels import SessionLog, Signal
from syncview.track.corners import Corner
from syncview.track.distance import build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from syncview.track.facts import session_facts
from syncview.track.many_laps import ManyLaps, mad, many_laps, sections_of
from tests.track.generator import drive
from tests.track.made import FloatArray


@cache
def driven(seed: int = 2, laps: int = 6) -> tuple[FactBasis, ManyLaps]:
    session = drive(seed, rate_hz=20, laps=laps)
    basis = prepare_facts(build_track(session.log, session.lap_starts_s), session.log)
    return basis, many_laps(basis, session_facts(basis))


def test_median_and_spread_are_scipys() -> None:
    basis, together = driven()
    facts = session_facts(basis)
    for each in together.corners:
        found = each.spread("slowest.speed_mps")
        assert found is not None
        values = [facts[lap.number, each.corner.number].slowest.speed_mps.value for lap in basis.track.timed]
        assert found.median == pytest.approx(stats.scoreatpercentile(values, 50))
        assert found.mad == pytest.approx(stats.median_abs_deviation(values))
        assert (found.best, found.count) == (max(v for v in values if v is not None), 6)
    drawn = np.random.default_rng(0).normal(3, 2, 20_000)
    assert 1.4826 * mad(drawn) == pytest.approx(2, rel=0.03)


def test_sections_leave_nothing_out_and_add_up() -> None:
    basis, together = driven()
    sections = together.sections.sections
    assert sections[0].begin_m == 0
    assert sections[-1].end_m == basis.track.lap_length_m
    assert all(a.end_m == b.begin_m for a, b in itertools.pairwise(sections))
    assert sorted(n for s in sections for n in s.corners) == [c.number for c in basis.corners]
    for lap, row in zip(together.sections.laps, together.sections.time_s, strict=True):
        assert row.sum() == pytest.approx(lap.time_ms / 1000, abs=0.001)


def test_the_best_sections_are_an_upper_bound_of_the_pace() -> None:
    basis, together = driven()
    best, times = together.best, together.sections.time_s
    assert best is not None
    assert basis.track.best is not None
    assert best.time_ms == pytest.approx(1000 * times.min(axis=0).sum(), abs=1.1)
    assert best.time_ms <= basis.track.best.time_ms
    assert best.to_best_ms == best.time_ms - basis.track.best.time_ms
    assert sum(best.times_s) == pytest.approx(best.time_ms / 1000, abs=0.0011)
    assert len(best.joins) == len(best.sections) - 1
    same = [a == b for a, b in itertools.pairwise(best.laps)]
    assert all(step == 0 for step, alike in zip(best.joins, same, strict=True) if alike)


def test_one_lap_is_its_own_best() -> None:
    _, together = driven(laps=1)
    assert together.best is not None
    assert together.best.to_best_ms == 0
    assert set(together.best.joins) == {0.0}
    assert all(each.time_mad_s == 0 for each in together.corners)


def corner(number: int, entry_m: float, apex_m: float, exit_m: float, *, flat: bool = False) -> Corner:
    return Corner(number, "left", entry_m, apex_m, exit_m, flat, (apex_m,), "")


def test_where_sections_are_cut() -> None:
    corners = (corner(1, 100, 130, 160), corner(2, 250, 280, 300, flat=True), corner(3, 400, 450, 500))
    edges = [(s.begin_m, s.end_m, s.corners) for s in sections_of(corners, 1000)]
    assert edges == [(0, 280, (1,)), (280, 1000, (2, 3))]
    over_line = (corner(1, 980, 10, 60), corner(2, 500, 530, 560))
    assert [(s.begin_m, s.end_m, s.corners) for s in sections_of(over_line, 1000)] == [
        (0, 280, (1,)), (280, 770, (2,)), (770, 1000, ()),
    ]  # fmt: skip
    assert [s.end_m for s in sections_of((), 1000)] == [1000]
    assert [s.words for s in sections_of(corners, 1000)] == ["corner 1", "corners 2 and 3"]


def test_ranking_is_from_the_least_steady() -> None:
    ranked = [each.time_mad_s for each in driven()[1].ranking]
    assert ranked == sorted(ranked, reverse=True)
    times = driven()[1].sections
    for each in driven()[1].corners:
        index = next(i for i, s in enumerate(times.sections) if each.corner.number in s.corners)
        column = times.time_s[:, index]
        assert each.time_mad_s == pytest.approx(stats.median_abs_deviation(column))
        assert each.behind_best_s == pytest.approx(np.median(column) - column.min())
        assert each.quickest_lap == times.laps[int(np.argmin(column))].number


def slowed(lap_row: int, share: float, *, part: float = 0.1, spin: bool = False) -> ManyLaps:
    """One lap of six slowed down over a part of it, time stretched as speed is lowered."""
    session = drive(2, rate_hz=20, laps=6)
    begin_s, end_s = session.lap_starts_s[lap_row : lap_row + 2]
    inside = (session.log_s >= begin_s) & (session.log_s <= end_s)
    middle_s = begin_s + 0.5 * (end_s - begin_s)
    inside &= np.abs(session.log_s - middle_s) <= 0.5 * part * (end_s - begin_s)
    pace = np.where(inside, share, 1.0)
    steps = np.diff(session.log_s, prepend=session.log_s[0])
    time_s = session.log_s[0] + np.cumsum(steps / pace)
    signals = dict(session.log.signals)

    def changed(name: str, values: FloatArray) -> None:
        old = signals[name]
        signals[name] = Signal(old.role, old.source, values, old.unit)

    changed("speed", signals["speed"].values * pace)
    yaw = signals["yaw_rate"].values * pace
    if spin:
        yaw = yaw + np.where(inside, np.radians(360) / np.diff(time_s[inside][[0, -1]])[0], 0.0)
    changed("yaw_rate", yaw)
    log = SessionLog("slowed", time_s, signals)
    starts_s = np.interp(session.lap_starts_s, session.log_s, time_s)
    basis = prepare_facts(build_track(log, starts_s), log)
    return many_laps(basis, session_facts(basis))


@pytest.mark.parametrize(
    ("together", "words"),
    [
        (slowed(3, 0.6), "traffic, a mistake or an excursion"),
        (slowed(3, 0.08, part=0.006), "spun or nearly stopped"),
        (slowed(3, 0.5, spin=True), "spun, the car turned 3"),
        (slowed(3, 0.9, part=1.0), "slower than the median lap, everywhere a little"),
    ],
)
def test_laps_that_do_not_stand_are_named_with_the_reason(together: ManyLaps, words: str) -> None:
    out = [verdict for verdict in together.verdicts if not verdict.stands]
    assert [verdict.lap.number for verdict in out] == [4]
    assert any(words in reason for reason in out[0].reasons), out[0].reasons
    assert together.best is not None
    assert 4 not in together.best.laps
    assert all(found.count <= 5 for each in together.corners for found in each.facts)


def test_usual_laps_all_stand() -> None:
    for seed in (2, 3, 4):
        assert all(verdict.stands for verdict in driven(seed)[1].verdicts)


def test_distances_on_both_sides_of_the_line_are_neighbours() -> None:
    from syncview.track.corner_facts import Fact

    basis, _ = driven()
    facts = dict(session_facts(basis))
    length_m = basis.track.lap_length_m
    for lap, at_m in zip(basis.track.timed, (length_m - 2, 1.0, 3.0, length_m - 1, 0.5, 2.0), strict=True):
        own = facts[lap.number, 1]
        brake = replace(own.brake, distance_m=Fact(at_m, "m", "x"))
        facts[lap.number, 1] = replace(own, brake=brake)
    (first, *_) = many_laps(basis, facts).corners
    found = first.spread("brake.distance_m")
    assert found is not None
    assert (found.median - length_m) % length_m == pytest.approx(0.75)
    assert found.mad < 2
