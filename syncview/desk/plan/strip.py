"""The strip of the lesson's plan: zoomed, panned, sought in, and changed by dragging edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, QPointF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFontMetricsF, QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPixmap, QWheelEvent
from PyQt6.QtWidgets import QSizePolicy, QToolTip, QWidget

from syncview.desk import theme
from syncview.desk.plan import painting
from syncview.desk.plan.hits import Hit, hit
from syncview.desk.plan.keys import KEYS, keyed_value, stepped_to
from syncview.desk.plan.pieces import piece_at, same_place, steps
from syncview.desk.plan.rows import Rows, needed_px, rows_of
from syncview.desk.plan.scale import Scale
from syncview.desk.plan.values import snapped_hold, snapped_speed

if TYPE_CHECKING:
    from PyQt6.QtGui import QPaintEvent, QResizeEvent

    from syncview.desk.plan.contents import Contents
    from syncview.desk.plan.pieces import Piece

WHEEL_ZOOM = 0.8
"""One notch of the wheel shows this share of what was in view."""
_NOTCH = 120
_CLICK_PX = 4
"""A press that moves less is a click."""


@dataclass(slots=True)
class _Drag:
    """A press of the mouse and what came of it."""

    hit: Hit
    from_px: QPointF
    last_px: float
    moved: bool = False
    value: Fraction | None = None
    """What letting go would pin."""


class Strip(QWidget):
    """Shows `Contents`; tells what a person wants and changes nothing itself."""

    sought = pyqtSignal(object)
    """Lesson time (Fraction) to go to."""
    pinAsked = pyqtSignal(int, object)  # noqa: N815 (Qt's way of naming signals)
    """Number of a piece and the speed or seconds (Fraction) to pin it to."""
    freeAsked = pyqtSignal(int)  # noqa: N815
    noteAsked = pyqtSignal(str)  # noqa: N815
    """Key of a note whose words or hold were clicked."""
    selected = pyqtSignal(object)
    """Number of the piece that keys work on, or None."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(self.tr("Strip of the lesson's plan"))
        self._contents: Contents | None = None
        self._stale = False
        self._scale = Scale(0, 1, 0, 1, 1)
        self._chosen: int | None = None
        self._playhead_s: float | None = None
        self._also_s: tuple[float, ...] = ()
        self._drag: _Drag | None = None
        self._still: QPixmap | None = None

    # What is shown

    @property
    def contents(self) -> Contents | None:
        """What is shown."""
        return self._contents

    @property
    def scale(self) -> Scale:
        """What part of the lesson is in view."""
        return self._scale

    @property
    def rows(self) -> Rows:
        """Where the rows lie now."""
        return rows_of(self.height(), QFontMetricsF(self.font()).height())

    @property
    def chosen(self) -> int | None:
        """Number of the piece that keys work on."""
        return self._chosen

    @property
    def chosen_piece(self) -> Piece | None:
        """The same piece."""
        if self._contents is None or self._chosen is None:
            return None
        return self._contents.pieces[self._chosen]

    def show_contents(self, contents: Contents | None) -> None:
        """Show a plan; what was chosen stays chosen where the same place is still there."""
        before = self.chosen_piece
        self._contents, self._drag = contents, None
        self._chosen = None
        if contents is not None:
            fresh = self._scale.view_s >= self._scale.length_s
            self._scale = self._scale.for_length(contents.length_s)
            self._scale = self._scale.fitted() if fresh else self._scale
            self._chosen = None if before is None else same_place(contents.pieces, before)
        self.selected.emit(self._chosen)
        self.repaint_still()

    def show_stale(self, stale: bool) -> None:
        """Grey a plan that is no longer the project's, or not."""
        if stale != self._stale:
            self._stale = stale
            self.repaint_still()

    def show_playhead(self, lesson_s: float | None, also_s: Sequence[float] = ()) -> None:
        """Show the moment, and where else the same picture comes."""
        if (lesson_s, tuple(also_s)) != (self._playhead_s, self._also_s):
            self._playhead_s, self._also_s = lesson_s, tuple(also_s)
            self.update()

    def keep_in_view(self, lesson_s: float) -> None:
        """Move the view when the moment has left it."""
        if not self._scale.begin_s <= lesson_s <= self._scale.end_s:
            self._set_scale(self._scale.showing(lesson_s, lesson_s + self._scale.view_s * 0.9))

    def choose(self, number: int | None) -> None:
        """Let keys work on a piece."""
        self._chosen = number
        piece = self.chosen_piece
        if piece is not None:
            self._set_scale(self._scale.showing(float(piece.begin_s), float(piece.end_s)))
        self.selected.emit(number)
        self.update()

    def zoom(self, factor: float, at_px: float | None = None) -> None:
        """Show `factor` times as much, about a pixel or the playhead or the middle."""
        if at_px is None:
            middle = self._scale.left_px + self._scale.width_px / 2
            at_px = middle if self._playhead_s is None else self._scale.x(self._playhead_s)
            if not self._scale.left_px <= at_px <= self._scale.left_px + self._scale.width_px:
                at_px = middle
        self._set_scale(self._scale.zoomed(factor, at_px))

    def fit(self) -> None:
        """Show the whole lesson."""
        self._set_scale(self._scale.fitted())

    def _set_scale(self, scale: Scale) -> None:
        if scale != self._scale:
            self._scale = scale
            self.repaint_still()

    def repaint_still(self) -> None:
        """Paint everything anew."""
        self._still = None
        self.update()

    # Painting

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Room for all rows and a wide lesson."""
        return QSize(800, round(needed_px(QFontMetricsF(self.font()).height()) + 60))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Room for all rows."""
        return QSize(240, round(needed_px(QFontMetricsF(self.font()).height())))

    def _labels(self) -> tuple[str, str, str, str]:
        return self.tr("Speed"), self.tr("Corners"), self.tr("Said"), self.tr("Captions")

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Keep the view."""
        super().resizeEvent(event)
        metrics = QFontMetricsF(self.font())
        left = max(metrics.horizontalAdvance(label) for label in self._labels()) + 12
        self._scale = self._scale.resized(left, self.width() - left - 6)
        self.repaint_still()

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Follow the theme."""
        super().changeEvent(event)
        if event is not None and event.type() in (QEvent.Type.PaletteChange, QEvent.Type.FontChange):
            self.repaint_still()

    def _look(self) -> painting.Look:
        return painting.Look(theme.current(), self._scale, self.rows, self._labels(), self._stale)

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The still part from its picture, the rest on top."""
        look, contents = self._look(), self._contents
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._still_picture(look))
        if contents is None:
            painter.end()
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        piece = self.chosen_piece
        if piece is not None:
            painting.paint_selected(painter, look, piece, focused=self.hasFocus())
        if self._drag is not None and self._drag.value is not None and self._drag.hit.piece is not None:
            wanted = contents.pieces[self._drag.hit.piece]
            paint = painting.paint_wanted_hold if wanted.kind == "hold" else painting.paint_wanted_speed
            paint(painter, look, wanted, self._drag.value)
        if self._playhead_s is not None:
            painting.paint_playhead(painter, look, self._playhead_s, also_s=self._also_s)
        painter.end()

    def _still_picture(self, look: painting.Look) -> QPixmap:
        ratio = self.devicePixelRatioF()
        size = QSize(max(1, round(self.width() * ratio)), max(1, round(self.height() * ratio)))
        if self._still is None or self._still.size() != size:
            self._still = QPixmap(size)
            self._still.setDevicePixelRatio(ratio)
            self._still.fill(QColor(*look.theme.panel))
            if self._contents is not None:
                painter = QPainter(self._still)
                painter.setFont(self.font())
                painter.setRenderHint(QPainter.RenderHint.Antialiasing)
                painting.paint_still(painter, self._contents, look)
                painter.end()
        return self._still

    # The mouse

    def _hit(self, at: QPointF) -> Hit:
        if self._contents is None:
            return Hit("ground")
        return hit(self._contents.pieces, self._scale, self.rows, at.x(), at.y())

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Take an edge, or begin to pan."""
        if event is None or self._contents is None:
            return
        found = self._hit(event.position())
        if event.button() == Qt.MouseButton.MiddleButton:
            found = Hit("ground")
        elif event.button() != Qt.MouseButton.LeftButton:
            return
        self._drag = _Drag(found, event.position(), event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Drag an edge or the view; otherwise show what could be dragged."""
        if event is None:
            return
        drag, at = self._drag, event.position()
        if drag is None:
            self._show_pointer(self._hit(at))
            return
        way = at - drag.from_px
        drag.moved = drag.moved or max(abs(way.x()), abs(way.y())) >= _CLICK_PX
        if not drag.moved:
            return
        if drag.hit.part in ("hold edge", "speed edge"):
            drag.value = self._dragged_to(drag, at)
            self.update()
        else:
            self._set_scale(self._scale.panned(drag.last_px - at.x()))
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        drag.last_px = at.x()

    def _dragged_to(self, drag: _Drag, at: QPointF) -> Fraction:
        assert self._contents is not None
        assert drag.hit.piece is not None
        if drag.hit.part == "speed edge":
            return snapped_speed(self.rows.speed_at(at.y()))
        piece = self._contents.pieces[drag.hit.piece]
        return snapped_hold(self._scale.unbounded_s(at.x()) - float(piece.begin_s))

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Pin what was dragged; a click goes there and chooses."""
        drag, self._drag = self._drag, None
        if event is None or drag is None:
            return
        self.update()
        if drag.moved:
            if drag.value is not None and drag.hit.piece is not None:
                self.choose(drag.hit.piece)
                self.pinAsked.emit(drag.hit.piece, drag.value)
        elif event.button() == Qt.MouseButton.LeftButton and event.position().x() >= self._scale.left_px:
            self._clicked(drag.hit, event.position())
        self._show_pointer(self._hit(event.position()))

    def _clicked(self, found: Hit, at: QPointF) -> None:
        lesson_s = self._scale.lesson_s(at.x())
        number = found.piece
        if number is None and self._contents is not None:
            number = piece_at(self._contents.pieces, lesson_s)
        self._chosen = number
        self.selected.emit(number)
        self.sought.emit(Fraction(round(lesson_s * 1_000_000), 1_000_000))
        self._ask_for_note(lesson_s, at.y())
        self.update()

    def _ask_for_note(self, lesson_s: float, y_px: float) -> None:
        piece, contents = self.chosen_piece, self._contents
        if contents is not None and self.rows.said.holds(y_px):
            key = next((bar.words for bar in contents.said if bar.begin_s <= lesson_s < bar.end_s), None)
        else:
            key = None if piece is None else piece.note_key
        if key is not None:
            self.noteAsked.emit(key)

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Free a pin."""
        if event is None or event.button() != Qt.MouseButton.LeftButton:
            return
        found = self._hit(event.position())
        if found.piece is not None:
            self.freeAsked.emit(found.piece)

    def _show_pointer(self, found: Hit) -> None:
        shape = {
            "hold edge": Qt.CursorShape.SizeHorCursor,
            "speed edge": Qt.CursorShape.SizeVerCursor,
        }.get(found.part, Qt.CursorShape.ArrowCursor)
        self.setCursor(shape)

    def wheelEvent(self, event: QWheelEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Zoom about the pointer; sideways and with Shift pan."""
        if event is None or self._contents is None:
            return
        angle = event.angleDelta()
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        sideways = angle.x() if abs(angle.x()) > abs(angle.y()) else (angle.y() if shift else 0)
        if sideways:
            self._set_scale(self._scale.panned(-sideways / _NOTCH * self._scale.width_px * 0.1))
        elif angle.y():
            left, right = self._scale.left_px, self._scale.left_px + self._scale.width_px
            self.zoom(WHEEL_ZOOM ** (angle.y() / _NOTCH), min(max(event.position().x(), left), right))
        event.accept()

    # Keys

    def event(self, event: QEvent | None) -> bool:
        """Keys of the strip go before shortcuts of the window; hovering tells why."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride:
            if event.key() in KEYS and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                event.accept()
                return True
        elif isinstance(event, QHelpEvent) and event.type() == QEvent.Type.ToolTip:
            words = self.words_at(QPointF(event.pos()))
            QToolTip.showText(event.globalPos(), words, self)
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Step, pin, free, zoom."""
        if event is None or self._contents is None or event.key() not in KEYS:
            super().keyPressEvent(event)
            return
        key, piece = event.key(), self.chosen_piece
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End):
            self._step(Qt.Key(key))
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Minus):
            self.zoom(WHEEL_ZOOM if key == Qt.Key.Key_Plus else 1 / WHEEL_ZOOM)
        elif key == Qt.Key.Key_0:
            self.fit()
        elif piece is not None and self._chosen is not None:
            if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
                self.freeAsked.emit(self._chosen)
            else:
                self.pinAsked.emit(self._chosen, keyed_value(piece, Qt.Key(key)))

    def _step(self, key: Qt.Key) -> None:
        assert self._contents is not None
        number = stepped_to(key, self._chosen, steps(self._contents.pieces))
        if number is not None:
            self.choose(number)
            self.sought.emit(self._contents.pieces[number].begin_s)

    # Words

    def words_at(self, at: QPointF) -> str:
        """What hovering tells."""
        contents, rows = self._contents, self.rows
        if contents is None or at.x() < self._scale.left_px:
            return ""
        found = self._hit(at)
        if found.piece is not None:
            piece = contents.pieces[found.piece]
            hint = ""
            if found.part == "speed edge":
                hint = "\n" + self.tr("Drag up or down to set the speed.")
            elif found.part == "hold edge":
                hint = "\n" + self.tr("Drag to set how long the picture stands.")
            if piece.pinned:
                hint += "\n" + self.tr("Double click leaves it to the plan again.")
            return piece.why + hint
        return contents.tip_at(rows, self._scale.lesson_s(at.x()), at.y())
