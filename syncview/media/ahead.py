"""Makes pictures in a thread of their own while the one before is being coded."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator, Iterator
from typing import TypeVar

T = TypeVar("T")

_DEPTH = 4
"""Pictures that may wait; a few even out pictures that take longer, and cost a few megabytes each."""
_LOOK_S = 0.05


class _End:
    """What comes after the last item: nothing, or what went wrong."""

    def __init__(self, fault: BaseException | None) -> None:
        self.fault = fault


def made_ahead(items: Iterator[T], *, depth: int = _DEPTH) -> Generator[T]:
    """The items in order, made up to `depth` ahead in a thread that ends with the generator: close it after use.

    Whatever making raises is raised here, after the items that were made before it. `items` is only used by that
    thread, from first to last, and closed there.
    """
    waiting: queue.Queue[T | _End] = queue.Queue(depth)
    stopped = threading.Event()

    def put(item: T | _End) -> bool:
        while not stopped.is_set():
            try:
                waiting.put(item, timeout=_LOOK_S)
            except queue.Full:
                continue
            return True
        return False

    def make() -> None:
        fault: BaseException | None = None
        try:
            for item in items:
                if not put(item):
                    break
        except BaseException as error:  # noqa: BLE001 - raised again where the items are used
            fault = error
        finally:
            close = getattr(items, "close", None)
            if close is not None:
                close()
        put(_End(fault))

    thread = threading.Thread(target=make, name="pictures ahead", daemon=True)
    thread.start()
    try:
        while True:
            item = waiting.get()
            if isinstance(item, _End):
                if item.fault is not None:
                    raise item.fault
                return
            yield item
    finally:
        stopped.set()
        thread.join()
