"""How quickly the desk's traces follow: playhead, zoom and pan against a full draw by matplotlib.

Run: .venv/bin/python -m tests.bench.desk_traces. An hour of driving at 100 Hz (the sample's best lap driven again and
again, with noise): 360 000 samples a channel. matplotlib draws 12 such channels with all their points on 1200x800; the
panel shows its seven rows with the reference lap behind, 13 traces, on the same size, all of it through Qt's events and
the window's state. CPU time of the process, interleaved, medians; only the ratios carry over to other machines. The
targets: a move of the playhead at most 1/500 of the full draw, a zoom or pan at most 1/50. The move costs so little
that it is timed in batches.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import cast

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PyQt6.QtWidgets import QApplication

from syncview.channels import ROLES, FloatArray, SessionLog, Signal, open_log
from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import find_lap_starts
from syncview.desk import theme
from syncview.desk.state import DeskState
from syncview.desk.traces.lines import trace_set
from syncview.desk.traces.panel import TracesPanel
from syncview.lesson.gauge_feed import usual_reference
from syncview.lesson.lap_film import LapFilm
from syncview.lesson.session import Session
from syncview.project import Project
from syncview.track.distance import build_track
from syncview.track.fact_basis import prepare_facts

SAMPLE = Path(__file__).parents[2] / "sample_media"
HOUR_S, RATE_HZ, CHANNELS = 3600.0, 100.0, 12
SIZE_PX = (1200, 800)
ROUNDS, MOVES = 15, 100
DRIVEN = ("speed", "engine_speed", "gear", "throttle", "brake", "steering", "yaw_rate", "lateral_acceleration")


def hour_log() -> SessionLog:
    """An hour made of the sample's fastest lap."""
    log = open_log(SAMPLE / "session.csv")
    starts_s = find_lap_starts(log).starts_s
    lap = int(np.argmin(np.diff(starts_s)))
    begin_s, lap_s = float(starts_s[lap]), float(starts_s[lap + 1] - starts_s[lap])
    time_s = np.arange(round(HOUR_S * RATE_HZ)) / RATE_HZ
    random = np.random.default_rng(5)
    pace = 1 + 0.01 * np.sin(time_s / 37)
    driven_s = np.cumsum(pace) / RATE_HZ
    within_s = begin_s + driven_s % lap_s
    by_name = {role.name: role for role in ROLES}
    signals = {}
    for name in DRIVEN:
        values = log.at(name, within_s)
        if values is not None:
            noise = 0.0 if name == "gear" else 0.002 * np.nanstd(values)
            smooth = np.convolve(random.normal(size=values.size + 8), np.ones(9) / 9, "valid")
            unit = log.signals[name].unit
            signals[name] = Signal(by_name[name], name, values + noise * smooth, unit)
    counter = np.floor(driven_s / lap_s) + 1
    signals["lap"] = Signal(by_name["lap"], "lap", counter, "1")
    return SessionLog("hour", time_s, signals)


def hour_session() -> Session:
    """Its laps, corners and facts; recording and log of the project are never opened."""
    log = hour_log()
    laps = find_lap_starts(log)
    track = build_track(log, laps.starts_s)
    project = cast("Project", SimpleNamespace(lap=None, units="metric", notes=()))
    return Session(project, Path("hour.syncview.json"), log, laps, track, prepare_facts(track, log))


class HourState(DeskState):
    """A window's state about that hour, whose recording began with the log."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._film = cast("LapFilm", SimpleNamespace(clock=ClockMap(0.0), session=session, lap=session.lap()))


def cpu_s(task: Callable[[], object]) -> float:
    """Processor time of the whole process."""
    begin = time.process_time()
    task()
    return time.process_time() - begin


def matplotlib_draw(channels: FloatArray, time_s: FloatArray) -> Callable[[], object]:
    """A full draw of all points."""
    figure = Figure(figsize=(SIZE_PX[0] / 100, SIZE_PX[1] / 100), dpi=100)
    for row, values in enumerate(channels):
        axes = figure.add_subplot(len(channels), 1, row + 1)
        axes.plot(time_s, values, linewidth=1)
        axes.set_xlim(time_s[0], time_s[-1])
    canvas = FigureCanvasAgg(figure)
    return canvas.draw


def main() -> None:
    """Measure and print."""
    app = cast("QApplication", QApplication.instance() or QApplication([]))
    theme.apply(app, "dark")
    session = hour_session()
    reference = usual_reference(session, session.lap())
    begin = time.process_time()
    traces = trace_set(session, reference)
    print(f"channels and pyramid, once, in a thread    {(time.process_time() - begin) * 1000:8.1f} ms")
    own = traces.pyramid.values
    channels = np.array([own[row % traces.own_rows] for row in range(CHANNELS)], np.float64)
    full = matplotlib_draw(channels, session.log.time_s)
    state = HourState(session)
    panel = TracesPanel(state)
    bar = panel.height() - panel.plot.height()
    panel.resize(SIZE_PX[0], SIZE_PX[1] + max(bar, 0))
    panel.show()
    while panel.plot.subject is None:
        app.processEvents()
    panel.all_laps.setChecked(True)
    panel.resize(SIZE_PX[0], SIZE_PX[1] + panel.height() - panel.plot.height())
    app.processEvents()
    print(f"plot {panel.plot.width()}x{panel.plot.height()}, {own.shape[0]} rows of {own.shape[1]} samples")
    measure(app, state, panel, full)
    panel.close()
    state.close()


def measure(app: QApplication, state: DeskState, panel: TracesPanel, full: Callable[[], object]) -> None:
    """All figures, interleaved."""
    plot, places = panel.plot, iter(np.random.default_rng(3).uniform(1, HOUR_S - 1, ROUNDS * MOVES * 2))

    def moves() -> None:
        for _ in range(MOVES):
            state.move_playhead(Fraction(float(next(places))))
            app.processEvents()

    def drive(change: Callable[[], object]) -> Callable[[], None]:
        def one() -> None:
            change()
            app.processEvents()

        return one

    def near(minutes: float) -> None:
        assert plot.view is not None
        plot.set_view(plot.view.showing(1000.0, 1000.0 + minutes * 2000.0))
        app.processEvents()

    spent: dict[str, list[float]] = {}
    for _ in range(ROUNDS):
        spent.setdefault("full draw by matplotlib", []).append(cpu_s(full))
        plot.show_all()
        app.processEvents()
        before = plot.paints
        spent.setdefault("playhead move", []).append(cpu_s(moves) / MOVES)
        assert plot.paints == before, "a move of the playhead painted the traces anew"
        spent.setdefault("zoom, from the hour", []).append(cpu_s(drive(lambda: plot.zoom(0.8))))
        spent.setdefault("pan, most of the hour in view", []).append(cpu_s(drive(lambda: plot.pan(0.05))))
        near(2)
        spent.setdefault("zoom, two laps in view", []).append(cpu_s(drive(lambda: plot.zoom(0.8))))
        spent.setdefault("pan, two laps in view", []).append(cpu_s(drive(lambda: plot.pan(0.3))))
        near(0.1)
        spent.setdefault("pan, a corner in view", []).append(cpu_s(drive(lambda: plot.pan(0.3))))
    whole = statistics.median(spent["full draw by matplotlib"])
    for name, times in spent.items():
        median = statistics.median(times)
        target = {"full": "", "play": "  (target 1/500)"}.get(name[:4], "  (target 1/50)")
        print(f"{name:34s} {median * 1000:8.3f} ms   1/{whole / median:6.0f}{target}")


if __name__ == "__main__":
    main()
