"""What holds for every test."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import pytest
from hypothesis import settings

# A shared machine may stall any single example; the suite's own timeout catches what hangs.
settings.register_profile("shared", deadline=None)
settings.load_profile("shared")

THREADS_END_WITHIN_S = 2.0


@pytest.fixture(autouse=True)
def no_thread_is_left() -> Iterator[None]:
    """A test that leaves a thread running fails."""
    before = set(threading.enumerate())
    yield
    end = time.monotonic() + THREADS_END_WITHIN_S
    while (left := set(threading.enumerate()) - before) and time.monotonic() < end:
        time.sleep(0.01)
    assert not left, f"threads left running: {sorted(thread.name for thread in left)}"
