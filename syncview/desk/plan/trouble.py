"""The bar that says why there is no plan, or why a change cannot be, with ways out."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget


class Trouble(QFrame):
    """Hidden while all is well."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("faultBar")
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.undo = QPushButton(self.tr("Undo"))
        self.undo.setToolTip(self.tr("Take back the last change"))
        self.free_all = QPushButton(self.tr("Free all pins"))
        self.free_all.setToolTip(self.tr("Leave all speeds and holds to the plan again"))
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 3, 8, 3)
        row.addWidget(self.words, 1)
        row.addWidget(self.undo)
        row.addWidget(self.free_all)
        self.hide()

    def tell(self, reason: str, *, can_undo: bool, has_pins: bool) -> None:
        """Show a reason with its remedy; hide without one."""
        self.setVisible(bool(reason))
        self.words.setText(f"! {reason}" if reason else "")
        self.words.setAccessibleName(reason)
        self.undo.setVisible(can_undo)
        self.free_all.setVisible(has_pins)
