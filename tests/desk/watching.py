"""A heartbeat on the main thread that measures how long it was kept from beating by work of its own."""

from __future__ import annotations

import faulthandler
import tempfile
import threading
import time

from PyQt6.QtCore import QObject, QTimer

BLOCKED_MS = 50.0
_LOOK_EVERY_S = 0.005


class Watchdog(QObject):
    """Measures the longest stretch of processor time that the main thread spent between two heartbeats.

    Processor time of this thread, not time on the wall: other programs on a shared machine must not fail a test. What
    it cannot see is a main thread that sleeps or waits for another; `longest_wait_ms` tells that beside it.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.longest_ms = 0.0
        self.longest_wait_ms = 0.0
        self.where = ""
        """What the main thread was doing late in the longest stretch, where it was caught at it."""
        self.beats = 0
        self._main = threading.get_ident()
        self._cpu_s, self._wall_s = time.thread_time(), time.monotonic()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._beat)
        self._timer.start(0)
        self._stop = threading.Event()
        self._onlooker = threading.Thread(target=self._look_on, name="watchdog")
        self._onlooker.start()

    def _beat(self) -> None:
        cpu_s, wall_s = time.thread_time(), time.monotonic()
        self.longest_ms = max(self.longest_ms, (cpu_s - self._cpu_s) * 1000)
        self.longest_wait_ms = max(self.longest_wait_ms, (wall_s - self._wall_s) * 1000)
        self._cpu_s, self._wall_s = cpu_s, wall_s
        self.beats += 1

    def _look_on(self) -> None:
        """Note where the main thread is when it has been busy for long."""
        clock = time.pthread_getcpuclockid(self._main)
        worst_ms = BLOCKED_MS * 0.6
        while not self._stop.wait(_LOOK_EVERY_S):
            busy_ms = (time.clock_gettime(clock) - self._cpu_s) * 1000
            if busy_ms > worst_ms:
                worst_ms = busy_ms
                self.where = _stack_of(self._main)

    def start_over(self) -> None:
        """Forget what was measured."""
        self.longest_ms = self.longest_wait_ms = 0.0
        self.where = ""
        self._cpu_s, self._wall_s = time.thread_time(), time.monotonic()

    def stop(self) -> None:
        """No more heartbeats."""
        self._timer.stop()
        self._stop.set()
        self._onlooker.join()


def _stack_of(thread: int) -> str:
    """Where a thread is, without taking hold of its frames: a painter in one of them would outlive its event."""
    with tempfile.TemporaryFile("w+") as told:
        faulthandler.dump_traceback(told, all_threads=True)
        told.seek(0)
        for part in told.read().split("\n\n"):
            if f"0x{thread:016x}" in part:
                return "\n".join(part.splitlines()[:12])
    return ""
