"""The list of notes: headings of corners, rows, and the one that is worked on opened in its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QPalette
from PyQt6.QtWidgets import QFrame, QLabel, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from syncview.desk import theme
from syncview.desk.notes import words
from syncview.desk.notes.note_row import NoteRow

if TYPE_CHECKING:
    from syncview.desk.notes.editor import NoteEditor
    from syncview.desk.notes.listing import ListedNote
    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.shown_units import Units


class NoteList(QScrollArea):
    """Rows are reused: a change of one note touches one row."""

    picked = pyqtSignal(str, bool)
    """Key; whether to write at once."""
    stepped = pyqtSignal(int)
    """To the next (1) or the last (-1) note, by key."""
    write_wanted = pyqtSignal()
    remove_wanted = pyqtSignal()

    def __init__(self, editor: NoteEditor, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.tr("Notes in lap order"))
        self.setAccessibleDescription(self.tr("Up and Down go from note to note, Enter writes, Del removes"))
        self.editor = editor
        self._frame = _OpenNote(editor)
        self._rows: dict[str, NoteRow] = {}
        self._headings: list[QLabel] = []
        self._order: list[QWidget] = []
        self._empty = QLabel(self)
        self._empty.setObjectName("quiet")
        self._empty.setWordWrap(True)
        self._empty.setMargin(14)
        self._empty.setText(self.tr("Press N while the lap plays: a note is dropped there, and you can write at once. "
                                    "Or have drafts written from the data."))  # fmt: skip
        self._empty.hide()
        inside = QWidget()
        inside.setBackgroundRole(QPalette.ColorRole.Base)
        inside.setAutoFillBackground(True)
        inside.setObjectName("noteColumn")
        self._column = QVBoxLayout(inside)
        self._column.setContentsMargins(0, 0, 0, 8)
        self._column.setSpacing(0)
        self._column.addStretch(1)
        self.setWidget(inside)
        self._frame.hide()

    # What is shown

    def show_notes(
        self, listed: tuple[ListedNote, ...], checks: dict[str, NoteCheck], units: Units, *, selected: str | None,
        corners_known: bool, why_not: str, can_move: bool,
    ) -> None:  # fmt: skip
        """Show the notes as they are now."""
        order: list[QWidget] = []
        headings = 0
        self._drop_rows({row.note.key for row in listed})
        for row in listed:
            check = checks.get(row.note.key)
            if row.opens_corner:
                order.append(self._heading(headings, words.heading(row.corner, known=corners_known)))
                headings += 1
            if row.note.key == selected:
                self.editor.show_row(row, check, units, why_not=why_not, can_move=can_move)
                order.append(self._frame)
            else:
                order.append(self._row_of(row, check, units))
        self._place(order or [self._empty])
        if selected is None or not any(row.note.key == selected for row in listed):
            self.editor.voice.show_note(None)

    def _drop_rows(self, keys: set[str]) -> None:
        for key in [key for key in self._rows if key not in keys]:
            row = self._rows.pop(key)
            self._column.removeWidget(row)
            if row in self._order:
                self._order.remove(row)
            row.hide()
            row.deleteLater()

    def _row_of(self, listed: ListedNote, check: NoteCheck | None, units: Units) -> NoteRow:
        row = self._rows.get(listed.note.key)
        if row is None:
            row = self._rows[listed.note.key] = NoteRow(listed, self.widget())
            row.picked.connect(self.picked)
        row.show_row(listed, check, units)
        return row

    def _heading(self, number: int, text: str) -> QLabel:
        while len(self._headings) <= number:
            label = QLabel(self.widget())
            label.setObjectName("noteCorner")
            label.setContentsMargins(12, 9, 8, 2)
            font = label.font()
            font.setBold(True)
            label.setFont(font)
            label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
            self._headings.append(label)
        self._headings[number].setText(text)
        return self._headings[number]

    def _place(self, order: list[QWidget]) -> None:
        """Bring the widgets into this order; those that are in it already are not touched."""
        if order == self._order:
            return
        keyboard = self.editor.hasFocus() or self.editor.text.hasFocus()
        for widget in self._order:
            if widget not in order:
                self._column.removeWidget(widget)
                widget.hide()
        for i, widget in enumerate(order):
            item = self._column.itemAt(i)
            if item is None or item.widget() is not widget:
                self._column.removeWidget(widget)
                self._column.insertWidget(i, widget)
            widget.show()
        self._order = order
        if keyboard and self._frame not in order:
            self.setFocus(Qt.FocusReason.OtherFocusReason)

    @property
    def shown(self) -> list[QWidget]:
        """Headings, rows and the open note from top to bottom."""
        return list(self._order)

    def row(self, key: str) -> NoteRow | None:
        """The closed row of a note."""
        row = self._rows.get(key)
        return row if row in self._order else None

    def bring_into_view(self) -> None:
        """Scroll to the open note, once it has its place."""
        QTimer.singleShot(0, self._scroll_to_open)

    def _scroll_to_open(self) -> None:
        if self._frame in self._order:
            inside = self.widget()
            layout = None if inside is None else inside.layout()
            if layout is not None:
                layout.activate()
            self.ensureWidgetVisible(self.editor, 0, 24)  # whole where that fits, else from its text on
            if self.editor.height() > self.viewport().height():  # type: ignore[union-attr]
                self.ensureWidgetVisible(self.editor.text, 0, 24)

    def bring_voice_into_view(self) -> None:
        """Scroll to the end of the open note, where its voice tells something."""
        QTimer.singleShot(0, lambda: self.ensureWidgetVisible(self.editor.voice, 0, 8))

    # Keys

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """From note to note, write, remove: where the list or the open note itself has the keyboard."""
        if event is None or not (self.hasFocus() or self.editor.hasFocus()) or not self._handled(event):
            super().keyPressEvent(event)

    def _handled(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.stepped.emit(1 if key == Qt.Key.Key_Down else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_F2):
            self.write_wanted.emit()
        elif key == Qt.Key.Key_Delete:
            self.remove_wanted.emit()
        else:
            return False
        event.accept()
        return True


class _OpenNote(QFrame):
    """Around the note that is worked on: an edge that tells it apart."""

    def __init__(self, editor: NoteEditor) -> None:
        super().__init__()
        self.editor = editor
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        column = QVBoxLayout(self)
        column.setContentsMargins(4, 3, 0, 3)
        column.addWidget(editor)
        editor.keyboardMoved.connect(self.update)

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """A raised ground, an edge on the left, and a frame where the keyboard is."""
        look, painter = theme.current(), QPainter(self)
        painter.fillRect(self.rect(), QColor(*theme.mixed(look.panel, look.raised, 0.55)))
        painter.fillRect(0, 0, 4, self.height(), QColor(*look.accent))
        if self.editor.hasFocus():
            painter.setPen(QColor(*look.accent))
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
