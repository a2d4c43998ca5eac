"""Work beside the window: tasks run in threads, their results arrive on the main thread, none outlives the window."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, TypeVar

from PyQt6.QtCore import QObject, pyqtSignal

from syncview.errors import Cancelled, SyncviewError, describe_os_error
from syncview.progress import Progress

T = TypeVar("T")

MOST_THREADS = 4
REPORT_EVERY_S = 0.05
"""Progress is shown no more often than this, however often a task reports it."""


class Work:
    """One task under way."""

    def __init__(self, what: str, works: Works) -> None:
        self.what = what
        """What is being done, in words for the status line; empty for work that nobody needs to be told of."""
        self.share = 0.0
        self.step = what
        self.thread: threading.Thread | None = None
        self._works = works
        self._stop = threading.Event()
        self._told_s = 0.0

    @property
    def cancelled(self) -> bool:
        """Whether it was told to stop; neither `done` nor `failed` is called from then on."""
        return self._stop.is_set()

    def cancel(self) -> None:
        """Stop at the task's next report of progress; its result is dropped in any case."""
        self._stop.set()

    def report(self, share: float, what: str) -> None:
        """The task's `Progress`: raises `Cancelled` once it was told to stop."""
        if self._stop.is_set():
            raise Cancelled
        self.share, self.step = share, what or self.what
        now_s = time.monotonic()
        if now_s - self._told_s >= REPORT_EVERY_S:
            self._told_s = now_s
            self._works.reported.emit(self)


class Works(QObject):
    """All tasks of a window. Lives on the main thread."""

    changed = pyqtSignal()
    """A task began, reported or ended."""
    reported = pyqtSignal(object)
    _ended = pyqtSignal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._under_way: list[Work] = []
        self._waiting: deque[threading.Thread] = deque()
        self._threads: list[threading.Thread] = []
        self._closed = False
        self._ended.connect(self._deliver)
        self.reported.connect(self._pass_on)

    def _pass_on(self, _work: Work) -> None:
        self.changed.emit()

    @property
    def under_way(self) -> tuple[Work, ...]:
        """Tasks that have not ended, the oldest first."""
        return tuple(self._under_way)

    def run(
        self,
        task: Callable[[Progress], T],
        *,
        done: Callable[[T], None],
        failed: Callable[[SyncviewError], None],
        what: str = "",
    ) -> Work:
        """Run `task` in a thread; then, on the main thread, `done` with its result or `failed` with its fault.

        A fault that is no `SyncviewError` is made one that names its kind. Neither is called after `cancel()`.
        """
        work = Work(what, self)
        if self._closed:
            work.cancel()
            return work
        self._under_way.append(work)
        name = what or getattr(task, "__qualname__", "task")
        work.thread = threading.Thread(target=self._perform, args=(work, task, done, failed), name=name)
        self._waiting.append(work.thread)
        self._start_waiting()
        self.changed.emit()
        return work

    def _start_waiting(self) -> None:
        self._threads = [thread for thread in self._threads if thread.is_alive()]
        while self._waiting and len(self._threads) < MOST_THREADS:
            self._threads.append(self._waiting.popleft())
            self._threads[-1].start()

    def _perform(
        self, work: Work, task: Callable[[Progress], Any], done: Callable[[Any], None],
        failed: Callable[[SyncviewError], None],
    ) -> None:  # fmt: skip
        """In the thread."""
        answer: Callable[[], None]
        try:
            work.report(0.0, work.what)
            result = task(work.report)
        except Cancelled:
            work.cancel()
            answer = _nothing
        except Exception as error:  # noqa: BLE001 (whatever it is, it is told where the work was asked for)
            fault = as_fault(error, work.what)
            answer = lambda: failed(fault)  # noqa: E731
        else:
            answer = lambda: done(result)  # noqa: E731
        self._ended.emit(work, answer)

    def _deliver(self, work: Work, answer: Callable[[], None]) -> None:
        """On the main thread."""
        if work.thread is not None:
            work.thread.join()  # it has nothing left to do but to end
        if work in self._under_way:
            self._under_way.remove(work)
        self._start_waiting()
        self.changed.emit()
        if not work.cancelled and not self._closed:
            answer()

    def cancel_all(self) -> None:
        """Stop everything that can be stopped."""
        for work in self._under_way:
            work.cancel()

    def close(self, *, patience_s: float = 10.0) -> bool:
        """Stop all tasks and wait for their threads; False when one did not end in time."""
        self._closed = True
        self.cancel_all()
        self._waiting.clear()
        end_s = time.monotonic() + patience_s
        for thread in self._threads:
            thread.join(max(0.0, end_s - time.monotonic()))
        return not any(thread.is_alive() for thread in self._threads)


def _nothing() -> None:
    pass


def as_fault(error: BaseException, what: str = "") -> SyncviewError:
    """Any fault as one with a problem and a remedy."""
    from syncview_codecs.errors import CodecError

    if isinstance(error, SyncviewError):
        return error
    if isinstance(error, CodecError):
        place = f"{error.name}, line {error.line}" if error.line else error.name
        return SyncviewError(error.problem, error.remedy, where=place or what)
    if isinstance(error, MemoryError):
        return SyncviewError("there is not enough memory", "Close other programs and try again.", where=what)
    if isinstance(error, OSError):
        where = str(error.filename or what)
        return SyncviewError(describe_os_error(error), "Check that the file is there and may be used.", where=where)
    last = error.__traceback__
    while last is not None and last.tb_next is not None:
        last = last.tb_next
    place = f" in {last.tb_frame.f_globals.get('__name__', '?')}, line {last.tb_lineno}" if last is not None else ""
    return SyncviewError(
        f"this is a fault of the program ({type(error).__name__}: {error}{place})",
        "Your notes are saved. Please report this sentence with what you did.",
        where=what,
    )


class Newest:
    """Of several askings for the same thing only the last is answered."""

    def __init__(self, works: Works, failed: Callable[[SyncviewError], None]) -> None:
        self._works, self._failed = works, failed
        self._last: Work | None = None

    def ask(self, task: Callable[[Progress], T], done: Callable[[T], None], *, what: str = "") -> None:
        """Run `task`; an earlier one is stopped and its answer dropped."""
        self.drop()
        self._last = self._works.run(task, done=done, failed=self._failed, what=what)

    def drop(self) -> None:
        """Ask for nothing any more."""
        if self._last is not None:
            self._last.cancel()
            self._last = None

    @property
    def is_asking(self) -> bool:
        """Whether an answer is to come."""
        return self._last is not None and self._last in self._works.under_way and not self._last.cancelled
