"""The field in which a drawing's label is written, on the picture itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QPointF, Qt, pyqtSignal
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtWidgets import QLineEdit

from syncview.gauges.drawing import LONGEST_LABEL

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QWidget


class LabelEditor(QLineEdit):
    """Hidden until it is begun; Enter or a click elsewhere keeps what is written, Escape does not."""

    labelled = pyqtSignal(str)

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._before = ""
        self.setMaxLength(LONGEST_LABEL)
        self.setPlaceholderText(self.tr("Label, or Enter for none"))
        self.setAccessibleName(self.tr("Label of the drawing"))
        self.setFixedWidth(220)
        self.hide()
        self.editingFinished.connect(self.finish)

    def begin(self, text: str, at: QPointF) -> None:
        """Edit a label near a point of the parent."""
        self._before = text
        self.setText(text)
        room = self.parentWidget()
        assert room is not None
        self.adjustSize()
        left = min(max(round(at.x()), 4), max(4, room.width() - self.width() - 4))
        top = min(max(round(at.y()) + 8, 4), max(4, room.height() - self.height() - 4))
        self.move(left, top)
        self.show()
        self.raise_()
        self.selectAll()
        self.setFocus()

    def finish(self) -> None:
        """Keep what is written."""
        if self.isHidden():
            return
        text = "".join(sign for sign in self.text() if ord(sign) >= 32 and ord(sign) != 127).strip()
        self._leave()
        self.labelled.emit(text)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Escape leaves the label as it was, Enter keeps it; no key goes on to the picture below."""
        if event is None:
            return
        if event.key() == Qt.Key.Key_Escape:
            self._leave()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.finish()
        else:
            super().keyPressEvent(event)
        event.accept()

    def _leave(self) -> None:
        had_focus = self.hasFocus()
        self.hide()
        room = self.parentWidget()
        if had_focus and room is not None:
            room.setFocus()
