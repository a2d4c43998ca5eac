"""The plot of the traces: a picture painted once for every zoom, pan or size, and the playhead above it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, QPointF, QRect, QRectF, QSize, Qt, QTimer, pyqtSignal
from PyQt6.QtGui import (
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QRegion,
    QResizeEvent,
    QWheelEvent,
)
from PyQt6.QtWidgets import QToolTip, QWidget

from syncview.desk import theme as themes
from syncview.desk.traces.gestures import Gestures
from syncview.desk.traces.overlay import head_place, paint_playhead, paint_values, playhead_places, value_places
from syncview.desk.traces.painting import Fonts, colour, paint_frame
from syncview.desk.traces.plot_data import Frame, Subject
from syncview.desk.traces.readout import Readout, readout_at
from syncview.desk.traces.scene import RowPlace, View
from syncview.desk.traces.words import corner_words, hint_of, place_words, spoken, tr

if TYPE_CHECKING:
    from syncview.desk.traces.marks import CornerMark

AROUND_CORNER = 0.35
"""How much is shown before and behind a corner that is zoomed to, in its lengths; braking lies before it."""
PAGE_SHARE = 0.1
"""Where the playhead stands in the new view when it runs out of the old one."""
SPOKEN_AFTER_MS = 400


class TracePlot(QWidget):
    """Shows a `Subject` and the playhead, and asks for seeks."""

    seek_asked = pyqtSignal(float)
    """Log time."""
    view_changed = pyqtSignal()
    paints = 0
    """How often the traces were painted; for tests and measurements."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._subject: Subject | None = None
        self._view: View | None = None
        self._message = ""
        self._playhead_log_s: float | None = None
        self._readout: Readout | None = None
        self._head = ""
        self._frame: Frame | None = None
        self._rows: tuple[RowPlace, ...] = ()
        self._value_places: list[QRect] = []
        self._strips: list[QRect] = []
        self._dirty = QRegion()
        self._picture: QPixmap | None = None
        self._stale = True
        self._fonts = Fonts.of(self.font())
        self._gestures = Gestures(self)
        self._say = QTimer(self)
        self._say.setSingleShot(True)
        self._say.setInterval(SPOKEN_AFTER_MS)
        self._say.timeout.connect(self._describe)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(320, 180)
        self.setAccessibleName(tr("Traces"))

    # What is shown

    @property
    def subject(self) -> Subject | None:
        """What is shown."""
        return self._subject

    @property
    def view(self) -> View | None:
        """The stretch in view."""
        return self._view

    @property
    def readout(self) -> Readout | None:
        """The values at the playhead."""
        return self._readout

    @property
    def frame(self) -> Frame | None:
        """Where things lie."""
        if self._subject is None or self._view is None:
            return None
        if self._frame is None:
            self._frame = Frame(self._subject, self._view, self.width(), self.height())
        return self._frame

    def show_message(self, words: str) -> None:
        """Show a sentence in place of traces."""
        self._subject = self._view = self._readout = None
        self._message = words
        self.setAccessibleDescription(words)
        self._repaint_all()

    def show_subject(self, subject: Subject) -> None:
        """Show these traces; the view stays where it was on the same axis and lap."""
        before, view = self._subject, self._view
        whole = View.whole(subject.axis, subject.traces.limits(subject.axis, subject.lap))
        same = (
            before is not None and before.axis == subject.axis and (before.lap is None) == (subject.lap is None)
            and view is not None and (view.least, view.most) == (whole.least, whole.most)
        )  # fmt: skip
        self._subject, self._message = subject, ""
        self._view = view if same else whole
        self._read()
        self._repaint_all()
        self.view_changed.emit()

    def set_view(self, view: View) -> None:
        """Show another stretch."""
        if view != self._view:
            self._view = view
            self._repaint_all()
            self.view_changed.emit()

    def set_playhead(self, log_s: float | None, *, follow: bool = False) -> None:
        """Move the playhead; only strips are painted. `follow`: turn the page when it leaves the view."""
        before, head_before = self._playhead_px(), head_place(self._head, self._fonts)
        self._playhead_log_s = log_s
        self._read()
        if follow and self._turn_page():
            return
        after, frame = self._playhead_px(), self.frame
        if frame is None:
            return
        strips = [*self._value_places, head_before, head_place(self._head, self._fonts)]
        for px in (before, after):
            if px is not None:
                strips += playhead_places(frame, px)
        for strip in strips:
            self._dirty += strip
        self._strips += strips
        self.update(self._dirty)

    def _read(self) -> None:
        self._readout, self._head = None, ""
        if self._subject is not None and self._playhead_log_s is not None:
            self._readout = readout_at(self._subject.traces, self._playhead_log_s)
            self._head = place_words(self._readout, self._subject.units)
            self._say.start()

    def _describe(self) -> None:
        if self._readout is not None and self._subject is not None:
            self.setAccessibleDescription(spoken(self._readout, self._subject.units))

    def playhead_x(self) -> float | None:
        """The playhead on the axis."""
        if self._subject is None or self._playhead_log_s is None:
            return None
        if self._subject.axis == "time":
            return self._playhead_log_s
        return None if self._readout is None else self._readout.course_m

    def _playhead_px(self) -> float | None:
        """On the plot, at its edge when it lies beyond."""
        x, frame = self.playhead_x(), self.frame
        return None if x is None or frame is None else min(max(frame.px(x), frame.left), frame.right)

    def _turn_page(self) -> bool:
        x, view = self.playhead_x(), self._view
        if x is None or view is None or not view.least <= x <= view.most or view.begin <= x <= view.end:
            return False
        self.set_view(view.panned(x - view.begin - PAGE_SHARE * view.length))
        return True

    # Zoom and pan

    def zoom(self, factor: float, about: float | None = None) -> None:
        """Zoom about a place of the axis: the playhead when it is in view, else the middle."""
        if self._view is None:
            return
        if about is None:
            x = self.playhead_x()
            seen = x is not None and self._view.begin <= x <= self._view.end
            about = x if seen and x is not None else (self._view.begin + self._view.end) / 2
        self.set_view(self._view.zoomed(factor, about))

    def pan(self, share: float) -> None:
        """Move by a share of the view."""
        if self._view is not None:
            self.set_view(self._view.panned(share * self._view.length))

    def show_all(self) -> None:
        """The whole lap or session."""
        if self._view is not None:
            self.set_view(self._view.showing(self._view.least, self._view.most))

    def show_corner(self, mark: CornerMark) -> None:
        """Zoom to a corner with the braking before it."""
        if self._view is not None:
            length = mark.end - mark.begin
            self.set_view(
                self._view.showing(mark.begin - 3 * AROUND_CORNER * length, mark.end + AROUND_CORNER * length)
            )

    def step_corner(self, steps: int) -> None:
        """Zoom to the next corner, or to the one before."""
        frame = self.frame
        if frame is None:
            return
        shown = frame.subject.marks.corners_between(frame.view.begin, frame.view.end)
        middle = (frame.view.begin + frame.view.end) / 2
        here = min(shown, key=lambda mark: abs(mark.apex - middle), default=None)
        from_x = frame.view.begin if frame.view.is_whole or here is None else here.apex
        mark = frame.subject.marks.corner_after(from_x, steps=steps)
        if mark is not None and frame.view.least <= mark.apex <= frame.view.most:
            self.show_corner(mark)

    def seek_px(self, px: float) -> None:
        """Ask for the moment at a place of the plot, inside the view."""
        frame = self.frame
        if frame is not None:
            x = frame.x(min(max(px, frame.left), frame.right))
            log_s = frame.subject.traces.to_log_s(frame.subject.axis, x)
            if log_s == log_s:
                self.seek_asked.emit(log_s)

    def seek_end(self, *, last: bool) -> None:
        """Ask for the first or the last moment that can be seen."""
        frame = self.frame
        if frame is not None:
            x = frame.view.most if last else frame.view.least
            log_s = frame.subject.traces.to_log_s(frame.subject.axis, x)
            if log_s == log_s:
                self.seek_asked.emit(log_s)

    # Painting

    def _repaint_all(self) -> None:
        self._stale, self._frame = True, None
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802
        """Copy what changed from the painted picture, and draw the playhead above it."""
        assert event is not None
        painter, theme, frame = QPainter(self), themes.current(), self.frame
        if frame is None:
            painter.fillRect(self.rect(), colour(theme.panel))
            painter.setPen(colour(theme.quiet))
            where = self.rect().adjusted(16, 8, -16, -8)
            painter.drawText(where, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self._message)
        else:
            self._copy_picture(painter, event.region(), self._painted(frame))
            if self._readout is not None:
                paint_playhead(painter, frame, theme, x=self.playhead_x())
                paint_values(painter, frame, theme, self._fonts, rows=self._rows, readout=self._readout,
                             head=self._head)  # fmt: skip
            self._gestures.paint(painter, frame, theme)
        if self.hasFocus():
            painter.setPen(QPen(colour(theme.accent), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))

    def _copy_picture(self, painter: QPainter, region: QRegion, picture: QPixmap) -> None:
        """Below the playhead, strip by strip: a clipped copy of the whole would walk through every row of pixels."""
        if region == self._dirty:
            scale = self.devicePixelRatioF()
            for strip in self._strips:
                source = QRectF(strip.x() * scale, strip.y() * scale, strip.width() * scale, strip.height() * scale)
                painter.drawPixmap(QRectF(strip), picture, source)
        else:
            painter.drawPixmap(0, 0, picture)
        self._dirty, self._strips = QRegion(), []

    def _painted(self, frame: Frame) -> QPixmap:
        if self._stale or self._picture is None:
            scale = self.devicePixelRatioF()
            size = QSize(round(self.width() * scale), round(self.height() * scale))
            if self._picture is None or self._picture.size() != size:
                self._picture = QPixmap(size)  # else painted over: fresh memory costs a millisecond
            self._picture.setDevicePixelRatio(scale)
            painter = QPainter(self._picture)
            paint_frame(painter, frame, themes.current(), self._fonts, scale)
            painter.end()
            self._rows = tuple(place for place in frame.rows() if place.row.number is not None)
            self._value_places = value_places(frame, self._rows, self._fonts)
            self._stale = False
            self.paints += 1
        return self._picture

    # What Qt tells

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802
        """Paint anew."""
        super().resizeEvent(event)
        self._stale, self._frame = True, None

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
            words = self.hint_at(QPointF(event.pos()))
            if words:
                QToolTip.showText(event.globalPos(), words, self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)

    def hint_at(self, at: QPointF) -> str:
        """What lies at a place of the plot, in words."""
        frame = self.frame
        if frame is None:
            return ""
        if at.x() < frame.left:
            row = next((place.row for place in frame.rows() if place.top <= at.y() < place.bottom), None)
            return "" if row is None else hint_of(frame.subject.traces, row)
        if at.y() < frame.top:
            mark = frame.subject.marks.corner_at(frame.x(at.x()))
            return "" if mark is None else corner_words(mark.corner) + tr(". Double-click to zoom to it.")
        near = [mark for mark in frame.subject.marks.markers if abs(frame.px(mark.x) - at.x()) <= 4]
        return near[0].marker.words if near else ""

    def sizeHint(self) -> QSize:  # noqa: N802
        """Room for seven traces."""
        return QSize(900, 420)

    def wheelEvent(self, event: QWheelEvent | None) -> None:  # noqa: N802
        """Zoom; pan sideways or with Shift."""
        assert event is not None
        self._gestures.wheel(event)

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """Seek, pan, or choose a stretch."""
        assert event is not None
        self._gestures.press(event)

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """Go on with what the press began."""
        assert event is not None
        self._gestures.move(event)

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """End it."""
        assert event is not None
        self._gestures.release(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802
        """Zoom to the corner, or out again."""
        assert event is not None
        self._gestures.double_click(event)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802
        """Keys of the plot; others go to the window."""
        assert event is not None
        if not self._gestures.key(event):
            super().keyPressEvent(event)
