"""The picture over the whole screen; all keys of the desk go on working."""

from __future__ import annotations

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QAction, QCloseEvent, QKeyEvent, QKeySequence, QShortcut
from PyQt6.QtWidgets import QVBoxLayout, QWidget


class FullScreen(QWidget):
    """A window that borrows the stage; keys that it does not know are done by the desk's window."""

    left = pyqtSignal()

    def __init__(self, stage: QWidget, desk: QWidget) -> None:
        super().__init__(None, Qt.WindowType.Window)
        self._desk = desk
        self.setWindowTitle(self.tr("syncview: picture"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(stage)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Escape goes back; other keys are looked up in the desk's window."""
        if event is None:
            return
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif not self._pass_on(QKeySequence(event.keyCombination())):
            super().keyPressEvent(event)

    def _pass_on(self, keys: QKeySequence) -> bool:
        for action in self._desk.findChildren(QAction):
            if keys in action.shortcuts() and action.isEnabled():
                action.trigger()
                return True
        for shortcut in self._desk.findChildren(QShortcut):
            if shortcut.context() == Qt.ShortcutContext.WindowShortcut and shortcut.keys().count(keys):
                if shortcut.isEnabled():
                    shortcut.activated.emit()
                return True
        return False

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Closed by the system: go back as well."""
        self.left.emit()
        super().closeEvent(event)
