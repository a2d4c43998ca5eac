"""Paints the strip: its still part once into a picture, what moves over it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from syncview.desk.plan.rows import Row, Rows
from syncview.desk.plan.values import clock_text, seconds_text, speed_text
from syncview.desk.theme import Theme, mixed
from syncview.gauges.palette import Colour

if TYPE_CHECKING:
    from syncview.desk.plan.contents import Bar, Contents
    from syncview.desk.plan.pieces import Piece
    from syncview.desk.plan.scale import Scale

_EDGE_PX = 4.0
"""Air at both sides of words in a bar."""
HALF, FULL = Fraction(1, 2), Fraction(1)


@dataclass(frozen=True, slots=True)
class Look:
    """How the strip is painted now."""

    theme: Theme
    scale: Scale
    rows: Rows
    labels: tuple[str, str, str, str]
    """Names of the rows of speeds, corners, voice and captions."""
    stale: bool
    """Whether the plan shown is not that of the project as it is."""


def paint_still(painter: QPainter, contents: Contents, look: Look) -> None:
    """Everything but the playhead, the selection and what is being dragged."""
    rows, scale = look.rows, look.scale
    _paint_labels(painter, look)
    painter.save()
    painter.setClipRect(QRectF(scale.left_px, 0, scale.width_px, rows.captions.bottom + 1))
    _paint_axis(painter, look)
    for number, bar in enumerate(contents.sections):
        _paint_bar(painter, look, rows.sections, bar, _tone(look, 0.12 if number % 2 else 0.2), cut=False)
    for speed in (HALF, FULL):
        y = rows.speed_y(speed)
        painter.setPen(QPen(_q(_tone(look, 0.35)), 1, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(scale.left_px, y), QPointF(scale.left_px + scale.width_px, y))
    for piece in contents.pieces:
        _paint_piece(painter, look, piece)
    for row, bars, share in (
        (rows.corners, contents.corners, 0.2), (rows.said, contents.said, 0.3),
        (rows.captions, contents.captions, 0.2),
    ):  # fmt: skip
        for bar in bars:
            _paint_bar(painter, look, row, bar, _tone(look, share), cut=row is not rows.corners)
    painter.restore()


def _tone(look: Look, share: float) -> Colour:
    """A shade between the panel and its ink."""
    return mixed(look.theme.panel, look.theme.quiet, share * (0.5 if look.stale else 1.0))


def _ink(look: Look) -> Colour:
    return look.theme.quiet if look.stale else look.theme.ink


def _accent(look: Look) -> Colour:
    return mixed(look.theme.quiet, look.theme.panel, 0.4) if look.stale else look.theme.accent


def _paint_labels(painter: QPainter, look: Look) -> None:
    rows = look.rows
    painter.setPen(_q(look.theme.quiet))
    for row, words in zip((rows.speeds, rows.corners, rows.said, rows.captions), look.labels, strict=True):
        box = QRectF(4, row.top, look.scale.left_px - 8, row.height)
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)


def _paint_axis(painter: QPainter, look: Look) -> None:
    row, scale = look.rows.axis, look.scale
    ticks = scale.ticks()
    fine = len(ticks) > 1 and ticks[1] - ticks[0] < 1
    for tick in ticks:
        x = scale.x(tick)
        painter.setPen(_q(look.theme.line))
        painter.drawLine(QPointF(x, row.bottom - 4), QPointF(x, look.rows.captions.bottom))
        painter.setPen(_q(look.theme.quiet))
        words = clock_text(tick) if fine else clock_text(tick).partition(".")[0]
        painter.drawText(QPointF(x + 3, row.bottom - 5), words)


def _paint_bar(painter: QPainter, look: Look, row: Row, bar: Bar, fill: Colour, *, cut: bool) -> None:
    """A bar with its words: cut short where they do not fit, or left out when they may not be cut."""
    box = _box(look.scale, row, bar.begin_s, bar.end_s)
    if box is None:
        return
    painter.setPen(QPen(_q(look.theme.line), 1))
    painter.setBrush(_q(fill))
    painter.drawRoundedRect(box, 3, 3)
    _write(painter, box, bar.words, _ink(look), cut=cut)


def _box(scale: Scale, row: Row, begin_s: float, end_s: float) -> QRectF | None:
    """A stretch as a box, cut at the edges of the view; None outside it."""
    left, right = scale.left_px - 6, scale.left_px + scale.width_px + 6
    low, high = scale.x(begin_s), scale.x(end_s)
    if high < left or low > right:
        return None
    low, high = max(low, left), min(high, right)
    return QRectF(low + 0.5, row.top + 0.5, max(1.0, high - low - 1), row.height - 1)


def _write(painter: QPainter, box: QRectF, words: str, colour: Colour, *, cut: bool = False) -> None:
    metrics = QFontMetricsF(painter.font())
    if metrics.horizontalAdvance(words) > box.width() - 2:
        room = box.width() - 2 * _EDGE_PX
        if not cut or room < metrics.averageCharWidth() * 3:
            return
        words = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
    painter.setPen(_q(colour))
    to_left = cut and metrics.horizontalAdvance(words) <= box.width() - 2 * _EDGE_PX
    inner = box.adjusted(_EDGE_PX, 0, -_EDGE_PX, 0) if to_left else box
    across = Qt.AlignmentFlag.AlignLeft if to_left else Qt.AlignmentFlag.AlignHCenter
    painter.drawText(inner, Qt.AlignmentFlag.AlignVCenter | across, words)


def _paint_piece(painter: QPainter, look: Look, piece: Piece) -> None:
    box = _box(look.scale, look.rows.speeds, float(piece.begin_s), float(piece.end_s))
    if box is None:
        return
    if piece.kind == "hold":
        _paint_hold(painter, look, piece, box)
        return
    box.setTop(look.rows.speed_y(piece.speed))
    painter.setPen(QPen(_q(mixed(_accent(look), look.theme.panel, 0.35)), 1))
    painter.setBrush(_q(_tone(look, 0.25) if piece.speed == FULL else mixed(look.theme.panel, _accent(look), 0.28)))
    painter.drawRect(box)
    pattern = pattern_of(piece.speed)
    if pattern is not None:
        painter.fillRect(box, QBrush(_q(mixed(_accent(look), look.theme.panel, 0.35)), pattern))
    painter.setPen(QPen(_q(_ink(look)), 2 if piece.in_breakdown else 1))
    painter.drawLine(box.topLeft(), box.topRight())
    _figure(painter, look, box, piece)
    if piece.pinned:
        _pin(painter, look, QPointF(box.center().x(), box.top()))


def pattern_of(speed: Fraction) -> Qt.BrushStyle | None:
    """The hatching of a stretch: none at full speed, lines down to half speed, crossed lines below."""
    if speed >= FULL:
        return None
    return Qt.BrushStyle.BDiagPattern if speed >= HALF else Qt.BrushStyle.DiagCrossPattern


def _figure(painter: QPainter, look: Look, box: QRectF, piece: Piece) -> None:
    """The speed in figures, in the bar where it is high enough, else above it."""
    words = "1×" if piece.speed == FULL else f"{speed_text(piece.speed)}×"
    metrics = QFontMetricsF(painter.font())
    width, height = metrics.horizontalAdvance(words) + 6, metrics.height()
    if box.width() < width:
        return
    top = box.top() + 8 if box.height() >= height + 10 else box.top() - height - 5
    plate = QRectF(box.center().x() - width / 2, top, width, height)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(_q(look.theme.panel))
    painter.drawRoundedRect(plate, 3, 3)
    _write(painter, plate, words, _ink(look))


def _paint_hold(painter: QPainter, look: Look, piece: Piece, box: QRectF) -> None:
    """A solid block with its seconds; a thin mark for one that the coach set to nothing."""
    fill = _accent(look)
    if piece.length_s == 0:
        x = look.scale.x(float(piece.begin_s))
        painter.setPen(QPen(_q(fill), 1, Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(x, look.rows.speeds.top), QPointF(x, look.rows.speeds.bottom))
        _pin(painter, look, QPointF(x, look.rows.speeds.top + 6))
        return
    painter.setPen(QPen(_q(look.theme.panel), 1))
    painter.setBrush(_q(fill))
    painter.drawRect(box)
    words = seconds_text(piece.length_s)
    ink = look.theme.panel if look.stale else look.theme.on_accent
    if QFontMetricsF(painter.font()).horizontalAdvance(words) <= box.width() - 2:
        _write(painter, box, words, ink)
    else:
        _write_upright(painter, box, words, ink)
    if piece.pinned:
        _pin(painter, look, QPointF(box.center().x(), box.top() + 6))


def _write_upright(painter: QPainter, box: QRectF, words: str, colour: Colour) -> None:
    metrics = QFontMetricsF(painter.font())
    if box.width() < metrics.ascent() or box.height() < metrics.horizontalAdvance(words):
        return
    painter.save()
    painter.translate(box.center())
    painter.rotate(-90)
    painter.setPen(_q(colour))
    turned = QRectF(-box.height() / 2, -box.width() / 2, box.height(), box.width())
    painter.drawText(turned, Qt.AlignmentFlag.AlignCenter, words)
    painter.restore()


def _pin(painter: QPainter, look: Look, at: QPointF) -> None:
    """The sign of a pin: a diamond."""
    shape = QPolygonF([at + QPointF(0, -6), at + QPointF(6, 0), at + QPointF(0, 6), at + QPointF(-6, 0)])
    painter.setPen(QPen(_q(look.theme.panel), 1.5))
    painter.setBrush(_q(_ink(look)))
    painter.drawPolygon(shape)


# What moves


def paint_selected(painter: QPainter, look: Look, piece: Piece, *, focused: bool) -> None:
    """A frame around the piece that keys work on."""
    box = _box(look.scale, look.rows.speeds, float(piece.begin_s), float(piece.end_s))
    if box is None:
        return
    painter.setPen(QPen(_q(look.theme.ink), 2, Qt.PenStyle.SolidLine if focused else Qt.PenStyle.DashLine))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(box.adjusted(-1, -2, 1, 2), 2, 2)


def paint_wanted_speed(painter: QPainter, look: Look, piece: Piece, speed: Fraction) -> None:
    """The speed that a drag would pin."""
    box = _box(look.scale, look.rows.speeds, float(piece.begin_s), float(piece.end_s))
    if box is None:
        return
    y = look.rows.speed_y(speed)
    painter.setPen(QPen(_q(look.theme.ink), 3))
    painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
    below = y - look.rows.speeds.top < look.rows.axis.height
    _plate(painter, look, QPointF(box.center().x(), y), f"{speed_text(speed)}×", below=below)


def paint_wanted_hold(painter: QPainter, look: Look, piece: Piece, length_s: Fraction) -> None:
    """The hold that a drag would pin."""
    row = look.rows.speeds
    box = _box(look.scale, row, float(piece.begin_s), float(piece.begin_s + length_s))
    if box is None:
        return
    painter.setPen(QPen(_q(look.theme.ink), 2, Qt.PenStyle.DashLine))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(box)
    _plate(painter, look, QPointF(box.right(), row.top + row.height / 2), seconds_text(length_s), below=False)


def _plate(painter: QPainter, look: Look, at: QPointF, words: str, *, below: bool) -> None:
    metrics = QFontMetricsF(painter.font())
    width, height = metrics.horizontalAdvance(words) + 12, metrics.height() + 2
    plate = QRectF(at.x() - width / 2, at.y() + 5 if below else at.y() - height - 5, width, height)
    low, high = look.scale.left_px, look.scale.left_px + look.scale.width_px
    plate.moveLeft(min(max(plate.left(), low), high - width))
    painter.setPen(QPen(_q(look.theme.panel), 1))
    painter.setBrush(_q(look.theme.ink))
    painter.drawRoundedRect(plate, 3, 3)
    _write(painter, plate, words, look.theme.panel)


def paint_playhead(painter: QPainter, look: Look, lesson_s: float, *, also_s: Sequence[float]) -> None:
    """The moment shown, with its time; thin lines where the other section shows the same picture."""
    scale, rows = look.scale, look.rows
    painter.setPen(QPen(_q(look.theme.playhead), 1, Qt.PenStyle.DotLine))
    for other in also_s:
        x = scale.x(other)
        if scale.left_px <= x <= scale.left_px + scale.width_px:
            painter.drawLine(QPointF(x, rows.sections.top), QPointF(x, rows.captions.bottom))
    x = scale.x(lesson_s)
    if not scale.left_px - 1 <= x <= scale.left_px + scale.width_px + 1:
        return
    painter.setPen(QPen(_q(look.theme.playhead), 2))
    painter.drawLine(QPointF(x, rows.axis.bottom - 3), QPointF(x, rows.captions.bottom))
    words = clock_text(Fraction(round(lesson_s * 1000), 1000))
    metrics = QFontMetricsF(painter.font())
    width = metrics.horizontalAdvance(words) + 10
    left = min(max(x - width / 2, scale.left_px), scale.left_px + scale.width_px - width)
    plate = QRectF(left, rows.axis.top, width, rows.axis.height - 2)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(_q(look.theme.playhead))
    painter.drawRoundedRect(plate, 3, 3)
    _write(painter, plate, words, look.theme.panel)


def _q(colour: Colour) -> QColor:
    return QColor(*colour)
