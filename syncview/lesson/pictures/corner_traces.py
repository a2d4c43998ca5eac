"""The traces of one corner over lap distance: speed, pedals about one line, gear, steering, with the facts marked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from syncview.lesson.pictures import look
from syncview.lesson.pictures.free_places import text_width
from syncview.shown_units import LENGTH, SPEED, ShownUnit
from syncview.track.corner_facts import CornerFacts
from syncview.track.fact_basis import Window, window_of
from syncview.track.facts import corner_facts
from syncview.track.laps import format_ms

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from syncview.lesson.session import Session
    from syncview.track.corners import Corner
    from syncview.track.laps import Lap
    from syncview.track.markers import Marker

FloatArray = NDArray[np.float64]

BEFORE_M, AFTER_M = 35.0, 40.0
LEFT, RIGHT, BOTTOM, TOP = 0.075, 0.972, 0.115, 0.885
WORDS_SIZE = 7.6


@dataclass(frozen=True, slots=True, eq=False)
class Traces:
    """One lap's channels around one corner; arrays have shape (n,), None where the log lacks the channel."""

    from_apex_m: FloatArray
    speed: FloatArray
    """In the shown unit."""
    throttle: FloatArray | None
    brake: FloatArray | None
    """Shares of full travel."""
    gear: FloatArray | None
    steering_deg: FloatArray | None
    """Counted into the corner."""


@dataclass(frozen=True, slots=True)
class Event:
    """A fact at a place, to be written above the traces."""

    from_apex_m: float
    words: str
    colour: str


def corner_traces(session: Session, lap: Lap, corner: Corner, *, against: Lap | None = None) -> Figure:
    """Draw the page."""
    units = session.project.units
    speed, length = SPEED[units], LENGTH[units]
    facts = corner_facts(session.track, session.log, lap, corner, basis=session.facts)
    window = window_of(session.facts, lap, corner)
    begin_m, end_m = _span(window, facts)
    traces = _traces(session, window, begin_m, end_m, speed)
    other = (
        None if against is None else _traces(session, window_of(session.facts, against, corner), begin_m, end_m, speed)
    )
    figure = look.page()
    markers = _near_markers(session, window, begin_m, end_m)
    lanes = _lanes(figure, traces, speed, with_markers=bool(markers))
    for axes, draw in lanes[1:]:
        axes.set_xlim(begin_m, end_m)
        axes.axvspan(
            window.entry_m - window.apex_m, window.exit_m - window.apex_m, color="#eef1f4", zorder=0, linewidth=0
        )
        if other is not None:
            draw(axes, other, False)
        draw(axes, traces, True)
    events = _events(facts, traces, length)
    _write_events(lanes[0][0], events, begin_m, end_m)
    for axes, _ in lanes[1:]:
        for event in events:
            axes.axvline(event.from_apex_m, color=event.colour, linewidth=0.8, linestyle=(0, (3, 2)), zorder=1.5)
    if markers:
        _draw_markers(lanes[-1][0], markers)
    _mark_speeds(lanes[1][0], facts, speed)
    _finish_axis(lanes[-1][0], window, begin_m, end_m, length)
    _draw_heading(figure, session, lap, corner, against, facts, traces)
    return figure


def _span(window: Window, facts: CornerFacts) -> tuple[float, float]:
    """From before the braking point to behind full throttle, in metres from the apex."""
    begin = [window.entry_m - window.apex_m]
    if facts.brake.before_apex_m.value is not None:
        begin.append(-facts.brake.before_apex_m.value)
    end = [window.exit_m - window.apex_m]
    if facts.full.after_apex_m.value is not None:
        end.append(facts.full.after_apex_m.value)
    return min(begin) - BEFORE_M, max(end) + AFTER_M


def _traces(session: Session, window: Window, begin_m: float, end_m: float, speed: ShownUnit) -> Traces:
    basis = session.facts
    part = slice(*np.searchsorted(basis.course_m, (window.apex_m + begin_m, window.apex_m + end_m)))
    sign = 1 if window.corner.side == "left" else -1
    held = basis.steering_rad
    return Traces(
        basis.course_m[part] - window.apex_m,
        basis.track.motion.speed_mps[part] / speed.si,
        None if basis.throttle is None else basis.throttle[part],
        None if basis.brake is None else basis.brake[part],
        None if basis.gear is None else basis.gear[part],
        None if held is None else np.degrees(sign * held[part]),
    )


Draw = Callable[["Axes", Traces, bool], None]


def _lanes(figure: Figure, traces: Traces, speed: ShownUnit, *, with_markers: bool) -> list[tuple[Axes, Draw]]:
    """Lanes from the top down: words, then what the log has."""
    chosen: list[tuple[float, str, Draw]] = [(1.3, "", _draw_nothing), (2.3, speed.label, _draw_speed)]
    if traces.throttle is not None or traces.brake is not None:
        chosen.append((1.9, "brake   throttle", _draw_pedals))
    if traces.gear is not None:
        chosen.append((0.75, "gear", _draw_gear))
    if traces.steering_deg is not None:
        chosen.append((1.25, "wheel, °", _draw_steering))
    if with_markers:
        chosen.append((0.35, "", _draw_nothing))
    sheet = figure.add_gridspec(len(chosen), 1, height_ratios=[lane[0] for lane in chosen], hspace=0.09, left=LEFT,
                                right=RIGHT, bottom=BOTTOM, top=TOP)  # fmt: skip
    lanes = []
    for place, (_, words, draw) in enumerate(chosen):
        axes = figure.add_subplot(sheet[place])
        axes.set_ylabel(words, fontsize=8)
        axes.tick_params(labelbottom=False, bottom=False)
        axes.spines["bottom"].set_visible(False)
        lanes.append((axes, draw))
    figure.align_ylabels()
    return lanes


def _draw_nothing(axes: Axes, traces: Traces, own: bool) -> None:
    del axes, traces, own


def _draw_speed(axes: Axes, traces: Traces, own: bool) -> None:
    axes.plot(traces.from_apex_m, traces.speed, **_line(own, look.INK))  # type: ignore[arg-type]
    axes.margins(y=0.12)
    axes.grid(axis="y", color=look.FAINT, linewidth=0.5)


def _draw_pedals(axes: Axes, traces: Traces, own: bool) -> None:
    """Throttle grows up from the line, brake down, as on the gauges' see-saw."""
    for share, colour, hatch in ((traces.throttle, look.THROTTLE, ""), (traces.brake, look.BRAKE, "////")):
        if share is None:
            continue
        signed = np.clip(share, 0, None) if colour == look.THROTTLE else -np.clip(share, 0, None)
        if own:
            axes.fill_between(traces.from_apex_m, 0, signed, facecolor=colour, alpha=0.28, linewidth=0, zorder=2)
            axes.fill_between(
                traces.from_apex_m, 0, signed, facecolor="none", edgecolor=colour, hatch=hatch, linewidth=0, zorder=2.1
            )
        axes.plot(traces.from_apex_m, signed, **_line(own, colour))  # type: ignore[arg-type]
    axes.axhline(0, color=look.INK, linewidth=0.8, zorder=2.5)
    axes.set_ylim(-1.12, 1.12)
    axes.set_yticks([-1, -0.5, 0, 0.5, 1], ["100 %", "50 %", "0", "50 %", "100 %"])
    axes.grid(axis="y", color=look.FAINT, linewidth=0.5)


def _draw_gear(axes: Axes, traces: Traces, own: bool) -> None:
    assert traces.gear is not None
    gear = np.where(traces.gear > 0, np.rint(traces.gear), np.nan)
    axes.step(traces.from_apex_m, gear, where="post", **_line(own, look.INK))  # type: ignore[arg-type]
    axes.set_yticks([])
    if not own or not np.isfinite(gear).any():
        return
    axes.set_ylim(np.nanmin(gear) - 0.6, np.nanmax(gear) + 1.5)
    known = np.flatnonzero(np.isfinite(gear))
    begins = known[np.concatenate(([True], np.diff(gear[known]) != 0))]
    ends = np.append(begins[1:], known[-1])
    for begin, end in zip(begins, ends, strict=True):
        middle_m = 0.5 * (traces.from_apex_m[begin] + traces.from_apex_m[end])
        if traces.from_apex_m[end] - traces.from_apex_m[begin] > 4:
            axes.text(middle_m, gear[begin] + 0.12, f"{gear[begin]:.0f}", ha="center", va="bottom", fontsize=8,
                      fontweight="bold")  # fmt: skip


def _draw_steering(axes: Axes, traces: Traces, own: bool) -> None:
    assert traces.steering_deg is not None
    axes.axhline(0, color=look.QUIET, linewidth=0.6, zorder=1)
    axes.plot(traces.from_apex_m, traces.steering_deg, **_line(own, look.INK))  # type: ignore[arg-type]
    axes.grid(axis="y", color=look.FAINT, linewidth=0.5)


def _line(own: bool, colour: str) -> dict[str, object]:
    if own:
        return {"color": colour, "linewidth": 1.7, "zorder": 3}
    return {"color": look.OTHER, "linewidth": 1.0, "linestyle": (0, (5, 1.5)), "zorder": 2.2}


def _events(facts: CornerFacts, traces: Traces, length: ShownUnit) -> list[Event]:
    """What is written above the traces, in order of place."""
    found = []
    brake, marker = facts.brake, facts.brake.marker
    if brake.before_apex_m.value is not None:
        lines = [f"brakes {length.of(brake.before_apex_m.value):.0f} {length.label} before apex"]
        if brake.past_marker_m.value is not None and marker is not None:
            lines.append(_past(brake.past_marker_m.value, marker, length))
        found.append(Event(-brake.before_apex_m.value, "\n".join(lines), look.BRAKE))
    if facts.turn_in.before_apex_m.value is not None:
        found.append(Event(-facts.turn_in.before_apex_m.value, "turns in", look.QUIET))
    if facts.apex.after_apex_m.value is not None:
        found.append(Event(facts.apex.after_apex_m.value, "apex", look.INK))
    for words, fact in (("throttle", facts.pickup), ("full throttle", facts.full)):
        if fact.after_apex_m.value is not None:
            found.append(
                Event(fact.after_apex_m.value, f"{words}\n{_beside(fact.after_apex_m.value, length)}", look.THROTTLE)
            )
    begin_m, end_m = traces.from_apex_m[[0, -1]]
    return sorted((e for e in found if begin_m <= e.from_apex_m <= end_m), key=lambda event: event.from_apex_m)


def _past(past_m: float, marker: Marker, length: ShownUnit) -> str:
    where = "past" if past_m >= 0 else "before"
    return f"{length.of(abs(past_m)):.0f} {length.label} {where} {marker.words}"


def _beside(after_m: float, length: ShownUnit) -> str:
    if abs(after_m) < 0.5:
        return "at the apex"
    return f"{length.of(abs(after_m)):.0f} {length.label} {'after' if after_m > 0 else 'before'} apex"


def _write_events(axes: Axes, events: list[Event], begin_m: float, end_m: float) -> None:
    """Words in rows, so that none covers another; a line leads down from each."""
    axes.set_axis_off()
    axes.set_xlim(begin_m, end_m)
    axes.set_ylim(0, 1)
    pt_m = (end_m - begin_m) / (72 * look.PAGE_IN[0] * (RIGHT - LEFT))
    free_from = [begin_m, begin_m, begin_m]
    for event in events:
        width_m = pt_m * (max(text_width(line, WORDS_SIZE) for line in event.words.splitlines()) + 8)
        left_m = min(event.from_apex_m, end_m - width_m)
        row = next((r for r, at_m in enumerate(free_from) if at_m <= left_m), int(np.argmin(free_from)))
        free_from[row] = left_m + width_m
        top = 0.98 - 0.33 * row
        axes.plot(
            [event.from_apex_m] * 2, [0, top], color=event.colour, linewidth=0.8, linestyle=(0, (3, 2)), clip_on=False
        )
        axes.text(left_m + 3 * pt_m, top, event.words, fontsize=WORDS_SIZE, va="top", color=_words_colour(event.colour),
                  linespacing=1.15, bbox={"facecolor": look.PAPER, "edgecolor": "none", "pad": 0.8})  # fmt: skip


def _words_colour(colour: str) -> str:
    return look.BRAKE_WORDS if colour == look.BRAKE else colour


def _mark_speeds(axes: Axes, facts: CornerFacts, speed: ShownUnit) -> None:
    """Dots on the speed where it says something: braking, slowest, exit is at the band's end."""
    for place, fact, colour, above in (
        (facts.brake.before_apex_m.value, facts.brake.speed_mps.value, look.BRAKE, True),
        (facts.slowest.after_apex_m.value, facts.slowest.speed_mps.value, look.INK, False),
    ):
        if place is None or fact is None:
            continue
        at_m = -place if colour == look.BRAKE else place
        axes.plot(at_m, speed.of(fact), marker="o" if not above else "s", markersize=5, color=colour,
                  markeredgecolor=look.PAPER, zorder=4)  # fmt: skip
        words, ink = f"{speed.of(fact):.0f} {speed.label}", _words_colour(colour)
        axes.annotate(words if above else f"slowest {words}", (at_m, speed.of(fact)), (6, 5 if above else -11),
                      textcoords="offset points", fontsize=WORDS_SIZE, color=ink, zorder=5)  # fmt: skip


def _finish_axis(axes: Axes, window: Window, begin_m: float, end_m: float, length: ShownUnit) -> None:
    """Distance to the apex below the lowest lane."""
    step = next(step for step in (10, 20, 25, 50, 100, 200, 500) if length.of(end_m - begin_m) / step <= 12)
    shown = np.arange(np.ceil(length.of(begin_m) / step), np.floor(length.of(end_m) / step) + 1) * step
    axes.set_xticks(shown * length.si, ["apex" if tick == 0 else f"{tick:+.0f}".replace("-", "−") for tick in shown])
    axes.tick_params(labelbottom=True, bottom=True)
    axes.spines["bottom"].set_visible(True)
    apex = f"{length.of(window.corner.apex_m):.0f} {length.label}"
    axes.set_xlabel(f"{length.label} to the corner's apex, which lies {apex} from the start line; "
                    "grey: from entry to exit", fontsize=8)  # fmt: skip


def _near_markers(session: Session, window: Window, begin_m: float, end_m: float) -> list[tuple[float, Marker]]:
    """Markers that belong here, with their places from the apex."""
    length_m = session.track.lap_length_m
    places = [
        ((marker.at_m - window.corner.apex_m - begin_m) % length_m + begin_m, marker)
        for marker in session.facts.markers
        if marker.corner in (None, window.corner.number)
    ]
    return [(at_m, marker) for at_m, marker in places if at_m <= end_m]


def _draw_markers(axes: Axes, markers: list[tuple[float, Marker]]) -> None:
    axes.set_ylim(0, 1)
    axes.set_yticks([])
    for at_m, marker in markers:
        axes.plot(at_m, 0.3, marker="s", markersize=4.5, color=look.PAPER, markeredgecolor=look.INK, zorder=6)
        axes.annotate(marker.words, (at_m, 0.3), (6, 0), textcoords="offset points", va="center_baseline",
                      fontsize=WORDS_SIZE, color=look.INK)  # fmt: skip


def _draw_heading(figure: Figure, session: Session, lap: Lap, corner: Corner, against: Lap | None, facts: CornerFacts,
                  traces: Traces) -> None:  # fmt: skip
    words = f"Corner {corner.number}" + (f", {corner.name}" if corner.name else "")
    parts = [f"{corner.side}", f"lap {lap.number}, {format_ms(lap.time_ms)}"]
    if facts.span.time_s.value is not None:
        parts.append(f"{facts.span.time_s.value:.2f} s from entry to exit")
    if against is not None:
        parts.append(f"grey dashes: lap {against.number}, {format_ms(against.time_ms)}")
    look.title(figure, words, "; ".join(parts))
    lacking = [name for name, values in (("throttle", traces.throttle), ("brake", traces.brake), ("gear", traces.gear),
                                         ("steering", traces.steering_deg)) if values is None]  # fmt: skip
    name = session.circuit.name if session.circuit is not None else session.path.name.removesuffix(".syncview.json")
    look.footer(figure, f"{name}." + (f" The log has no {', no '.join(lacking)} channel." if lacking else ""))
