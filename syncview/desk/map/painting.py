"""Paints the map without its dot: once for every lap, size or theme."""

from __future__ import annotations

import math

import numpy as np
from PyQt6.QtCore import QLineF, QPointF, QRectF, Qt
from PyQt6.QtGui import QLinearGradient, QPainter, QPen, QPolygonF

from syncview.desk.map.course import CornerPlace, FittedCourse, pace_shares
from syncview.desk.map.words import legend_words, tr
from syncview.desk.theme import Theme
from syncview.desk.traces.painting import Fonts, colour
from syncview.gauges.palette import Colour
from syncview.lesson.pictures.free_places import Box, Paper
from syncview.lesson.pictures.look import PACE
from syncview.shown_units import SPEED, Units
from syncview.track.markers import Marker

EDGE_PX, FOOT_PX, HEAD_PX = 40.0, 46.0, 8.0
"""Room around the line for numbers, and for the legend below it."""
WIDE_PX, NARROW_PX = 8.0, 4.5
"""The line is wide where it is slow and narrow where it is fast, so that speed is not told by colour alone."""
CASING_PX = 1.6
PACE_STEPS = 24


def pace_colours(count: int) -> list[Colour]:
    """From slow to fast: the ramp of the printed map, whose lightness rises all the way."""
    stops = [tuple(int(code[i : i + 2], 16) for i in (1, 3, 5)) for code in PACE]
    at = np.linspace(0, len(stops) - 1, count)
    parts = [np.interp(at, np.arange(len(stops)), [stop[part] for stop in stops]) for part in range(3)]
    return [(round(r), round(g), round(b)) for r, g, b in zip(*parts, strict=True)]


def sign_size(fitted: FittedCourse) -> float:
    """How large signs are, as a share of their usual size: smaller on a small map, so that they do not hide it."""
    return min(max(max(float(np.ptp(fitted.px)), float(np.ptp(fitted.py))) / 300.0, 0.75), 1.0)


def paint_map(painter: QPainter, fitted: FittedCourse, theme: Theme, fonts: Fonts, *, size: tuple[float, float],
              units: Units, markers: tuple[Marker, ...]) -> None:  # fmt: skip
    """Paint everything that stays while the playhead moves."""
    painter.fillRect(QRectF(0, 0, *size), colour(theme.panel))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    _paint_line(painter, fitted, theme)
    _paint_start(painter, fitted, theme)
    paper = Paper(size[0], size[1] - FOOT_PX, np.column_stack((fitted.px, fitted.py)), 6.0)
    for marker in markers if sign_size(fitted) > 0.85 else ():
        _paint_marker(painter, fitted, marker, theme)
    for place in fitted.course.corners:
        _paint_points(painter, fitted, place, theme)
    for place in fitted.course.corners:
        _paint_number(painter, fitted, place, theme, fonts, paper, units)
    if fitted.course.made_from.startswith("Line by position"):
        _paint_north(painter, fitted, theme, fonts, size[0])
    _paint_legend(painter, fitted, theme, fonts, size, units)


def _paint_line(painter: QPainter, fitted: FittedCourse, theme: Theme) -> None:
    """Casing first, then pieces of like speed, slow and wide ones below fast ones."""
    shares = pace_shares(fitted.course.speed_mps)
    middle = 0.5 * (shares[:-1] + shares[1:])
    steps = np.where(np.isfinite(middle), np.round(np.nan_to_num(middle) * (PACE_STEPS - 1)), -1).astype(int)
    size = sign_size(fitted)
    for casing in (True, False):
        for step in sorted(set(steps.tolist())):
            share = max(step, 0) / (PACE_STEPS - 1)
            width = (WIDE_PX + (NARROW_PX - WIDE_PX) * share) * size
            tone: Colour = theme.quiet if step < 0 else pace_colours(PACE_STEPS)[step]
            pen = QPen(colour(theme.ink if casing else tone), width + (2 * CASING_PX if casing else 0))
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            if step < 0 and not casing:
                pen.setStyle(Qt.PenStyle.DotLine)
            painter.setPen(pen)
            painter.drawLines(*[_piece(fitted, int(i)) for i in np.flatnonzero(steps == step)])


def _piece(fitted: FittedCourse, i: int) -> QLineF:
    return QLineF(float(fitted.px[i]), float(fitted.py[i]), float(fitted.px[i + 1]), float(fitted.py[i + 1]))


def _across(fitted: FittedCourse, lap_m: float, reach: float) -> QLineF:
    (x, y), (way_x, way_y) = fitted.at(lap_m), fitted.way(lap_m)
    return QLineF(x - way_y * reach, y + way_x * reach, x + way_y * reach, y - way_x * reach)


def _paint_start(painter: QPainter, fitted: FittedCourse, theme: Theme) -> None:
    """A bar of checks across the line, and an arrow that says which way the lap goes."""
    bar = _across(fitted, 0.0, 10.0)
    for tone, width, dashes in ((theme.panel, 7.0, None), (theme.ink, 5.0, None), (theme.panel, 2.6, [1.0, 1.0])):
        pen = QPen(colour(tone), width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dashes:
            pen.setDashPattern(dashes)
        painter.setPen(pen)
        painter.drawLine(bar)
    (x, y), (way_x, way_y) = fitted.at(0.0), fitted.way(0.0)
    side = _outer_side(fitted, 0.0)
    x, y = x + way_y * 17 * side, y - way_x * 17 * side
    painter.setPen(QPen(colour(theme.ink), 1.6))
    tip = QPointF(x + way_x * 16, y + way_y * 16)
    painter.drawLine(QPointF(x, y), tip)
    painter.setBrush(colour(theme.ink))
    painter.drawPolygon(_arrow(tip.x(), tip.y(), way_x, way_y, 6.0))


def _outer_side(fitted: FittedCourse, lap_m: float) -> float:
    """1 or -1: across the direction of travel, away from the middle of the map."""
    (x, y), (way_x, way_y) = fitted.at(lap_m), fitted.way(lap_m)
    off = (x - float(fitted.px.mean())) * way_y - (y - float(fitted.py.mean())) * way_x
    return 1.0 if off >= 0 else -1.0


def _arrow(x: float, y: float, way_x: float, way_y: float, size: float) -> QPolygonF:
    back_x, back_y = x - way_x * size, y - way_y * size
    half = 0.62 * size
    return QPolygonF(
        [
            QPointF(x + way_x * size * 0.4, y + way_y * size * 0.4),
            QPointF(back_x - way_y * half, back_y + way_x * half),
            QPointF(back_x + way_y * half, back_y - way_x * half),
        ]
    )


def _paint_marker(painter: QPainter, fitted: FittedCourse, marker: Marker, theme: Theme) -> None:
    """A small open square beside the line."""
    (x, y), (way_x, way_y) = fitted.at(marker.at_m), fitted.way(marker.at_m)
    side = -1.0 if marker.side == "left" else 1.0
    middle = QPointF(x - way_y * 10 * side, y + way_x * 10 * side)
    painter.setPen(QPen(colour(theme.quiet), 1.1))
    painter.setBrush(colour(theme.panel))
    painter.drawRect(QRectF(middle.x() - 2, middle.y() - 2, 4, 4))


def _paint_points(painter: QPainter, fitted: FittedCourse, place: CornerPlace, theme: Theme) -> None:
    """A bar across the line where the brakes go on, an arrowhead along it where the throttle is full."""
    size = sign_size(fitted)
    if place.brake_m is not None:
        bar = _across(fitted, place.brake_m, 9.0 * size)
        for tone, width in ((theme.panel, 6.4 * size), (theme.brake, 4.0 * size)):
            pen = QPen(colour(tone), width)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            painter.setPen(pen)
            painter.drawLine(bar)
    if place.full_m is not None:
        (x, y), (way_x, way_y) = fitted.at(place.full_m), fitted.way(place.full_m)
        painter.setPen(QPen(colour(theme.panel), 1.4))
        painter.setBrush(colour(theme.throttle))
        painter.drawPolygon(_arrow(x + way_x * 4 * size, y + way_y * 4 * size, way_x, way_y, 11.0 * size))


def _paint_number(painter: QPainter, fitted: FittedCourse, place: CornerPlace, theme: Theme, fonts: Fonts,
                  paper: Paper, units: Units) -> None:  # fmt: skip
    """A plate outside the bend where there is room, with the lowest speed below the number."""
    corner = place.corner
    (x, y), (way_x, way_y) = fitted.at(corner.apex_m), fitted.way(corner.apex_m)
    outside = -1.0 if corner.side == "right" else 1.0
    words = "" if place.slowest_mps is None or corner.flat else f"{SPEED[units].of(place.slowest_mps):.0f}"
    small = fonts.small_metrics
    width, height = max(small.horizontalAdvance(words), 19.0), 19.0 + (small.height() - 2 if words else 0)
    spots = []
    for reach in (25.0, -25.0, 33.0, -33.0, 43.0, -43.0):
        middle = (x - way_y * reach * outside, y + way_x * reach * outside)
        spots.append(Box(middle[0] - width / 2, middle[1] - height / 2, width, height))
    box = spots[paper.best(spots)]
    disc = QRectF(box.x + width / 2 - 9, box.y, 18, 18)
    painter.setPen(QPen(colour(theme.ink), 1.2))
    painter.setBrush(colour(theme.panel if corner.flat else theme.ink))
    painter.drawEllipse(disc)
    painter.setPen(colour(theme.ink if corner.flat else theme.panel))
    painter.setFont(fonts.small)
    painter.drawText(disc, Qt.AlignmentFlag.AlignCenter, str(corner.number))
    if words:
        painter.setPen(colour(theme.ink))
        below = QRectF(box.x, box.y + 18, width, small.height())
        painter.drawText(below, Qt.AlignmentFlag.AlignCenter, words)


def _paint_north(painter: QPainter, fitted: FittedCourse, theme: Theme, fonts: Fonts, width: float) -> None:
    up_x, up_y = -math.sin(fitted.turned_rad), -math.cos(fitted.turned_rad)
    x, y = width - 18.0, HEAD_PX + 16.0
    painter.setPen(QPen(colour(theme.quiet), 1.3))
    painter.drawLine(QPointF(x - up_x * 8, y - up_y * 8), QPointF(x + up_x * 8, y + up_y * 8))
    painter.setBrush(colour(theme.quiet))
    painter.drawPolygon(_arrow(x + up_x * 8, y + up_y * 8, up_x, up_y, 6.0))
    painter.setFont(fonts.small)
    where = QRectF(x - up_x * 16 - 8, y - up_y * 16 - 8, 16, 16)
    painter.drawText(where, Qt.AlignmentFlag.AlignCenter, tr("N"))


def _paint_legend(painter: QPainter, fitted: FittedCourse, theme: Theme, fonts: Fonts, size: tuple[float, float],
                  units: Units) -> None:  # fmt: skip
    """What colours and shapes mean, in words."""
    small, top = fonts.small_metrics, size[1] - FOOT_PX + 6
    painter.setFont(fonts.small)
    slow, fast = legend_words(fitted.course.speed_range_mps, units)
    x = 8.0
    painter.setPen(colour(theme.quiet))
    painter.drawText(QPointF(x, top + small.ascent()), slow)
    x += small.horizontalAdvance(slow) + 6
    bar = QRectF(x, top + 2, 74, small.height() - 4)
    _paint_ramp(painter, bar, theme)
    painter.setPen(colour(theme.quiet))
    painter.drawText(QPointF(bar.right() + 6, top + small.ascent()), fast)
    y = top + small.height() + 4
    middle = y + small.height() / 2
    painter.fillRect(QRectF(10, middle - 6, 4, 12), colour(theme.brake))
    words = tr("brakes on")
    painter.drawText(QPointF(20, y + small.ascent()), words)
    x = 20 + small.horizontalAdvance(words) + 14
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour(theme.throttle))
    painter.drawPolygon(_arrow(x + 9, middle, 1.0, 0.0, 11.0))
    painter.setPen(colour(theme.quiet))
    painter.drawText(QPointF(x + 18, y + small.ascent()), tr("throttle full"))
    x += 18 + small.horizontalAdvance(tr("throttle full")) + 14
    left = size[0] - x - 6
    painter.drawText(QPointF(x, y + small.ascent()),
                     small.elidedText(tr("at corners: lowest speed"), Qt.TextElideMode.ElideRight, left))  # fmt: skip


def _paint_ramp(painter: QPainter, bar: QRectF, theme: Theme) -> None:
    """The colours of speed, wide where slow."""
    ramp = QLinearGradient(bar.topLeft(), bar.topRight())
    for number, tone in enumerate(pace_colours(8)):
        ramp.setColorAt(number / 7, colour(tone))
    middle = bar.center().y()
    painter.setPen(QPen(colour(theme.ink), 1))
    painter.setBrush(ramp)
    painter.drawPolygon(
        QPolygonF(
            [
                QPointF(bar.left(), middle - 5), QPointF(bar.right(), middle - 2.5),
                QPointF(bar.right(), middle + 2.5), QPointF(bar.left(), middle + 5),
            ]
        )
    )  # fmt: skip
