"""An export under way: its processes one after the other, stopped and taken up again."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from dataclasses import dataclass
from typing import Literal

from PyQt6.QtCore import QObject, QProcess, QTimer, pyqtSignal

from syncview.desk.export.orders import Order, Run, runs_of, to_go_on, words_of
from syncview.desk.export.time_left import Watch
from syncview.desk.export.worker_words import STOPPED, WorkerWords, written_of

NICENESS = 10
"""Workers give way to the window where the system knows how."""
STOP_PATIENCE_MS = 15_000
"""A worker that does not stop when it is asked is ended after this."""
CLOSE_PATIENCE_MS = 5_000


@dataclass(frozen=True, slots=True)
class Ended:
    """How an export ended."""

    kind: Literal["done", "stopped", "fault"]
    problem: str = ""
    """Whole sentences, with the remedy where the worker gave one."""
    can_go_on: bool = False


class ExportJob(QObject):
    """Makes the products of one `Order` at a time."""

    progressed = pyqtSignal(float, str)
    """Share of the whole order, and what is being done."""
    wrote = pyqtSignal(object)
    """`Written`: what one process wrote."""
    ended = pyqtSignal(object)
    """`Ended`."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._order: Order | None = None
        self._runs: tuple[Run, ...] = ()
        self._at = 0
        self._process: QProcess | None = None
        self._words = WorkerWords()
        self._stopping = False
        self._share = 0.0
        self._watch = Watch(0.0)
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.setInterval(STOP_PATIENCE_MS)
        self._patience.timeout.connect(self._end_it)

    @property
    def is_running(self) -> bool:
        """Whether a process is at work."""
        return self._process is not None

    @property
    def is_stopping(self) -> bool:
        """Whether it was asked to stop."""
        return self._stopping

    @property
    def process_id(self) -> int | None:
        """Of the process at work."""
        return None if self._process is None else self._process.processId()

    @property
    def order(self) -> Order | None:
        """What was ordered last."""
        return self._order

    @property
    def left_s(self) -> float | None:
        """Seconds that are left; None when it is too early to say."""
        return self._watch.left_s(time.monotonic(), self._share)

    def start(self, order: Order) -> None:
        """Begin; ValueError while another is under way or for no product."""
        if self._process is not None:
            raise ValueError("an export is under way")
        self._order, self._runs, self._at = order, runs_of(order.products), 0
        if not self._runs:
            raise ValueError("nothing is to be exported")
        self._share = 0.0
        self._watch = Watch(time.monotonic())
        self._start_run(order)

    def go_on(self) -> None:
        """Take up what was broken off, with the product that is missing."""
        if self._process is not None or self._order is None or self._at >= len(self._runs):
            return
        self._share = self._done_share(0.0)
        self._watch = Watch(time.monotonic(), self._share)
        self._start_run(to_go_on(self._order))

    def _start_run(self, order: Order) -> None:
        self._words, self._stopping = WorkerWords(), False
        process = QProcess(self)
        process.setProgram(sys.executable)
        process.setArguments(["-m", "syncview", *words_of(order, self._runs[self._at])])
        process.started.connect(self._give_way)
        process.readyReadStandardError.connect(self._hear)
        process.finished.connect(self._finished)
        process.errorOccurred.connect(self._could_not_start)
        self._process = process
        process.start()

    def _give_way(self) -> None:
        if self._process is not None and hasattr(os, "setpriority"):
            with contextlib.suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, self._process.processId(), NICENESS)

    def _done_share(self, share_of_run: float) -> float:
        whole = sum(run.share for run in self._runs)
        before = sum(run.share for run in self._runs[: self._at])
        return (before + share_of_run * self._runs[self._at].share) / whole

    def _hear(self) -> None:
        if self._process is None:
            return
        reported = self._words.feed(bytes(self._process.readAllStandardError().data()))
        if reported is not None:
            self._share = max(self._share, self._done_share(reported.share))
            self.progressed.emit(self._share, reported.what)

    def stop(self) -> None:
        """Stop at the next report; nothing half-written is left."""
        if self._process is None or self._stopping:
            return
        self._stopping = True
        self._process.write(b"stop\n")
        self._patience.start()

    def _end_it(self) -> None:
        if self._process is not None:
            self._process.kill()

    def _could_not_start(self, error: QProcess.ProcessError) -> None:
        if error == QProcess.ProcessError.FailedToStart:
            why = "" if self._process is None else self._process.errorString()
            self._leave()
            self.ended.emit(Ended("fault", self.tr("The work could not be started (%s).") % why, can_go_on=True))

    def _finished(self, code: int, status: QProcess.ExitStatus) -> None:
        process = self._process
        if process is None:
            return
        self._hear()
        self._words.end()
        crashed = status == QProcess.ExitStatus.CrashExit
        written = None if crashed or code else written_of(bytes(process.readAllStandardOutput().data()))
        stopping, self._stopping = self._stopping, False
        self._leave()
        if written is not None:
            self.wrote.emit(written)
            self._at += 1
        if stopping and self._at < len(self._runs):
            self._at = len(self._runs)
            self.ended.emit(Ended("stopped"))
        elif written is not None:
            self._next()
        else:
            self.ended.emit(self._fault(code, crashed=crashed))

    def _next(self) -> None:
        assert self._order is not None
        if self._at < len(self._runs):
            self._share = self._done_share(0.0)
            self._start_run(self._order)
        else:
            self._share = 1.0
            self.ended.emit(Ended("done"))

    def _leave(self) -> None:
        self._patience.stop()
        if self._process is not None:
            self._process.deleteLater()
            self._process = None

    def _fault(self, code: int, *, crashed: bool) -> Ended:
        if self._words.faults and not crashed:
            return Ended("fault", " ".join(self._words.faults), can_go_on=code != STOPPED)
        last = self._words.last_lines[-1] if self._words.last_lines and not crashed else ""
        why = f" ({last})" if last else ""
        words = self.tr("The work ended before it was done%s: it was ended from outside, or memory ran out.") % why
        remedy = self.tr("Go on: what is finished is kept, and the lesson's film goes on where it was.")
        return Ended("fault", f"{words} {remedy}", can_go_on=True)

    def close(self) -> None:
        """Stop and wait: for a window that closes."""
        process = self._process
        if process is None:
            return
        self.stop()
        if not process.waitForFinished(CLOSE_PATIENCE_MS):
            process.kill()
            process.waitForFinished(CLOSE_PATIENCE_MS)
