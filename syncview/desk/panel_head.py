"""The heading of a panel: its name, and buttons to float and to hide it."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QDockWidget, QHBoxLayout, QLabel, QToolButton, QWidget


class PanelHead(QWidget):
    """Dragging it moves the panel, as with any heading of a dock."""

    def __init__(self, dock: QDockWidget) -> None:
        super().__init__(dock)
        self.setObjectName("panelHead")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        name = QLabel(dock.windowTitle())
        float_it = QToolButton()
        float_it.setText("□")
        float_it.setToolTip(self.tr("In a window of its own, or back"))
        float_it.clicked.connect(lambda: dock.setFloating(not dock.isFloating()))
        hide_it = QToolButton()
        hide_it.setText("×")
        hide_it.setToolTip(self.tr("Hide this panel; the View menu shows it again"))
        hide_it.clicked.connect(dock.close)
        for button in (float_it, hide_it):
            button.setAccessibleName(f"{dock.windowTitle()}: {button.toolTip()}")
        row = QHBoxLayout(self)
        row.setContentsMargins(9, 2, 4, 2)
        row.setSpacing(2)
        row.addWidget(name, 1)
        row.addWidget(float_it)
        row.addWidget(hide_it)
