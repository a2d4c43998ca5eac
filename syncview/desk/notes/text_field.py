"""Where a note is written: it grows with its text, and undo is the window's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, Qt, pyqtSignal
from PyQt6.QtGui import (
    QColor,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
    QTextCharFormat,
    QTextCursor,
    QTextOption,
)
from PyQt6.QtWidgets import QPlainTextEdit, QSizePolicy, QTextEdit, QWidget

from syncview.desk import theme
from syncview.desk.notes.painting import colour_of, wrapped

if TYPE_CHECKING:
    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.notes.check import Outcome

LEAST_LINES, MOST_LINES = 2, 14
_UNDERLINES: dict[Outcome, QTextCharFormat.UnderlineStyle] = {
    "disagree": QTextCharFormat.UnderlineStyle.WaveUnderline,
    "cannot tell": QTextCharFormat.UnderlineStyle.DotLine,
}


class TextField(QPlainTextEdit):
    """Words of one note; Esc or Ctrl+Enter leaves it."""

    written = pyqtSignal(str)
    """The person typed; the text as it is now."""
    left = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setUndoRedoEnabled(False)
        self.setTabChangesFocus(True)
        self.setWordWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setPlaceholderText(self.tr("Write what you say here"))
        self.setAccessibleName(self.tr("Words of the note"))
        self.setToolTip(self.tr("Esc or Ctrl+Enter leaves the text"))
        self._loading = False
        self.textChanged.connect(self._changed)
        self._fit()

    def load(self, text: str) -> None:
        """Show other words; the cursor stays where it was as far as that can be."""
        if text == self.toPlainText():
            return
        place = self.textCursor().position()
        self._loading = True
        self.setPlainText(text)
        self._loading = False
        cursor = self.textCursor()
        cursor.setPosition(min(place, len(text)))
        self.setTextCursor(cursor)
        self._fit()

    def _changed(self) -> None:
        self._fit()
        if not self._loading:
            self.written.emit(self.toPlainText())

    def mark(self, check: NoteCheck | None, *, skip: int) -> None:
        """Underline what the data contradict (a wave) or do not tell (dots); `skip`: blanks before the note's text."""
        marks, text = [], self.toPlainText()
        for line in () if check is None else check.lines:
            if line.outcome not in _UNDERLINES:
                continue
            mark = QTextEdit.ExtraSelection()
            cursor = QTextCursor(self.document())
            cursor.setPosition(_qt_place(text, skip + line.begin))
            cursor.setPosition(_qt_place(text, skip + line.end), QTextCursor.MoveMode.KeepAnchor)
            mark.cursor = cursor
            mark.format.setUnderlineStyle(_UNDERLINES[line.outcome])
            mark.format.setUnderlineColor(QColor(*colour_of(line.outcome, theme.current())))
            marks.append(mark)
        self.setExtraSelections(marks)

    # Size

    def _fit(self) -> None:
        """As high as its lines, between two limits."""
        document, viewport = self.document(), self.viewport()
        assert document is not None
        assert viewport is not None
        # The document's own count lags behind a change of width.
        column = viewport.width() - 2 * document.documentMargin()
        needed = len(wrapped(self.toPlainText(), self.font(), column))
        lines = max(LEAST_LINES, min(needed, MOST_LINES))
        policy = Qt.ScrollBarPolicy
        self.setVerticalScrollBarPolicy(policy.ScrollBarAsNeeded if needed > MOST_LINES else policy.ScrollBarAlwaysOff)
        frame = 2 * self.frameWidth() + 2 * document.documentMargin()
        height = round(lines * self.fontMetrics().lineSpacing() + frame)
        if height != self.height():
            self.setFixedHeight(height)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Narrower columns have more lines."""
        super().resizeEvent(event)
        self._fit()

    # Keys

    def event(self, event: QEvent | None) -> bool:
        """Undo and redo go to the window: the project is what is undone, in whatever field the keyboard is."""
        if (
            isinstance(event, QKeyEvent)
            and event.type() == QEvent.Type.ShortcutOverride
            and (event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo))
        ):
            event.ignore()
            return True
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.ShortcutOverride and _leaves(event):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Leave, or type."""
        if event is not None and _leaves(event):
            event.accept()
            self.left.emit()
            return
        super().keyPressEvent(event)


def _qt_place(text: str, place: int) -> int:
    """A place in a text as Qt counts it, where some signs count twice; the end for one beyond it."""
    return len(text[:place].encode("utf-16-le")) // 2


def _leaves(event: QKeyEvent) -> bool:
    if event.key() == Qt.Key.Key_Escape:
        return event.modifiers() == Qt.KeyboardModifier.NoModifier
    return event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and bool(
        event.modifiers() & Qt.KeyboardModifier.ControlModifier
    )
