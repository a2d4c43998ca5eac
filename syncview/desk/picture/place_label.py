"""Where the playhead is, in as many words as there is room for."""

from __future__ import annotations

from PyQt6.QtCore import QSize, Qt
from PyQt6.QtGui import QPaintEvent
from PyQt6.QtWidgets import QLabel, QSizePolicy, QWidget

_BETWEEN = "  ·  "


class PlaceLabel(QLabel):
    """Shows the first of its parts that fit, never half of one; its tool tip and its text have all."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._parts: tuple[str, ...] = ()
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)

    def show_parts(self, parts: tuple[str, ...]) -> None:
        """The most needed first."""
        if parts != self._parts:
            self._parts = parts
            self.setToolTip(_BETWEEN.join(parts))
            self._choose()

    def _choose(self) -> None:
        metrics = self.fontMetrics()
        shown = self._parts
        while len(shown) > 1 and metrics.horizontalAdvance(_BETWEEN.join(shown)) > self.width():
            shown = shown[:-1]
        words = _BETWEEN.join(shown)
        if words != self.text():
            self.setText(words)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Room for the first part."""
        first = self._parts[0] if self._parts else ""
        return QSize(self.fontMetrics().horizontalAdvance(first) + 4, super().minimumSizeHint().height())

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Room for all."""
        return QSize(self.fontMetrics().horizontalAdvance(_BETWEEN.join(self._parts)) + 4, super().sizeHint().height())

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """What fits by now."""
        self._choose()
        super().paintEvent(event)
