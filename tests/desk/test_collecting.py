"""Circular garbage goes, but not at the cost of the window."""

from __future__ import annotations

import gc
import weakref
from typing import TYPE_CHECKING

from syncview.desk.collecting import FULL_EVERY, QuietCollector

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QApplication


class Ring:
    """Refers to itself."""

    def __init__(self) -> None:
        self.me = self


def test_rings_are_found_and_the_collector_is_put_back(qapp: QApplication) -> None:
    assert qapp is not None
    assert gc.isenabled()
    collector = QuietCollector()
    try:
        assert not gc.isenabled()
        seen = weakref.ref(Ring())
        assert seen() is not None
        for _piece in range(FULL_EVERY):
            collector.search()
        assert seen() is None
    finally:
        collector.release()
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0
