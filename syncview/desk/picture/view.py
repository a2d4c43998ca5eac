"""The picture: the frame under the playhead, its gauges and drawings, and the hands on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme
from syncview.desk.picture.fit import Fit, fit
from syncview.desk.picture.gauge_images import scaled
from syncview.desk.picture.screen_image import image_over

if TYPE_CHECKING:
    from syncview.desk.picture.drawing_tools import DrawingTools
    from syncview.desk.picture.live_gauges import LiveGauges
    from syncview.media.scrub.pictures import ScrubPicture

_NOTCH = 120
"""One notch of a wheel, as Qt counts."""
_FRAMES = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1, Qt.Key.Key_Down: -10, Qt.Key.Key_Up: 10}
_SLIP_PX = 4
"""A press may slip this far and is still a click."""


class PictureView(QWidget):
    """Shows what it is given; asks for another frame by signals."""

    jog_begun = pyqtSignal()
    jogged = pyqtSignal(float)
    """A hand drags the picture: logical pixels to the right of where it began."""
    jog_ended = pyqtSignal()
    step_asked = pyqtSignal(int)
    """By frames."""
    full_screen_asked = pyqtSignal()
    corner_asked = pyqtSignal(int)
    """The next corner (1) or the one before (-1)."""
    end_asked = pyqtSignal(int)
    """The lap's begin (-1) or end (1)."""

    def __init__(self, gauges: LiveGauges, tools: DrawingTools, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.tr("Picture"))
        self.setAccessibleDescription(self.tr("The frame under the playhead. Arrow keys step frame by frame."))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(160, 90)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._gauges, self.tools = gauges, tools
        self._with_gauges = True
        self._shape = (16, 9)
        self._picture: ScrubPicture | None = None
        self._image: QImage | None = None
        self._words = ""
        self._pressed_at: QPointF | None = None
        self._is_jogging = False
        self._wheel = 0
        gauges.changed.connect(self.update)
        tools.changed.connect(self.update)
        tools.attach(self)

    # What is shown

    @property
    def picture(self) -> ScrubPicture | None:
        """What is shown now."""
        return self._picture

    @property
    def with_gauges(self) -> bool:
        """Whether gauges are drawn."""
        return self._with_gauges

    def show_gauges(self, with_gauges: bool) -> None:
        """Draw gauges or not."""
        self._with_gauges = with_gauges
        self.update()

    def set_shape(self, width: int, height: int) -> None:
        """The recording's shape."""
        self._shape = (width, height)
        self._refit()

    def show_picture(self, picture: ScrubPicture | None) -> None:
        """Show this picture."""
        self._picture, self._image = picture, None
        self.update()

    def say(self, words: str) -> None:
        """Words in place of a picture, or over it."""
        if words != self._words:
            self._words = words
            self.update()

    @property
    def fit(self) -> Fit | None:
        """Where the picture lies, in device pixels."""
        ratio = self.devicePixelRatioF()
        return fit(round(self.width() * ratio), round(self.height() * ratio), *self._shape)

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """As small pictures are."""
        return QSize(960, 540)

    def _refit(self) -> None:
        self._image = None
        place = self.fit
        if place is not None:
            self._gauges.set_size(place)
            self.tools.set_fit(place)
        self.update()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The picture fills the new room."""
        super().resizeEvent(event)
        self._refit()

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Another theme, or a screen with other pixels."""
        super().changeEvent(event)
        if event is not None and event.type() in (QEvent.Type.PaletteChange, QEvent.Type.DevicePixelRatioChange):
            self._refit()

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Picture, drawings, gauges, words, in device pixels."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(*theme.current().ground))
        ratio = self.devicePixelRatioF()
        painter.scale(1 / ratio, 1 / ratio)
        place = self.fit
        if place is not None and self._picture is not None:
            painter.drawImage(place.left, place.top, self._image_at(place, self._picture))
            self.tools.paint(painter, place, self._picture.number)
            if self._with_gauges:
                self._gauges.paint(painter, place, self._picture.media_s)
            self.tools.paint_handles(painter, place, self._picture.number)
        words = self._words or (self._gauges.trouble if self._with_gauges and self._picture is not None else "")
        if words:
            painter.resetTransform()
            self._paint_words(painter, words)

    def _image_at(self, place: Fit, picture: ScrubPicture) -> QImage:
        if self._image is None or (self._image.width(), self._image.height()) != (place.width, place.height):
            rgb = scaled(picture.rgb, place.width, place.height)
            image = image_over(rgb, QImage.Format.Format_RGB888)
            self._image = image.convertToFormat(QImage.Format.Format_RGB32)
        return self._image

    def _paint_words(self, painter: QPainter, words: str) -> None:
        look = theme.current()
        room = self.rect().adjusted(16, 12, -16, -12)
        flags = Qt.TextFlag.TextWordWrap | (
            Qt.AlignmentFlag.AlignCenter if self._picture is None else Qt.AlignmentFlag.AlignLeft
        )
        box = painter.boundingRect(QRectF(room), int(flags), words).adjusted(-10, -6, 10, 6)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(*look.panel))
        painter.drawRoundedRect(box, 6, 6)
        painter.setPen(QColor(*look.ink))
        painter.drawText(QRectF(room), int(flags), words)

    # Hands

    def to_device(self, at: QPointF) -> tuple[float, float]:
        """A point of the widget in device pixels."""
        ratio = self.devicePixelRatioF()
        return at.x() * ratio, at.y() * ratio

    def from_device(self, x: float, y: float) -> QPointF:
        """The point of the widget at device pixels."""
        ratio = self.devicePixelRatioF()
        return QPointF(x / ratio, y / ratio)

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Draws with a tool; else takes hold of a drawing, or of the picture."""
        if event is None or event.button() != Qt.MouseButton.LeftButton:
            return
        if not self.tools.press(*self.to_device(event.position())):
            self._pressed_at, self._is_jogging = event.position(), False

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Drags."""
        if event is None:
            return
        if self.tools.move(*self.to_device(event.position())):
            return
        if self._pressed_at is None:
            self.setCursor(self.tools.cursor_at(*self.to_device(event.position())))
            return
        moved_px = event.position().x() - self._pressed_at.x()
        if not self._is_jogging and abs(moved_px) < _SLIP_PX:
            return
        if not self._is_jogging:
            self._is_jogging = True
            self.setCursor(Qt.CursorShape.SizeHorCursor)
            self.jog_begun.emit()
        self.jogged.emit(moved_px)

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Lets go."""
        if event is None or event.button() != Qt.MouseButton.LeftButton:
            return
        if self.tools.release(*self.to_device(event.position())) or self._pressed_at is None:
            return
        was_jog, self._pressed_at, self._is_jogging = self._is_jogging, None, False
        self.unsetCursor()
        if was_jog:
            self.jog_ended.emit()

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """On a drawing: its label; else full screen."""
        if event is not None and not self.tools.relabel_at(*self.to_device(event.position())):
            self.full_screen_asked.emit()

    def wheelEvent(self, event: QWheelEvent | None) -> None:  # noqa: N802 (Qt's name)
        """A notch is a frame; with Ctrl, ten."""
        if event is None:
            return
        self._wheel += event.angleDelta().y() or event.angleDelta().x()
        notches, self._wheel = int(self._wheel / _NOTCH), self._wheel - _NOTCH * int(self._wheel / _NOTCH)
        if notches:
            held = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.step_asked.emit(-notches * (10 if held else 1))
        event.accept()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Arrows step, or move the chosen drawing."""
        if event is None:
            return
        if self.tools.key(event):
            event.accept()
            return
        key = Qt.Key(event.key())
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        elif key in _FRAMES:
            self.step_asked.emit(_FRAMES[key])
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self.corner_asked.emit(1 if key == Qt.Key.Key_PageDown else -1)
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.end_asked.emit(1 if key == Qt.Key.Key_End else -1)
        else:
            super().keyPressEvent(event)
