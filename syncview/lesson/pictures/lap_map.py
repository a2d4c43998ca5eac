"""The lap as a map: its line coloured by speed, corners numbered, where it brakes and where the throttle is full."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.pictures import look
from syncview.lesson.pictures.free_places import Box, Paper, text_width
from syncview.shown_units import LENGTH, SPEED
from syncview.track.laps import format_ms

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from syncview.lesson.session import Session
    from syncview.track.laps import Lap
    from syncview.track.markers import Marker

FloatArray = NDArray[np.float64]

STEP_M = 2.0
MAP_BOX = (0.03, 0.115, 0.94, 0.775)
"""Left, bottom, width, height of the map, in shares of the page."""
ROOM_PT = 62.0
"""Around the line, for numbers and names."""
NAME_SIZE = 8.0
BY_POSITION = "Line by position."


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The lap on paper; arrays have shape (n,), at even steps of lap distance, the first point repeated at the end."""

    lap_m: FloatArray
    x: FloatArray
    y: FloatArray
    """Metres, turned to fill the page."""
    turned_rad: float
    """By how much the map was turned, counter-clockwise; north is up at 0."""
    made_from: str

    def at(self, lap_m: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Place, and direction of travel as a unit vector."""
        length_m = self.lap_m[-1]
        here, ahead, behind = (np.array([np.interp(m % length_m, self.lap_m, p) for p in (self.x, self.y)])
                               for m in (lap_m, lap_m + STEP_M, lap_m - STEP_M))  # fmt: skip
        way = ahead - behind
        return here, way / max(float(np.hypot(*way)), 1e-9)


def lap_map(session: Session, lap: Lap) -> Figure:
    """Draw the page."""
    figure = look.page()
    axes = figure.add_axes(MAP_BOX)
    axes.set_axis_off()
    course = course_of(session)
    pt_m = _fit(axes, course)
    _draw_line(figure, axes, session, lap, course)
    _draw_start(axes, course, pt_m)
    paper = _paper(axes, course, pt_m)
    spans = corner_spans(session, lap)
    for span in spans:
        _draw_points(axes, course, span, pt_m)
    if session.circuit is not None:
        _draw_markers(axes, course, session.circuit.markers, pt_m, paper)
    for span in spans:
        _draw_number(axes, course, span, pt_m, paper)
    _draw_north(figure, course)
    _draw_key(figure, session)
    name = session.path.name.removesuffix(".syncview.json") if session.circuit is None else session.circuit.name
    length = LENGTH[session.project.units]
    look.title(figure, name, f"lap {lap.number}, {format_ms(lap.time_ms)}, "
               f"{length.of(session.track.lap_length_m):.0f} {length.label}")  # fmt: skip
    look.footer(figure, course.made_from)
    return figure


def course_of(session: Session) -> Course:
    """The line on paper: by position; without it, drawn from how the lap bends."""
    lap_m, x, y, words = ground_line(session)
    turn = _best_turn(x, y)
    where = (x + 1j * y) * np.exp(1j * turn)
    return Course(lap_m, where.real, where.imag, turn, words)


def ground_line(session: Session) -> tuple[FloatArray, FloatArray, FloatArray, str]:
    """Lap distances in even steps, the line's places in metres east and north, and what it was made from.

    Arrays have shape (n,), the first point repeated at the end. Without position north is unknown.
    """
    length_m = session.track.lap_length_m
    lap_m = np.linspace(0, length_m, max(round(length_m / STEP_M), 16) + 1)
    if session.track.line is not None:
        return lap_m, *session.track.line.at(lap_m), BY_POSITION
    if session.circuit is not None and session.circuit.line is not None:
        return lap_m, *session.circuit.reference_line().at(lap_m), BY_POSITION
    words = "The log has no position: the line is drawn from how the lap bends, closed by force, north unknown."
    return lap_m, *bent_line(session.facts.curvature.median_1pm, lap_m), words


def bent_line(curvature_1pm: FloatArray, lap_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A closed line that bends like that; the turns that are missing to close it are spread evenly over the lap."""
    step_m = lap_m[-1] / curvature_1pm.size
    turned = np.nan_to_num(curvature_1pm) * step_m
    whole = 2 * np.pi * (round(float(turned.sum()) / (2 * np.pi)) or np.sign(turned.sum() or 1.0))
    heading = np.cumsum(turned + (whole - turned.sum()) / turned.size)
    steps = step_m * np.exp(1j * heading)
    place = np.concatenate(([0], np.cumsum(steps - steps.mean())))
    along = np.arange(place.size) * step_m
    return np.interp(lap_m, along, place.real), np.interp(lap_m, along, place.imag)


def _best_turn(x: FloatArray, y: FloatArray) -> float:
    """The turn that lets the map be largest on the page; none when it gains little."""
    width, height = MAP_BOX[2] * look.PAGE_IN[0], MAP_BOX[3] * look.PAGE_IN[1]
    turns = np.radians(np.arange(-90, 91, 5))
    points = (x + 1j * y)[:, None] * np.exp(1j * turns)[None, :]
    scale = np.minimum(width / np.ptp(points.real, axis=0), height / np.ptp(points.imag, axis=0))
    straight = scale[np.argmin(np.abs(turns))]
    return 0.0 if scale.max() < 1.15 * straight else float(turns[np.argmax(scale)])


def _fit(axes: Axes, course: Course) -> float:
    """Set the limits so that the line fills the box with room around it; returns metres per point."""
    width_pt, height_pt = (72 * share * inches for share, inches in zip(MAP_BOX[2:], look.PAGE_IN, strict=True))
    spans = (float(np.ptp(course.x)), float(np.ptp(course.y)))
    pt_m = max(span / (room - 2 * ROOM_PT) for span, room in zip(spans, (width_pt, height_pt), strict=True))
    for set_limits, values, room in ((axes.set_xlim, course.x, width_pt), (axes.set_ylim, course.y, height_pt)):
        middle = float(values.min() + np.ptp(values) / 2)
        set_limits(middle - pt_m * room / 2, middle + pt_m * room / 2)
    return pt_m


def _draw_line(figure: Figure, axes: Axes, session: Session, lap: Lap, course: Course) -> None:
    from matplotlib.collections import LineCollection

    speed = SPEED[session.project.units]
    track = session.track
    log_s = track.log_s_at_course(track.lap_begin_m(lap) + course.lap_m)
    values = speed.of(1.0) * np.interp(log_s, track.motion.log_s, track.motion.speed_mps)
    points = np.column_stack((course.x, course.y))
    axes.plot(course.x, course.y, color=look.INK, linewidth=8.4, solid_capstyle="round", zorder=1)
    pieces = np.stack((points[:-1], points[1:]), axis=1)
    drawn = LineCollection(list(pieces), cmap=look.pace_ramp(), linewidths=6.4, capstyle="round", zorder=2)
    drawn.set_array(0.5 * (values[1:] + values[:-1]))
    axes.add_collection(drawn)
    bar = figure.add_axes((0.70, 0.092, 0.255, 0.017))
    shown = figure.colorbar(drawn, cax=bar, orientation="horizontal")
    shown.outline.set_edgecolor(look.INK)
    shown.outline.set_linewidth(0.6)
    bar.set_title(f"speed, {speed.label}", fontsize=8, color=look.QUIET, loc="left", pad=4)


def _draw_start(axes: Axes, course: Course, pt_m: float) -> None:
    here, way = course.at(0.0)
    left = np.array([-way[1], way[0]])
    ends = np.array([here - 9 * pt_m * left, here + 9 * pt_m * left])
    axes.plot(*ends.T, color=look.INK, linewidth=4.2, solid_capstyle="butt", zorder=5)
    axes.plot(*ends.T, color=look.PAPER, linewidth=2.6, solid_capstyle="butt", zorder=5.1)
    axes.plot(*ends.T, color=look.INK, linewidth=2.6, solid_capstyle="butt", linestyle=(0, (1, 1)), zorder=5.2)
    begin, end = here + 15 * pt_m * left, here + 15 * pt_m * left + 26 * pt_m * way
    axes.annotate(
        "", xy=_pair(end), xytext=_pair(begin), arrowprops={"arrowstyle": "-|>", "color": look.INK, "lw": 1.2}, zorder=5
    )
    words_x, words_y = _pair(begin + 8 * pt_m * left)
    axes.text(words_x, words_y, "start", fontsize=8, ha="center", va="center", color=look.QUIET)


def _draw_markers(axes: Axes, course: Course, markers: tuple[Marker, ...], pt_m: float,
                  paper: Paper) -> None:  # fmt: skip
    for marker in markers:
        here, way = course.at(marker.at_m)
        left = np.array([-way[1], way[0]])
        out = -left if marker.side == "right" else left
        reach = (-1, 1) if marker.side == "across" else (0, 1)
        tick = np.array([here + 6.5 * pt_m * out * reach[0], here + 8.5 * pt_m * out * reach[1]])
        axes.plot(*tick.T, color=look.INK, linewidth=1.0, zorder=0.5)
        axes.plot(*(here + 9.5 * pt_m * out), marker="s", markersize=3.6, color=look.PAPER,
                  markeredgecolor=look.INK, markeredgewidth=0.9, zorder=4)  # fmt: skip
        words = _short(marker)
        place = here + (16.5 * pt_m + 0.5 * pt_m * text_width(words, 6.3) * abs(out[0])) * out
        box = _around(axes, place, text_width(words, 6.3) + 2, 7.5, pt_m)
        if paper.covered(box) < 1.0:
            paper.boxes.append(box)
            axes.text(
                float(place[0]),
                float(place[1]),
                words,
                fontsize=6.3,
                color=look.QUIET,
                zorder=4,
                ha="center",
                va="center",
            )


def _short(marker: Marker) -> str:
    """A board is known by its number."""
    first = marker.words.split()[0]
    return first if marker.kind == "board" and first[0].isdecimal() else marker.words


def _draw_points(axes: Axes, course: Course, span: CornerSpan, pt_m: float) -> None:
    onset_m, full_m = span.facts.brake.distance_m.value, span.facts.full.distance_m.value
    if onset_m is not None:
        here, way = course.at(onset_m)
        left = np.array([-way[1], way[0]])
        ends = np.array([here - 8 * pt_m * left, here + 8 * pt_m * left])
        axes.plot(*ends.T, color=look.PAPER, linewidth=5.2, solid_capstyle="butt", zorder=6)
        axes.plot(*ends.T, color=look.BRAKE, linewidth=3.4, solid_capstyle="butt", zorder=6.1)
    if full_m is not None:
        here, way = course.at(full_m)
        left = np.array([-way[1], way[0]])
        head = [
            here + 7.5 * pt_m * way,
            here - 4 * pt_m * way + 6.2 * pt_m * left,
            here - 4 * pt_m * way - 6.2 * pt_m * left,
        ]
        axes.fill(*np.array(head).T, facecolor=look.THROTTLE, edgecolor=look.PAPER, linewidth=1.2, zorder=6.2)


def _draw_number(axes: Axes, course: Course, span: CornerSpan, pt_m: float, paper: Paper) -> None:
    """A disc on the outside of the bend where there is room, else inside; the name beside it."""
    here, way = course.at(span.corner.apex_m)
    left = np.array([-way[1], way[0]])
    out = -left if span.corner.side == "left" else left
    discs = [here + reach * pt_m * out for reach in (21, 30, -21, -30, 42, -42)]
    place = discs[paper.best([_around(axes, disc, 16, 16, pt_m) for disc in discs])]
    flat = span.corner.flat
    axes.plot(*place, marker="o", markersize=14, color=look.PAPER if flat else look.INK, markeredgecolor=look.INK,
              markeredgewidth=1.1, zorder=7)  # fmt: skip
    axes.text(float(place[0]), float(place[1]), str(span.corner.number), color=look.INK if flat else look.PAPER,
              fontsize=8, fontweight="bold", ha="center", va="center_baseline", zorder=7.1)  # fmt: skip
    words = " ".join(filter(None, (span.corner.name, "(flat)" if flat else "")))
    if words:
        width = text_width(words, NAME_SIZE)
        aside, above = width / 2 + 11, 14.0
        ways = sorted(((1, 0), (-1, 0), (0, 1), (0, -1)), key=lambda w: -(w[0] * out[0] + w[1] * out[1]))
        places = [place + pt_m * np.array([w[0] * aside, w[1] * above]) for w in ways]
        chosen = places[paper.best([_around(axes, middle, width, 9, pt_m) for middle in places])]
        axes.text(float(chosen[0]), float(chosen[1]), words, fontsize=NAME_SIZE, zorder=7, ha="center", va="center")


def _pair(place: FloatArray) -> tuple[float, float]:
    return float(place[0]), float(place[1])


def _around(axes: Axes, middle: FloatArray, width_pt: float, height_pt: float, pt_m: float) -> Box:
    x, y = _on_paper(axes, middle, pt_m)
    return Box(x - width_pt / 2, y - height_pt / 2, width_pt, height_pt)


def _on_paper(axes: Axes, place: FloatArray, pt_m: float) -> tuple[float, float]:
    """Points from the lower left corner of the map."""
    return float(place[0] - axes.get_xlim()[0]) / pt_m, float(place[1] - axes.get_ylim()[0]) / pt_m


def _paper(axes: Axes, course: Course, pt_m: float) -> Paper:
    dots = np.column_stack(((course.x - axes.get_xlim()[0]) / pt_m, (course.y - axes.get_ylim()[0]) / pt_m))
    width, height = (72 * share * inches for share, inches in zip(MAP_BOX[2:], look.PAGE_IN, strict=True))
    return Paper(width, height, dots, 5.0)


def _draw_north(figure: Figure, course: Course) -> None:
    if course.made_from != BY_POSITION:
        return
    axes = figure.add_axes((0.925, 0.885, 0.045, 0.045 * look.PAGE_IN[0] / look.PAGE_IN[1]))
    axes.set_axis_off()
    axes.set_xlim(-1.3, 1.3)
    axes.set_ylim(-1.3, 1.3)
    up = np.array([-np.sin(course.turned_rad), np.cos(course.turned_rad)])
    axes.annotate(
        "",
        xy=_pair(0.75 * up),
        xytext=_pair(-0.75 * up),
        arrowprops={"arrowstyle": "-|>", "color": look.QUIET, "lw": 1.1},
    )
    axes.text(float(1.12 * up[0]), float(1.12 * up[1]), "N", fontsize=8, color=look.QUIET, ha="center", va="center")


def _draw_key(figure: Figure, session: Session) -> None:
    """What the signs mean."""
    axes = figure.add_axes((0.045, 0.075, 0.62, 0.045))
    axes.set_axis_off()
    axes.set_xlim(0, 100)
    axes.set_ylim(-1, 1)
    axes.plot([1, 1], [-0.6, 0.6], color=look.BRAKE, linewidth=3.4, solid_capstyle="butt")
    axes.text(2.5, 0, "brakes go on", va="center", fontsize=8)
    axes.plot(19, 0, marker=">", markersize=8, color=look.THROTTLE)
    axes.text(20.7, 0, "throttle is full", va="center", fontsize=8)
    axes.plot(38, 0, marker="o", markersize=11, color=look.INK)
    axes.text(40, 0, "corner, at its apex", va="center", fontsize=8)
    if session.circuit is not None and session.circuit.markers:
        axes.plot(62, 0, marker="s", markersize=4, color=look.PAPER, markeredgecolor=look.INK, markeredgewidth=0.9)
        axes.text(63.5, 0, "board or other marker", va="center", fontsize=8)
