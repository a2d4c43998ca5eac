"""The plot of the map: a picture painted once, the dot above it, and clicks on the line."""

from __future__ import annotations

from PyQt6.QtCore import QEvent, QPoint, QPointF, QRect, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QResizeEvent
from PyQt6.QtWidgets import QToolTip, QWidget

from syncview.desk import theme as themes
from syncview.desk.map.course import FittedCourse, LapCourse, fitted
from syncview.desk.map.painting import EDGE_PX, FOOT_PX, HEAD_PX, paint_map
from syncview.desk.map.words import place_words, tr
from syncview.desk.traces.painting import Fonts, colour
from syncview.shown_units import Units
from syncview.track.markers import Marker

NEAR_PX = 40.0
"""A click farther from the line than this seeks nothing."""
DOT_PX, RING_PX = 5.0, 3.0
STEP_M = 5.0
"""How far an arrow key goes along the lap."""


class MapPlot(QWidget):
    """Shows a lap's course and the playhead's dot, and asks for seeks."""

    seek_asked = pyqtSignal(float)
    """Lap distance."""
    paints = 0
    """How often the map was painted; for tests."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._course: LapCourse | None = None
        self._fitted: FittedCourse | None = None
        self._markers: tuple[Marker, ...] = ()
        self._units: Units = "metric"
        self._message = ""
        self._dot_m: float | None = None
        self._dot_full = True
        self._picture: QPixmap | None = None
        self._fonts = Fonts.of(self.font())
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(200, 180)
        self.setAccessibleName(tr("Map of the lap"))

    # What is shown

    @property
    def course(self) -> LapCourse | None:
        """The lap that is shown."""
        return self._course

    @property
    def dot_m(self) -> float | None:
        """Lap distance of the dot."""
        return self._dot_m

    @property
    def fitted(self) -> FittedCourse | None:
        """Its line on the plot."""
        if self._fitted is None and self._course is not None:
            width = max(self.width() - 2 * EDGE_PX, 20.0)
            height = max(self.height() - FOOT_PX - 2 * EDGE_PX - HEAD_PX, 20.0)
            self._fitted = fitted(self._course, (EDGE_PX, EDGE_PX + HEAD_PX, width, height))
        return self._fitted

    def show_message(self, words: str) -> None:
        """Show a sentence in place of a map."""
        self._course, self._message = None, words
        self.setAccessibleDescription(words)
        self._repaint_all()

    def show_course(self, course: LapCourse, units: Units, markers: tuple[Marker, ...]) -> None:
        """Show this lap."""
        self._course, self._units, self._markers, self._message = course, units, markers, ""
        self._repaint_all()

    def set_dot(self, lap_m: float | None, *, full: bool = True) -> None:
        """Move the dot; only its places are painted. `full`: on the lap that is shown, else a ring for another lap."""
        before = self._dot_rect()
        self._dot_m, self._dot_full = lap_m, full
        after = self._dot_rect()
        for rect in (before, after):
            if rect is not None:
                self.update(rect)

    def _dot_rect(self) -> QRect | None:
        if self._dot_m is None or self.fitted is None:
            return None
        x, y = self.fitted.at(self._dot_m)
        reach = round(DOT_PX + RING_PX + 3)
        return QRect(round(x) - reach, round(y) - reach, 2 * reach, 2 * reach)

    def _repaint_all(self) -> None:
        self._picture = self._fitted = None
        self.update()

    # Painting

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802
        """Copy what changed from the painted map, and draw the dot above it."""
        assert event is not None
        painter, theme = QPainter(self), themes.current()
        if self.fitted is None:
            painter.fillRect(self.rect(), colour(theme.panel))
            painter.setPen(colour(theme.quiet))
            where = self.rect().adjusted(16, 8, -16, -8)
            painter.drawText(where, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self._message)
        else:
            painter.drawPixmap(0, 0, self._painted(self.fitted, theme))
            self._paint_dot(painter, self.fitted, theme)
        if self.hasFocus():
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            painter.setPen(QPen(colour(theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def _painted(self, line: FittedCourse, theme: themes.Theme) -> QPixmap:
        if self._picture is None:
            scale = self.devicePixelRatioF()
            self._picture = QPixmap(round(self.width() * scale), round(self.height() * scale))
            self._picture.setDevicePixelRatio(scale)
            painter = QPainter(self._picture)
            paint_map(painter, line, theme, self._fonts, size=(self.width(), self.height()), units=self._units,
                      markers=self._markers)  # fmt: skip
            painter.end()
            self.paints += 1
        return self._picture

    def _paint_dot(self, painter: QPainter, line: FittedCourse, theme: themes.Theme) -> None:
        """A dot with a ring around it; the ring alone when another lap is under way."""
        if self._dot_m is None:
            return
        middle = QPointF(*line.at(self._dot_m))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        for reach, tone in (
            (DOT_PX + RING_PX + 1, theme.panel),
            (DOT_PX + RING_PX, theme.ink),
            (DOT_PX + 1, theme.panel),
        ):
            painter.setBrush(colour(tone))
            painter.drawEllipse(middle, reach, reach)
        if self._dot_full:
            painter.setBrush(colour(theme.playhead))
            painter.drawEllipse(middle, DOT_PX, DOT_PX)

    # What Qt tells

    def sizeHint(self) -> QSize:  # noqa: N802
        """Room for the numbers of corners."""
        return QSize(380, 340)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802
        """Fit anew."""
        super().resizeEvent(event)
        self._picture = self._fitted = None

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802
        """Another theme or font."""
        super().changeEvent(event)
        if event is not None and event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange,
                                                  QEvent.Type.StyleChange):  # fmt: skip
            self._fonts = Fonts.of(self.font())
            self._repaint_all()

    def event(self, event: QEvent | None) -> bool:
        """Tool tips, and a screen of another resolution."""
        assert event is not None
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self._repaint_all()
        if isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            words = self.hint_at(event.pos())
            if words:
                QToolTip.showText(event.globalPos(), words, self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)

    def hint_at(self, at: QPoint) -> str:
        """The place of the lap below the pointer, or what the line was drawn from."""
        if self.fitted is None or self._course is None:
            return ""
        if at.y() > self.height() - FOOT_PX:
            return self._course.made_from
        lap_m, off_px = self.fitted.nearest(at.x(), at.y())
        return place_words(self._course, lap_m, self._units) if off_px <= NEAR_PX / 2 else ""

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """Seek to the nearest place of the line."""
        assert event is not None
        if event.button() == Qt.MouseButton.LeftButton:
            self._seek_px(event.position(), NEAR_PX)

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """Seek along the line while the button is down."""
        assert event is not None
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._seek_px(event.position(), 2 * NEAR_PX)

    def _seek_px(self, at: QPointF, within_px: float) -> None:
        if self.fitted is not None:
            lap_m, off_px = self.fitted.nearest(at.x(), at.y())
            if off_px <= within_px:
                self.seek_asked.emit(lap_m)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802
        """Along the lap, corner by corner, to its ends; other keys go to the window."""
        assert event is not None
        place_m = None if self._course is None else self._key_place_m(Qt.Key(event.key()), self._course)
        if place_m is None or event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        else:
            self.seek_asked.emit(place_m)
            event.accept()

    def _key_place_m(self, key: Qt.Key, course: LapCourse) -> float | None:
        here_m, length_m = self._dot_m or 0.0, course.lap_length_m
        if key == Qt.Key.Key_Home:
            return 0.0
        if key == Qt.Key.Key_End:
            return length_m
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            return min(max(here_m + (STEP_M if key == Qt.Key.Key_Up else -STEP_M), 0.0), length_m)
        entries = sorted(place.brake_m if place.brake_m is not None else place.corner.entry_m
                         for place in course.corners)  # fmt: skip
        if key == Qt.Key.Key_PageDown:
            return next((entry_m for entry_m in entries if entry_m > here_m + 1.0), None)
        if key == Qt.Key.Key_PageUp:
            return next((entry_m for entry_m in reversed(entries) if entry_m < here_m - 1.0), None)
        return None
