"""A voice file as a strip: how loud it is along its length, and which part of it is heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PyQt6.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.media.voice_file import VoiceFile

HEIGHT_PX = 38
GRAB_PX = 9
LEAST_S = 0.1
"""A part shorter than this cannot be dragged."""
FLOOR_DB = -60.0


def columns_of(levels_db: NDArray[np.float32], columns: int) -> NDArray[np.float64]:
    """The loudest level of each column, from 0 (silence) to 1 (full scale), shape (columns,)."""
    if not levels_db.size or columns < 1:
        return np.zeros(max(columns, 0))
    edges = np.linspace(0, levels_db.size, columns + 1).astype(int)
    first = np.minimum(edges[:-1], levels_db.size - 1)
    loudest = np.maximum.reduceat(levels_db.astype(np.float64), first)
    return np.asarray(np.clip(1 - loudest / FLOOR_DB, 0, 1), dtype=np.float64)


class VoiceStrip(QWidget):
    """Its two ends are dragged; the numbers beside it do the same by keys."""

    cut = pyqtSignal(float, float)
    """Begin and end of what is heard, on the file's clock."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._voice: VoiceFile | None = None
        self._begin_s = self._end_s = 0.0
        self._dragged: str | None = None
        self.setFixedHeight(HEIGHT_PX)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMouseTracking(True)
        self.setAccessibleName(self.tr("The recorded voice"))
        self.setToolTip(self.tr("Drag an end to hear only a part; silence around the speech is left out by itself."))

    def show_voice(self, voice: VoiceFile, begin_s: float, end_s: float) -> None:
        """Show a file and the part of it that is heard."""
        self._voice = voice
        if self._dragged is None:
            self._begin_s, self._end_s = begin_s, end_s
        self.setAccessibleDescription(self.tr("heard from %.2f to %.2f s of %.2f s")
                                      % (begin_s, end_s, float(voice.length_s)))  # fmt: skip
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """A low strip."""
        return QSize(160, HEIGHT_PX)

    def _x(self, at_s: float) -> float:
        assert self._voice is not None
        return 1 + at_s / float(self._voice.length_s) * (self.width() - 2)

    def _s(self, x: float) -> float:
        assert self._voice is not None
        return min(max((x - 1) / max(self.width() - 2, 1), 0.0), 1.0) * float(self._voice.length_s)

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The loudness; what is not heard lies dim, with dotted ends."""
        look, painter = theme.current(), QPainter(self)
        painter.fillRect(self.rect(), QColor(*look.raised))
        if self._voice is None:
            return
        left, right = self._x(self._begin_s), self._x(self._end_s)
        painter.fillRect(QRectF(left, 0, right - left, HEIGHT_PX), QColor(*look.panel))
        middle = HEIGHT_PX / 2
        for column, share in enumerate(columns_of(self._voice.levels_db, self.width())):
            at = float(column)
            half = max(0.5, float(share) * (middle - 2))
            painter.setPen(QColor(*(look.accent if left <= at <= right else look.line)))
            painter.drawLine(QPointF(at, middle - half), QPointF(at, middle + half))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for x, way in ((left, 1), (right, -1)):
            painter.setPen(QPen(QColor(*look.ink), 2))
            painter.drawLine(QPointF(x, 0), QPointF(x, HEIGHT_PX))
            painter.setBrush(QColor(*look.ink))
            flag = [QPointF(x, 0), QPointF(x + way * 8, 0), QPointF(x, 10)]
            painter.drawPolygon(QPolygonF(flag))

    # The mouse

    def _end_at(self, x: float) -> str | None:
        if self._voice is None:
            return None
        to_begin, to_end = abs(x - self._x(self._begin_s)), abs(x - self._x(self._end_s))
        if min(to_begin, to_end) > GRAB_PX:
            return None
        return "begin" if to_begin <= to_end else "end"

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Take an end."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self._dragged = self._end_at(event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Drag it."""
        if event is None:
            return
        x = event.position().x()
        if self._dragged is None:
            near = self._end_at(x) is not None
            self.setCursor(Qt.CursorShape.SplitHCursor if near else Qt.CursorShape.ArrowCursor)
            return
        if self._dragged == "begin":
            self._begin_s = max(0.0, min(self._s(x), self._end_s - LEAST_S))
        else:
            self._end_s = max(self._s(x), self._begin_s + LEAST_S)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Cut there."""
        if self._dragged is not None and event is not None and event.button() == Qt.MouseButton.LeftButton:
            self._dragged = None
            self.cut.emit(self._begin_s, self._end_s)
