"""Undo and redo: every change of the project is one command that holds the project before and after it.

Projects are immutable and share what did not change, so a command costs no more than what it changed.
"""

from __future__ import annotations

import time
import zlib
from collections.abc import Callable
from typing import TYPE_CHECKING

from PyQt6.QtGui import QUndoCommand, QUndoStack

if TYPE_CHECKING:
    from syncview.project import Project

MERGED_WITHIN_S = 2.0
"""Typing without a longer break than this is undone as one."""
MOST_STEPS = 500


class ProjectEdit(QUndoCommand):
    """One change of the project."""

    def __init__(
        self, words: str, before: Project, after: Project, *, apply: Callable[[Project], None], merge: str
    ) -> None:
        super().__init__(words)
        self._before, self._after, self._apply = before, after, apply
        self._merge = merge
        self._made_s = time.monotonic()

    def redo(self) -> None:
        """Make the change."""
        self._apply(self._after)

    def undo(self) -> None:
        """Take it back."""
        self._apply(self._before)

    def id(self) -> int:
        """Equal for changes that may be undone as one; -1 for one that stands alone."""
        return zlib.crc32(self._merge.encode()) & 0x7FFF_FFFF if self._merge else -1

    def mergeWith(self, other: QUndoCommand | None) -> bool:  # noqa: N802 (Qt's name)
        """Take up a later change of the same kind that follows at once."""
        if not isinstance(other, ProjectEdit) or other._merge != self._merge:
            return False
        if other._made_s - self._made_s > MERGED_WITHIN_S:
            return False
        self._after, self._made_s = other._after, other._made_s
        self.setText(other.text())
        return True


def new_stack() -> QUndoStack:
    """An empty history."""
    stack = QUndoStack()
    stack.setUndoLimit(MOST_STEPS)
    return stack
