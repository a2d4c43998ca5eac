"""Python's search for circular garbage, kept from stopping the window.

A full search walks every object there is: 100 ms and more once the scientific libraries are loaded, at a moment of
Python's choosing, on whichever thread. While the window is open it is made in small pieces instead, and what is loaded
for good is taken out of it.
"""

from __future__ import annotations

import gc
import sys
import time

from PyQt6.QtCore import QObject, QTimer

EVERY_MS = 1000
FULL_EVERY = 30
"""Every so many pieces, all that was not taken out is searched."""
LONG_S = 0.010
"""A search that took longer than this found mostly what stays; that is taken out of the next one."""
MANY_MODULES = 10


class QuietCollector(QObject):
    """Searches from a timer on the main thread instead of whenever Python likes."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._was_on = gc.isenabled()
        self._modules = len(sys.modules)
        self._pieces = 0
        gc.disable()
        gc.freeze()
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.search)
        self._timer.start(EVERY_MS)

    def search(self) -> None:
        """One piece."""
        if len(sys.modules) - self._modules >= MANY_MODULES:
            self._modules = len(sys.modules)
            gc.freeze()  # modules stay until the end
            return
        self._pieces += 1
        begin_s = time.thread_time()
        gc.collect(2 if self._pieces % FULL_EVERY == 0 else 1)
        if time.thread_time() - begin_s > LONG_S:
            gc.freeze()

    def release(self) -> None:
        """As it was before."""
        self._timer.stop()
        if self._was_on:
            gc.unfreeze()
            gc.enable()
            self._was_on = False
