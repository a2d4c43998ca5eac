"""The note that is worked on, in its place in the list: words, verdicts, stop, voice."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QFocusEvent
from PyQt6.QtWidgets import (
    QCheckBox,
    QDoubleSpinBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.notes import words
from syncview.desk.notes.changes import written
from syncview.desk.notes.text_field import TextField
from syncview.desk.notes.verdict_view import VerdictView, told_in_full
from syncview.notes.note import LONGEST_HOLD_S, NoteError, checked_text

if TYPE_CHECKING:
    from syncview.desk.notes.listing import ListedNote
    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.desk.notes.voice_box import VoiceBox
    from syncview.shown_units import Units

USUAL_STOP_S = 2.0
"""What a stop begins with when it is switched on."""


class NoteEditor(QFrame):
    """Shows one note and tells what the person wants; the panel makes the changes."""

    written = pyqtSignal(str)
    """Other words."""
    move_wanted = pyqtSignal()
    """To the playhead."""
    remove_wanted = pyqtSignal()
    stop_wanted = pyqtSignal(object)
    """Seconds, or None to leave it to the plan."""
    left = pyqtSignal()
    """Done with writing."""
    keyboardMoved = pyqtSignal()  # noqa: N815 (Qt's way of naming signals)
    """The note itself (not one of its fields) got or lost the keyboard."""

    def __init__(self, voice: VoiceBox, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("noteEditor")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self._row: ListedNote | None = None
        self.voice = voice
        self.place, self.said = QLabel(self), QLabel(self)
        for label in (self.place, self.said):
            label.setObjectName("quiet")
        self.text = TextField(self)
        self.fault = QLabel(self)
        self.fault.setWordWrap(True)
        self.fault.hide()
        self.verdicts = VerdictView(self)
        self.here = self._button(self.tr("To playhead"), self.tr("Move the note to the playhead"))
        self.remove = self._button(self.tr("Remove"), self.tr("Remove the note (Del); undo brings it back"))
        self._stop_parts()
        self._lay()
        self.text.written.connect(self.written)
        self.text.left.connect(self.left)
        self.here.clicked.connect(lambda: self.move_wanted.emit())
        self.remove.clicked.connect(lambda: self.remove_wanted.emit())

    def _button(self, text: str, tip: str) -> QToolButton:
        button = QToolButton(self)
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(tip)
        return button

    def _stop_parts(self) -> None:
        self.stops = QCheckBox(self.tr("Stop for"), self)
        self.stops.setToolTip(self.tr("Hold the picture here for so long; without it the plan decides"))
        self.stop_s = QDoubleSpinBox(self)
        self.stop_s.setRange(0.0, LONGEST_HOLD_S)
        self.stop_s.setDecimals(1)
        self.stop_s.setSingleStep(0.5)
        self.stop_s.setSuffix(self.tr(" s"))
        self.stop_s.setKeyboardTracking(False)
        self.stop_s.setAccessibleName(self.tr("How long the lesson stops here"))
        self.stops.toggled.connect(self._stop_toggled)
        self.stop_s.valueChanged.connect(self.stop_wanted.emit)

    def _lay(self) -> None:
        head, tools = QHBoxLayout(), QHBoxLayout()
        head.addWidget(self.place, 1)
        head.addWidget(self.said)
        tools.setSpacing(4)
        for part in (self.here, self.stops, self.stop_s):
            tools.addWidget(part)
        tools.addStretch(1)
        self.voice.buttons.addWidget(self.remove)  # where there is room
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 7, 6, 9)
        column.setSpacing(5)
        column.addLayout(head)
        for shown in (self.text, self.fault, self.verdicts):
            column.addWidget(shown)
        column.addLayout(tools)
        column.addWidget(self.voice)

    # What is shown

    @property
    def key(self) -> str | None:
        """Of the note that is shown."""
        return None if self._row is None else self._row.note.key

    def show_row(self, row: ListedNote, check: NoteCheck | None, units: Units, *, why_not: str, can_move: bool) -> None:
        """Show the note as it is now; words that are being typed are left alone while they mean the same."""
        other = self.key != row.note.key
        self._row = row
        if other or not self.means(row):
            self.text.load(written(row.note))
            self.show_fault("")
        parts = (words.place(row, units), words.origin(row))
        self.place.setText(" · ".join(part for part in parts if part))
        self.said.setText(words.speaking(row.speaking))
        self.verdicts.show_told(told_in_full(check, why_not=why_not) if written(row.note) else ())
        typed = self.text.toPlainText()
        self.text.mark(check if written(row.note) else None, skip=len(typed) - len(typed.lstrip()))
        self._show_stop(row.note.hold_s)
        self.here.setEnabled(can_move)
        self.setAccessibleName(words.row_in_words(row, check, units))
        self.voice.show_note(row.note)

    def means(self, row: ListedNote) -> bool:
        """Whether what is typed is what the note says, but for blanks around it."""
        typed = self.text.toPlainText()
        if not typed.strip():
            return not written(row.note)
        try:
            return checked_text(typed) == row.note.text
        except NoteError:
            return bool(self.fault.text())

    def show_fault(self, sentence: str) -> None:
        """Why the words were not taken."""
        self.fault.setText(sentence)
        self.fault.setVisible(bool(sentence))

    def _show_stop(self, hold_s: float | None) -> None:
        for part in (self.stops, self.stop_s):
            part.blockSignals(True)
        self.stops.setChecked(hold_s is not None)
        if hold_s is not None:
            self.stop_s.setValue(hold_s)
        self.stop_s.setVisible(hold_s is not None)
        for part in (self.stops, self.stop_s):
            part.blockSignals(False)

    def _stop_toggled(self, stops: bool) -> None:
        self.stop_wanted.emit(USUAL_STOP_S if stops else None)

    # The keyboard

    def write(self) -> None:
        """Give the text the keyboard, at its end."""
        self.text.setFocus(Qt.FocusReason.OtherFocusReason)
        cursor = self.text.textCursor()
        cursor.movePosition(cursor.MoveOperation.End)
        self.text.setTextCursor(cursor)

    def focusInEvent(self, event: QFocusEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Shown by the frame around it."""
        super().focusInEvent(event)
        self.keyboardMoved.emit()

    def focusOutEvent(self, event: QFocusEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The frame shows that, too."""
        super().focusOutEvent(event)
        self.keyboardMoved.emit()
