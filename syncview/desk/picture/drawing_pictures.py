"""Drawings on the screen: the lesson's own picture of them, made beside the window, and a rough one under the hand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QPointF, QRectF, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QImage, QPainter, QPainterPath, QPen, QPolygonF

from syncview.desk import theme
from syncview.desk.picture.screen_image import image_over
from syncview.desk.work import Newest
from syncview.gauges.drawing_sprites import EDGE, INK

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.desk.picture.fit import Fit
    from syncview.desk.state import DeskState
    from syncview.gauges.drawing import Drawing
    from syncview.progress import Progress

_DIM = 158
"""Of 255: how dark the ground is around a light under the hand."""
_Key = tuple["tuple[Drawing, ...]", int, int]


class DrawingPictures(QObject):
    """The picture of one still's drawings, kept until another is asked for."""

    changed = pyqtSignal()

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._newest = Newest(state.work, state.tell)
        self._made: tuple[_Key, NDArray[np.uint8]] | None = None
        self._asked: _Key | None = None

    def paint(self, painter: QPainter, fit: Fit, drawings: tuple[Drawing, ...]) -> bool:
        """Draw them over the picture at `fit`; False while their picture is being made."""
        key = (drawings, fit.width, fit.height)
        if self._made is None or self._made[0] != key:
            self._ask(key)
            return False
        rgba = self._made[1]
        painter.drawImage(fit.left, fit.top, image_over(rgba, QImage.Format.Format_RGBA8888_Premultiplied))
        return True

    def close(self) -> None:
        """Ask for nothing any more."""
        self._newest.drop()

    def _ask(self, key: _Key) -> None:
        if key == self._asked:
            return
        self._asked = key

        def make(_progress: Progress) -> NDArray[np.uint8]:
            from syncview.gauges.drawing_sprites import drawn_rgba

            return _multiplied(drawn_rgba(*key))

        def take(rgba: NDArray[np.uint8]) -> None:
            self._made, self._asked = (key, rgba), None
            self.changed.emit()

        self._newest.ask(make, take)


def _multiplied(rgba: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Colours multiplied by opacity: Qt lays such pictures over others several times faster."""
    import numpy as np

    made = rgba.astype(np.uint16)
    made[..., :3] = (made[..., :3] * made[..., 3:] + 127) // 255
    return np.ascontiguousarray(made, dtype=np.uint8)


def paint_rough(painter: QPainter, fit: Fit, drawing: Drawing) -> None:
    """The shape with a pen, at once."""
    begin, end = (QPointF(*fit.point_of(place)) for place in (drawing.begin, drawing.end))
    box = QRectF(begin, end).normalized()
    unit = min(fit.width, fit.height) / 1080
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(QRectF(fit.left, fit.top, fit.width, fit.height))
    if drawing.kind == "spotlight":
        ground = QPainterPath()
        ground.addRect(QRectF(fit.left, fit.top, fit.width, fit.height))
        ground.addEllipse(box)
        painter.fillPath(ground, QColor(0, 0, 0, _DIM))
    for width, colour in ((17 * unit, EDGE), (9 * unit, INK)):
        if drawing.kind == "spotlight":
            break
        painter.setPen(QPen(QColor(*colour), max(width, 1.0), cap=Qt.PenCapStyle.RoundCap))
        if drawing.kind == "ellipse":
            painter.drawEllipse(box)
        else:
            painter.drawLine(begin, end)
        if drawing.kind == "arrow":
            painter.setBrush(QColor(*colour))
            painter.drawPolygon(_head(begin, end, 46 * unit))
            painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.restore()


def _head(begin: QPointF, end: QPointF, length: float) -> QPolygonF:
    way = end - begin
    whole = math.hypot(way.x(), way.y()) or 1.0
    length = min(length, 0.6 * whole)
    along = way * (length / whole)
    aside = QPointF(-along.y(), along.x()) * 0.5
    return QPolygonF([end, end - along + aside, end - along - aside])


def paint_handles(painter: QPainter, fit: Fit, drawing: Drawing) -> None:
    """Two grips at the ends of the chosen drawing."""
    look = theme.current()
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for place in (drawing.begin, drawing.end):
        at = QPointF(*fit.point_of(place))
        painter.setPen(QPen(QColor(*look.on_accent), 2))
        painter.setBrush(QColor(*look.accent))
        painter.drawRect(QRectF(at.x() - 6, at.y() - 6, 12, 12))
    painter.restore()
