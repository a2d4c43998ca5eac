"""Progress for other programs: JSON lines on standard error, and a word on standard input that stops the work.

Each line is one object, `{"share": 0.25, "what": "writing the lesson's pictures"}`: the share done (0 to 1) and what is
being done. A line `stop` on standard input ends the work at its next report, with nothing half-written (exit code 130);
the end of standard input does not.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time

from syncview.errors import Cancelled

LEAST_STEP_S = 0.1
"""Lines about the same thing come no faster than this."""
STOP = b"stop"


class ProgressLines:
    """A reporter; `report` is the `Progress`."""

    def __init__(self, stop_fd: int | None = 0) -> None:
        """`stop_fd` is where the word to stop comes from; None for nowhere."""
        self._told_s = float("-inf")
        self._what = ""
        self._stop = threading.Event()
        if stop_fd is not None:
            # Read below Python's buffers: a thread that waits in them would break the interpreter's shutdown.
            threading.Thread(target=self._listen, args=(stop_fd,), name="word to stop", daemon=True).start()

    def _listen(self, stop_fd: int) -> None:
        heard = b""
        while True:
            try:
                part = os.read(stop_fd, 4096)
            except OSError:
                return
            if not part:
                return
            *lines, heard = (heard + part).split(b"\n")
            if any(line.strip() == STOP for line in lines):
                self._stop.set()
                return

    def report(self, share: float, what: str) -> None:
        """Tell how far the work is; raises `Cancelled` once it is to stop."""
        if self._stop.is_set():
            raise Cancelled
        now_s = time.monotonic()
        if what == self._what and now_s - self._told_s < LEAST_STEP_S and share < 1.0:
            return
        self._told_s, self._what = now_s, what
        print(json.dumps({"share": round(share, 5), "what": what}, ensure_ascii=False), file=sys.stderr, flush=True)
