"""One note in the list while another is worked on: painted, so that a hundred of them cost little."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QSize, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme
from syncview.desk.notes import words
from syncview.desk.notes.changes import written
from syncview.desk.notes.painting import draw_lines, wrapped
from syncview.desk.notes.verdict_view import Told, ToldLines, told_in_short

if TYPE_CHECKING:
    from PyQt6.QtCore import QEvent
    from PyQt6.QtGui import QEnterEvent

    from syncview.desk.notes.listing import ListedNote
    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.shown_units import Units

LEFT_PX, TOP_PX, GAP_PX = 12, 7, 4
MOST_LINES = 6
"""A longer note is shown whole when it is worked on."""
MOST_WIDTHS = 8


class NoteRow(QWidget):
    """Place and speaking time, the words, what the data contradict."""

    picked = pyqtSignal(str, bool)
    """Its key; whether the person wants to write at once (a double click)."""

    def __init__(self, row: ListedNote, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._row = row
        self._check: NoteCheck | None = None
        self._units: Units = "metric"
        self._told = ToldLines()
        self._told_now: tuple[Told, ...] = ()
        self._laid: dict[tuple[int, str], tuple[list[str], float]] = {}
        self._hovered = False
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setToolTip(self.tr("Click: go there. Double click: write."))

    @property
    def key(self) -> str:
        """Of its note."""
        return self._row.note.key

    def show_row(self, row: ListedNote, check: NoteCheck | None, units: Units) -> None:
        """Show the note as it is now."""
        if (row, check, units) == (self._row, self._check, self._units) and self.accessibleName():
            return
        self._row, self._check, self._units = row, check, units
        self._told_now = told_in_short(check)
        self.setAccessibleName(words.row_in_words(row, check, units))
        self._laid.clear()
        self.updateGeometry()
        self.update()

    # Size

    def hasHeightForWidth(self) -> bool:  # noqa: N802 (Qt's name)
        """Narrow columns are higher."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 (Qt's name)
        """Head, text and verdicts."""
        return round(self._lay(width)[1])

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """As wide as the list is."""
        return QSize(220, self.heightForWidth(max(self.width(), 220)))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """It may be narrow."""
        return QSize(140, 20)

    def _small(self) -> QFont:
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() * 0.88, 7.0))
        return font

    def _lay(self, width: int) -> tuple[list[str], float]:
        """Lines of the text and the height of the row; kept, as a layout asks for several widths again and again."""
        made_for = (width, self.font().key())
        if made_for not in self._laid:
            if len(self._laid) >= MOST_WIDTHS:
                self._laid.clear()
            column = width - LEFT_PX - TOP_PX
            lines = wrapped(written(self._row.note) or self.tr("no words yet"), self.font(), column, most=MOST_LINES)
            small = self._small()
            told_px = self._told.lay(self._told_now, small, column)
            height = 2 * TOP_PX + QFontMetricsF(small).lineSpacing() + GAP_PX
            height += len(lines) * QFontMetricsF(self.font()).lineSpacing()
            height += told_px + GAP_PX if told_px else 0
            self._laid[made_for] = (lines, height)
        return self._laid[made_for]

    # Painting

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Paint it."""
        look, painter = theme.current(), QPainter(self)
        if self._hovered:
            painter.fillRect(self.rect(), QColor(*theme.mixed(look.panel, look.accent, 0.12)))
        lines, _height = self._lay(self.width())
        y = TOP_PX + self._draw_head(painter, look) + GAP_PX
        font = QFont(self.font())
        font.setItalic(not written(self._row.note))
        painter.setFont(font)
        painter.setPen(QColor(*(look.ink if written(self._row.note) else look.quiet)))
        y += draw_lines(painter, lines, LEFT_PX, y) + GAP_PX
        painter.setFont(self._small())
        self._told.lay(self._told_now, painter.font(), self.width() - LEFT_PX - TOP_PX)
        self._told.draw(painter, LEFT_PX, y)
        painter.fillRect(LEFT_PX, self.height() - 1, self.width() - 2 * LEFT_PX, 1, QColor(*look.line))

    def _draw_head(self, painter: QPainter, look: theme.Theme) -> float:
        """Place on the left; what there is to know of its speaking on the right."""
        painter.setFont(self._small())
        metrics = QFontMetricsF(painter.font())
        painter.setPen(QColor(*look.quiet))
        stop = "" if self._row.note.hold_s is None else words.stop(self._row.note.hold_s)
        right = " · ".join(part for part in (stop, words.speaking(self._row.speaking)) if part)
        left = " · ".join(part for part in (words.place(self._row, self._units), words.origin(self._row)) if part)
        room = self.width() - LEFT_PX - TOP_PX
        right_px = metrics.horizontalAdvance(right)
        left = metrics.elidedText(left, Qt.TextElideMode.ElideRight, room - right_px - 10)
        draw_lines(painter, [left], LEFT_PX, TOP_PX)
        return draw_lines(painter, [right], self.width() - TOP_PX - right_px, TOP_PX)

    # The mouse

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Work on it."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self.picked.emit(self.key, False)

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Write in it."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self.picked.emit(self.key, True)

    def enterEvent(self, event: QEnterEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Show that it can be clicked."""
        self._hovered = True
        self.update()
        super().enterEvent(event)

    def leaveEvent(self, event: QEvent | None) -> None:  # noqa: N802 (Qt's name)
        """As before."""
        self._hovered = False
        self.update()
        super().leaveEvent(event)
