"""The lap as a strip below the picture: corners, notes, the loop and the playhead; a click or a drag seeks."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme

if TYPE_CHECKING:
    from collections.abc import Sequence

    from syncview.desk.picture.loops import CornerStretch
    from syncview.desk.picture.play_run import Loop

_HEIGHT = 26
_EDGE = 8


class TimeStrip(QWidget):
    """Shows a span of the recording: the taught lap, or all of it when the playhead is elsewhere."""

    sought = pyqtSignal(object)
    """Media time as a Fraction."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFixedHeight(_HEIGHT)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Time strip"))
        self.setToolTip(self.tr("The lap in time, with its corners and notes; click or drag to seek"))
        self._lap: tuple[Fraction, Fraction] | None = None
        self._whole: tuple[Fraction, Fraction] | None = None
        self._shown: tuple[Fraction, Fraction] | None = None
        self._playhead_s = Fraction(0)
        self._corners: tuple[CornerStretch, ...] = ()
        self._notes_s: tuple[float, ...] = ()
        self._loop: Loop | None = None
        self._is_held = False

    def show_spans(self, whole: tuple[Fraction, Fraction] | None, lap: tuple[Fraction, Fraction] | None) -> None:
        """The recording's span and the lap's; None: there is none."""
        self._whole, self._lap = whole, lap
        self._choose_span()

    def show_corners(self, corners: Sequence[CornerStretch]) -> None:
        """Where the corners are."""
        self._corners = tuple(corners)
        self.update()

    def show_notes(self, media_s: Sequence[float]) -> None:
        """Where notes are."""
        self._notes_s = tuple(media_s)
        self.update()

    def show_loop(self, loop: Loop | None) -> None:
        """What is looped."""
        self._loop = loop
        self.update()

    def show_playhead(self, media_s: Fraction) -> None:
        """Where the playhead is."""
        self._playhead_s = media_s
        self._choose_span()

    def _choose_span(self) -> None:
        if not self._is_held:  # under a hand the scale must not change
            lap = self._lap
            inside = lap is not None and lap[0] <= self._playhead_s <= lap[1]
            self._shown = lap if inside else self._whole
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """As wide as there is room."""
        return QSize(400, _HEIGHT)

    # Places

    def x_of(self, media_s: Fraction | float) -> float:
        """Where a time lies, in pixels."""
        assert self._shown is not None
        begin_s, end_s = (float(side) for side in self._shown)
        return _EDGE + (float(media_s) - begin_s) / max(end_s - begin_s, 1e-9) * (self.width() - 2 * _EDGE)

    def media_s_at(self, x: float) -> Fraction:
        """The time at a place; the outermost beyond the strip."""
        assert self._shown is not None
        begin_s, end_s = self._shown
        share = min(max((x - _EDGE) / max(self.width() - 2 * _EDGE, 1), 0.0), 1.0)
        return begin_s + (end_s - begin_s) * Fraction(share)

    # Painting

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Strip, corners, loop, notes, playhead."""
        look = theme.current()
        pen = QPainter(self)
        pen.fillRect(self.rect(), QColor(*look.ground))
        if self._shown is None:
            return
        pen.setRenderHint(QPainter.RenderHint.Antialiasing)
        pen.setPen(Qt.PenStyle.NoPen)
        pen.setBrush(QColor(*look.raised))
        bar = QRectF(_EDGE, 5, self.width() - 2 * _EDGE, _HEIGHT - 10)
        pen.drawRoundedRect(bar, 3, 3)
        pen.setClipRect(QRectF(_EDGE, 0, bar.width(), _HEIGHT))
        self._paint_corners(pen, look)
        if self._loop is not None:
            left, right = self.x_of(self._loop.begin_s), self.x_of(self._loop.end_s)
            pen.setPen(QColor(*look.accent))
            pen.setBrush(Qt.BrushStyle.NoBrush)
            pen.drawRect(QRectF(left, 3, right - left, _HEIGHT - 6))
        pen.setPen(Qt.PenStyle.NoPen)
        pen.setBrush(QColor(*look.accent))
        for media_s in self._notes_s:
            x = self.x_of(media_s)
            pen.drawPolygon(QPolygonF([QPointF(x - 4, 0), QPointF(x + 4, 0), QPointF(x, 7)]))
        pen.setClipping(False)
        pen.setBrush(QColor(*look.playhead))
        pen.drawRect(QRectF(self.x_of(self._playhead_s) - 1, 0, 2, _HEIGHT))

    def _paint_corners(self, pen: QPainter, look: theme.Theme) -> None:
        free = 0.0
        for corner in self._corners:
            left, right = self.x_of(corner.begin_s), self.x_of(corner.end_s)
            pen.setPen(Qt.PenStyle.NoPen)
            pen.setBrush(QColor(*theme.mixed(look.raised, look.accent, 0.3)))
            pen.drawRect(QRectF(left, 5, max(right - left, 1.0), _HEIGHT - 10))
            width = pen.fontMetrics().horizontalAdvance(str(corner.number))
            middle = (left + right) / 2
            if middle - width / 2 >= free:
                pen.setPen(QColor(*look.ink))
                pen.drawText(QRectF(middle - 20, 4, 40, _HEIGHT - 8), Qt.AlignmentFlag.AlignCenter, str(corner.number))
                free = middle + width / 2 + 4

    # Hands

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Seek."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton and self._shown is not None:
            self._is_held = True
            self.sought.emit(self.media_s_at(event.position().x()))

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Seek on."""
        if event is not None and self._is_held:
            self.sought.emit(self.media_s_at(event.position().x()))

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let go."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self._is_held = False
            self._choose_span()
