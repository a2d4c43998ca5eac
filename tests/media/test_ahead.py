"""Items made in another thread: the same ones, the same faults, nothing left running."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import closing

import pytest

from syncview.media.ahead import made_ahead


def numbers(count: int, *, fault: BaseException | None = None, closed: list[str] | None = None) -> Iterator[int]:
    try:
        yield from range(count)
        if fault is not None:
            raise fault
    finally:
        if closed is not None:
            closed.append(threading.current_thread().name)


@pytest.mark.parametrize("count", [0, 1, 3, 100])
@pytest.mark.parametrize("depth", [1, 4])
def test_all_items_come_in_order(count: int, depth: int) -> None:
    assert list(made_ahead(numbers(count), depth=depth)) == list(range(count))


def test_a_fault_comes_after_the_items_before_it() -> None:
    seen: list[int] = []
    with pytest.raises(ZeroDivisionError, match="here"):
        seen.extend(made_ahead(numbers(7, fault=ZeroDivisionError("here"))))
    assert seen == list(range(7))


def test_leaving_early_ends_the_thread_and_closes_the_source_in_it() -> None:
    closed: list[str] = []
    with closing(made_ahead(numbers(10**9, closed=closed))) as made:
        assert next(made) == 0
    assert closed == ["pictures ahead"]
    assert not any(thread.name == "pictures ahead" for thread in threading.enumerate())


def test_no_more_than_asked_is_made_ahead() -> None:
    made_numbers: list[int] = []

    def watched() -> Iterator[int]:
        for number in range(50):
            made_numbers.append(number)
            yield number

    with closing(made_ahead(watched(), depth=2)) as made:
        next(made)
        threading.Event().wait(0.3)
        assert len(made_numbers) <= 5  # one used, two waiting, one in hand, one to spare
