"""Plays the lesson without making it: a clock that tells which moment of the lesson is to be shown."""

from __future__ import annotations

import time
from fractions import Fraction

from PyQt6.QtCore import QObject, Qt, QTimer, pyqtSignal

from syncview.desk.plan.running import Running

EVERY_MS = 16
"""About once each picture of a display."""


class Preview(QObject):
    """Runs in real time from a moment of the lesson to its end."""

    moved = pyqtSignal(object)
    """Lesson time (Fraction) to show now."""
    changed = pyqtSignal(bool)
    """It began or ended."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: Running | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(EVERY_MS)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.timeout.connect(self.run_on)

    @property
    def is_running(self) -> bool:
        """Whether it plays."""
        return self._running is not None

    def start(self, lesson_s: Fraction, length_s: Fraction) -> None:
        """Play from a moment; while it plays, go on from there."""
        was_running = self.is_running
        self._running = Running(lesson_s, time.monotonic(), length_s)
        if not was_running:
            self._timer.start()
            self.changed.emit(True)

    def run_on(self) -> None:
        """Tell the moment that is due."""
        if self._running is None:
            return
        now_s = time.monotonic()
        self.moved.emit(self._running.lesson_s(now_s))
        if self._running is not None and self._running.is_over(now_s):
            self.stop()

    def stop(self) -> None:
        """Stay where it is."""
        if self._running is not None:
            self._running = None
            self._timer.stop()
            self.changed.emit(False)
