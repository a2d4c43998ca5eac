"""The signs on the buttons below the picture, painted: no font has all of them."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QLineF, QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from syncview.desk import theme

_SIDE = 20
"""Icons are drawn on a square of this many units, and made in two sizes for fine screens."""


def _play(pen: QPainter) -> None:
    pen.drawPolygon(QPolygonF([QPointF(5, 3.5), QPointF(17, 10), QPointF(5, 16.5)]))


def _pause(pen: QPainter) -> None:
    for left in (4.5, 11.5):
        pen.drawRect(QRectF(left, 3.5, 4, 13))


def _frame_on(pen: QPainter) -> None:
    pen.drawRect(QRectF(3.5, 4, 2.6, 12))
    pen.drawPolygon(QPolygonF([QPointF(9, 4), QPointF(17, 10), QPointF(9, 16)]))


def _frame_back(pen: QPainter) -> None:
    pen.translate(_SIDE, 0)
    pen.scale(-1, 1)
    _frame_on(pen)


def _gauges(pen: QPainter) -> None:
    """The see-saw: a bar with a middle mark, and an arc above."""
    pen.drawRect(QRectF(2.5, 12, 6.2, 3.6))
    _outline(pen)
    pen.drawRect(QRectF(11, 12, 6.5, 3.6))
    pen.drawLine(QLineF(10, 10, 10, 17.5))
    pen.drawArc(QRectF(3, 3, 14, 11), 35 * 16, 110 * 16)


def _sound(pen: QPainter) -> None:
    pen.drawPolygon(
        QPolygonF(
            [QPointF(3, 7.5), QPointF(6, 7.5), QPointF(10, 4), QPointF(10, 16), QPointF(6, 12.5), QPointF(3, 12.5)]
        )
    )
    _outline(pen)
    for reach in (3.0, 6.0):
        pen.drawArc(QRectF(10 - reach, 10 - reach, 2 * reach + 2, 2 * reach), -45 * 16, 90 * 16)


def _no_sound(pen: QPainter) -> None:
    pen.drawPolygon(
        QPolygonF(
            [QPointF(3, 7.5), QPointF(6, 7.5), QPointF(10, 4), QPointF(10, 16), QPointF(6, 12.5), QPointF(3, 12.5)]
        )
    )
    _outline(pen)
    pen.drawLine(QLineF(12.5, 7.5, 17, 12.5))
    pen.drawLine(QLineF(17, 7.5, 12.5, 12.5))


def _full(pen: QPainter) -> None:
    _outline(pen)
    for x, y, across, down in ((3, 4, 1, 1), (17, 4, -1, 1), (3, 16, 1, -1), (17, 16, -1, -1)):
        pen.drawPolyline(QPolygonF([QPointF(x, y + 4 * down), QPointF(x, y), QPointF(x + 4 * across, y)]))


def _arrow(pen: QPainter) -> None:
    pen.drawPolygon(QPolygonF([QPointF(17, 3), QPointF(15, 10.5), QPointF(9.5, 5)]))
    _outline(pen)
    pen.drawLine(QLineF(3.5, 16.5, 12, 8))


def _line(pen: QPainter) -> None:
    _outline(pen)
    pen.drawLine(QLineF(3.5, 16, 16.5, 4))


def _ellipse(pen: QPainter) -> None:
    _outline(pen)
    pen.drawEllipse(QRectF(2.5, 4.5, 15, 11))


def _spotlight(pen: QPainter) -> None:
    ground = QPainterPath()
    ground.addRect(QRectF(2, 3, 16, 14))
    ground.addEllipse(QRectF(5, 5.5, 10, 9))
    pen.drawPath(ground)


def _outline(pen: QPainter) -> None:
    colour = pen.brush().color()
    pen.setPen(QPen(colour, 1.8, cap=Qt.PenCapStyle.RoundCap, join=Qt.PenJoinStyle.RoundJoin))
    pen.setBrush(Qt.BrushStyle.NoBrush)


_SIGNS: dict[str, Callable[[QPainter], None]] = {
    "play": _play, "pause": _pause, "frame on": _frame_on, "frame back": _frame_back, "gauges": _gauges,
    "sound": _sound, "no sound": _no_sound, "full": _full, "arrow": _arrow, "line": _line, "ellipse": _ellipse,
    "spotlight": _spotlight,
}  # fmt: skip


def icon(name: str) -> QIcon:
    """The sign in the colours of the theme that is on; another theme needs another icon. KeyError: no such sign."""
    look = theme.current()
    made = QIcon()
    for mode, state, colour in (
        (QIcon.Mode.Normal, QIcon.State.Off, look.ink),
        (QIcon.Mode.Normal, QIcon.State.On, look.on_accent),
        (QIcon.Mode.Disabled, QIcon.State.Off, look.line),
    ):
        for ratio in (1, 2):
            picture = QPixmap(_SIDE * ratio, _SIDE * ratio)
            picture.fill(Qt.GlobalColor.transparent)
            pen = QPainter(picture)
            pen.setRenderHint(QPainter.RenderHint.Antialiasing)
            pen.scale(ratio, ratio)
            pen.setPen(Qt.PenStyle.NoPen)
            pen.setBrush(QColor(*colour))
            _SIGNS[name](pen)
            pen.end()
            picture.setDevicePixelRatio(ratio)
            made.addPixmap(picture, mode, state)
    return made
