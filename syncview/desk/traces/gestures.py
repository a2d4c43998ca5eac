"""What wheel, mouse and keys do in the plot of the traces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QKeyEvent, QMouseEvent, QPainter, QWheelEvent

from syncview.desk.traces.painting import colour

if TYPE_CHECKING:
    from syncview.desk.theme import Theme
    from syncview.desk.traces.plot import TracePlot
    from syncview.desk.traces.plot_data import Frame

WHEEL_ZOOM = 0.85
"""One notch of the wheel shows this share of what was in view."""
KEY_ZOOM, KEY_PAN = 0.7, 0.2
NOTCH = 120
"""Qt's angle of one notch, in eighths of a degree."""
LEAST_STRETCH_PX = 6
"""A choice of a stretch that is shorter was a click."""

Doing = Literal["nothing", "seek", "pan", "choose"]


class Gestures:
    """Translates events into zooms, pans and seeks of a plot."""

    def __init__(self, plot: TracePlot) -> None:
        self._plot = plot
        self._doing: Doing = "nothing"
        self._from_px = 0.0
        self._now_px = 0.0

    @property
    def seeking(self) -> bool:
        """The playhead is being dragged."""
        return self._doing == "seek"

    def wheel(self, event: QWheelEvent) -> None:
        """Zoom about the pointer; sideways and with Shift pan."""
        frame = self._plot.frame
        if frame is None:
            event.ignore()
            return
        angle, pixels = event.angleDelta(), event.pixelDelta()
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        sideways = angle.x() if abs(angle.x()) > abs(angle.y()) else (angle.y() if shift else 0)
        if sideways and not pixels.isNull():
            width = frame.right - frame.left
            self._plot.pan(-(pixels.x() or pixels.y()) / width)
        elif sideways:
            self._plot.pan(-sideways / NOTCH * 0.1)
        elif angle.y():
            at = min(max(event.position().x(), frame.left), frame.right)
            self._plot.zoom(WHEEL_ZOOM ** (angle.y() / NOTCH), frame.x(at))
        event.accept()

    def press(self, event: QMouseEvent) -> None:
        """Left: seek, with Shift choose a stretch, on the scale pan. Middle: pan."""
        frame = self._plot.frame
        if frame is None:
            return
        self._from_px = self._now_px = event.position().x()
        if event.button() == Qt.MouseButton.MiddleButton:
            self._begin("pan")
        elif event.button() == Qt.MouseButton.LeftButton:
            if event.position().y() >= frame.scale_top:
                self._begin("pan")
            elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                self._begin("choose")
            elif event.position().x() >= frame.left:
                self._begin("seek")
                self._plot.seek_px(self._from_px)

    def _begin(self, doing: Doing) -> None:
        self._doing = doing
        if doing == "pan":
            self._plot.setCursor(Qt.CursorShape.ClosedHandCursor)

    def move(self, event: QMouseEvent) -> None:
        """Go on."""
        frame = self._plot.frame
        if frame is None:
            return
        px = event.position().x()
        if self._doing == "seek":
            self._plot.seek_px(px)
        elif self._doing == "pan":
            self._plot.pan((self._now_px - px) / (frame.right - frame.left))
        elif self._doing == "choose":
            self._plot.update()
        else:
            on_scale = event.position().y() >= frame.scale_top
            self._plot.setCursor(Qt.CursorShape.OpenHandCursor if on_scale else Qt.CursorShape.ArrowCursor)
        self._now_px = px

    def release(self, event: QMouseEvent) -> None:
        """End, and show the stretch that was chosen."""
        frame = self._plot.frame
        self._now_px = event.position().x()
        if self._doing == "choose" and frame is not None:
            if abs(self._now_px - self._from_px) >= LEAST_STRETCH_PX:
                begin, end = sorted((frame.x(self._from_px), frame.x(self._now_px)))
                self._plot.set_view(frame.view.showing(max(begin, frame.view.begin), min(end, frame.view.end)))
            self._plot.update()
        self._doing = "nothing"
        self._plot.setCursor(Qt.CursorShape.ArrowCursor)

    def double_click(self, event: QMouseEvent) -> None:
        """Zoom to the corner there; where there is none, or it is shown already, all."""
        frame = self._plot.frame
        if frame is None or event.button() != Qt.MouseButton.LeftButton:
            return
        mark = frame.subject.marks.corner_at(frame.x(event.position().x()))
        before = frame.view
        if mark is not None and event.position().y() < frame.scale_top:
            self._plot.show_corner(mark)
        if self._plot.view == before:
            self._plot.show_all()

    def paint(self, painter: QPainter, frame: Frame, theme: Theme) -> None:
        """The stretch that is being chosen."""
        if self._doing != "choose":
            return
        tone = colour(theme.accent)
        painter.setPen(tone)
        tone.setAlphaF(0.25)
        painter.setBrush(tone)
        left, right = sorted((self._from_px, self._now_px))
        corners = QPointF(max(left, frame.left), frame.top), QPointF(min(right, frame.right), frame.bottom)
        painter.drawRect(QRectF(*corners))

    def key(self, event: QKeyEvent) -> bool:
        """Zoom, pan, corner by corner, ends; False for a key that is not of the plot."""
        plot, key = self._plot, event.key()
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            return False
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Up):
            plot.zoom(KEY_ZOOM)
        elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore, Qt.Key.Key_Down):
            plot.zoom(1 / KEY_ZOOM)
        elif key == Qt.Key.Key_0:
            plot.show_all()
        elif shift and key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            plot.pan(-KEY_PAN if key == Qt.Key.Key_Left else KEY_PAN)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            plot.step_corner(-1 if key == Qt.Key.Key_PageUp else 1)
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            plot.seek_end(last=key == Qt.Key.Key_End)
        else:
            return False
        event.accept()
        return True
