"""The program's side of the background process that makes small pictures: what is made, what is wanted next."""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
import threading
from typing import TYPE_CHECKING

from syncview.errors import MediaError, SyncviewError
from syncview.media.scrub.media_fault import fault_of
from syncview.media.scrub.pictures import small_size
from syncview.media.scrub.proxy_file import identity_of
from syncview.media.scrub.proxy_orders import Again, Made, Near, Order, Report, WorkOrder
from syncview.media.scrub.proxy_plan import plan_of
from syncview.media.scrub.proxy_shelf import ProxyShelf
from syncview.media_file import fingerprint

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from syncview.media.recording import Recording

_MOST_DEATHS = 3
_ENDS_WITHIN_S = 1.0
_MODULE = "syncview.media.scrub.proxy_process"


class ProxyBuilder:
    """Runs the process and knows what it made; any thread may use it. `start` begins, `close` ends and joins all."""

    def __init__(
        self, recording: Recording, folder: Path, budget_bytes: int, *, on_fault: Callable[[SyncviewError], None]
    ) -> None:
        self.plan = plan_of(recording.frames)
        self.identity = b""
        """Of the files; empty until the recording's fingerprint is known."""
        self._recording = recording
        self._folder = folder
        self._budget_bytes = budget_bytes
        self._on_fault = on_fault
        self._shelf: ProxyShelf | None = None
        self._made: frozenset[str] = frozenset()
        self._near = 0
        self._process: subprocess.Popen[bytes] | None = None
        self._is_listening = False
        """True once the process has its work order: before that, writing to it may take as long as it starts."""
        self._lock = threading.Lock()
        self._is_closing = False
        self._thread = threading.Thread(target=self._run, name="small pictures")

    def start(self) -> None:
        """Begin to make what is missing."""
        self._thread.start()

    def close(self) -> None:
        """End the process and wait for it."""
        with self._lock:
            self._is_closing = True
            if self._process is not None and self._process.stdin is not None:
                with contextlib.suppress(OSError):
                    self._process.stdin.close() if self._is_listening else self._process.kill()
        if self._thread.ident is not None:
            self._thread.join(_ENDS_WITHIN_S)
            with self._lock:
                if self._process is not None and self._process.poll() is None:
                    self._process.kill()
            self._thread.join()

    @property
    def made(self) -> frozenset[str]:
        """Names of the files that are there."""
        return self._made

    @property
    def share(self) -> float:
        """How much of the recording has small pictures of all its frames, 0 to 1."""
        done = sum(chunk.end - chunk.begin for chunk in self.plan.frames if chunk.name in self._made)
        return done / len(self._recording.frames)

    def is_made(self, name: str) -> bool:
        """True when the file is there, as far as is known."""
        return name in self._made

    def has_frame(self, number: int) -> bool:
        """True when the small picture of a frame is there, as far as is known."""
        return self.plan.chunk_of(number).name in self._made

    def path(self, name: str) -> Path:
        """Where a made file is."""
        assert self._shelf is not None  # nothing is made before there is a shelf
        return self._shelf.path(name)

    def touch(self, name: str) -> None:
        """Count a made file as used now."""
        if self._shelf is not None:
            self._shelf.touch(name)

    def near(self, number: int) -> None:
        """Tell where the playhead is: what lies around it is made first."""
        if self.plan.chunk_of(number) is self.plan.chunk_of(self._near):
            return
        self._near = number
        self._send(Near(number))

    def make_again(self, name: str) -> None:
        """A file is gone or torn."""
        self._made -= {name}
        if self._shelf is not None:
            self._shelf.remove(name)
        self._send(Again(name))

    def _send(self, order: Order) -> None:
        with self._lock:
            if self._process is None or self._process.stdin is None or self._is_closing or not self._is_listening:
                return
            with contextlib.suppress(OSError, ValueError):  # it died, which `_work` sees
                pickle.dump(order, self._process.stdin)
                self._process.stdin.flush()

    def _give_order(self, process: subprocess.Popen[bytes]) -> None:
        """Write the work order, which is long: the process reads it when it has started."""
        assert process.stdin is not None
        near = self._near
        order = WorkOrder(self._recording, self.identity, self._folder, self._budget_bytes, near)
        with contextlib.suppress(OSError, ValueError):
            pickle.dump(order, process.stdin)
            process.stdin.flush()
        with self._lock:
            self._is_listening = True
            if self._is_closing:
                with contextlib.suppress(OSError):
                    process.stdin.close()
        if self._near != near:
            self._send(Near(self._near))

    def _run(self) -> None:
        try:
            mark = fingerprint(self._recording.path)[1]
        except OSError as error:
            self._on_fault(fault_of(self._recording, error))
            return
        size = small_size(self._recording.display_width, self._recording.display_height)
        self.identity = identity_of(mark, size)
        self._shelf = ProxyShelf(self._folder, self._budget_bytes, self.identity)
        self._made = frozenset(self._shelf.names())
        for _ in range(_MOST_DEATHS):
            if self._work():
                return
        self._on_fault(
            MediaError(
                "small pictures for quick scrubbing cannot be made: the process that makes them keeps ending",
                "Scrubbing goes on without them, more slowly; restart the program to try again.",
                where=self._recording.path,
            )
        )

    def _work(self) -> bool:
        """Run one process to its end; False when it died without having been told to end."""
        with self._lock:
            if self._is_closing:
                return True
            self._process = process = _started()
            self._is_listening = False
        is_over = False
        with process:
            assert process.stdout is not None
            self._give_order(process)
            with contextlib.suppress(EOFError, OSError, pickle.UnpicklingError):
                while not is_over:
                    is_over = self._heard(pickle.load(process.stdout))
            with self._lock:
                self._process = None
            if process.stdin is not None:
                with contextlib.suppress(OSError):
                    process.stdin.close()
            if not is_over and not self._is_closing:
                process.kill()
        return is_over or self._is_closing

    def _heard(self, report: Report) -> bool:
        """Take in a report; True when it is the last."""
        if isinstance(report, Made):
            self._made = frozenset(report.names)
            return False
        self._on_fault(report.fault)
        return True


def _started() -> subprocess.Popen[bytes]:
    # The child finds the same packages as this program, and nothing by chance in the folder it is started from.
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}
    return subprocess.Popen(
        [sys.executable, "-P", "-m", _MODULE],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
    )
