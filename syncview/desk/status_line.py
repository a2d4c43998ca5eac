"""The line below: what is under way, how far, and that the work is saved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtWidgets import QLabel, QProgressBar, QStatusBar, QToolButton, QWidget

if TYPE_CHECKING:
    from syncview.desk.state import DeskState


class StatusLine(QStatusBar):
    """Busy words, progress and a way to stop on the left; the saved state on the right."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self.setAccessibleName(self.tr("Status"))
        self._words = QLabel()
        self._bar = QProgressBar()
        self._bar.setRange(0, 1000)
        self._bar.setFixedWidth(180)
        self._bar.setAccessibleName(self.tr("Progress"))
        self._stop = QToolButton()
        self._stop.setText(self.tr("Stop"))
        self._stop.setToolTip(self.tr("Stop the work under way; nothing half-made is kept"))
        self._stop.clicked.connect(self._cancel)
        self._saved = QLabel()
        for part in (self._words, self._bar, self._stop):
            self.addWidget(part)
        self.addPermanentWidget(self._saved)
        state.busyChanged.connect(self.show_busy)
        self.show_busy("", 1.0)

    def show_busy(self, what: str, share: float) -> None:
        """What is being done; nothing for an empty text."""
        self._words.setText(what)
        self._bar.setVisible(bool(what))
        self._stop.setVisible(bool(what))
        if what:
            # A task that has not reported yet shows a moving bar instead of a share that would be invented.
            self._bar.setRange(0, 1000 if share > 0 else 0)
            self._bar.setValue(round(share * 1000))

    def show_saved(self, at: str) -> None:
        """The time of the last save."""
        self._saved.setText(self.tr("Saved %s") % at)

    def show_unsaved(self) -> None:
        """Changes wait to be saved."""
        self._saved.setText(self.tr("Not saved"))

    def clear_saved(self) -> None:
        """No project."""
        self._saved.clear()

    def _cancel(self) -> None:
        for work in self._state.work.under_way:
            if work.what:
                work.cancel()
