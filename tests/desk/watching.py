"""A heartbeat on the main thread that measures how long it was kept from beating by work of its own."""

from __future__ import annotations

import time

from PyQt6.QtCore import QObject, QTimer

BLOCKED_MS = 50.0


class Watchdog(QObject):
    """Measures the longest stretch of processor time that the main thread spent between two heartbeats.

    Processor time of this thread, not time on the wall: other programs on a shared machine must not fail a test. What
    it cannot see is a main thread that sleeps or waits for another; `longest_wait_ms` tells that beside it.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.longest_ms = 0.0
        self.longest_wait_ms = 0.0
        self.beats = 0
        self._cpu_s, self._wall_s = time.thread_time(), time.monotonic()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._beat)
        self._timer.start(0)

    def _beat(self) -> None:
        cpu_s, wall_s = time.thread_time(), time.monotonic()
        self.longest_ms = max(self.longest_ms, (cpu_s - self._cpu_s) * 1000)
        self.longest_wait_ms = max(self.longest_wait_ms, (wall_s - self._wall_s) * 1000)
        self._cpu_s, self._wall_s = cpu_s, wall_s
        self.beats += 1

    def start_over(self) -> None:
        """Forget what was measured."""
        self.longest_ms = self.longest_wait_ms = 0.0
        self._cpu_s, self._wall_s = time.thread_time(), time.monotonic()

    def stop(self) -> None:
        """No more heartbeats."""
        self._timer.stop()
