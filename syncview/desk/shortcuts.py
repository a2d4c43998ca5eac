"""Keys of the desk: collected from what is really bound, so that the list shown by F1 cannot go stale."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QAction, QKeySequence, QShortcut
from PyQt6.QtWidgets import QDialog, QDialogButtonBox, QLineEdit, QTreeWidget, QTreeWidgetItem, QVBoxLayout

if TYPE_CHECKING:
    from collections.abc import Callable

    from PyQt6.QtWidgets import QWidget


@dataclass(frozen=True, slots=True)
class Key:
    """A key and what it does."""

    group: str
    keys: str
    words: str


def bind(
    widget: QWidget, keys: str, words: str, slot: Callable[[], object], *, anywhere: bool = True
) -> QShortcut:  # fmt: skip
    """Bind a key and tell the list of keys about it. `anywhere` in the window, or only where `widget` has the focus.

    Text fields keep their own typing: a bare letter goes to the field that is being typed in.
    """
    shortcut = QShortcut(QKeySequence(keys), widget)
    shortcut.setContext(
        Qt.ShortcutContext.WindowShortcut if anywhere else Qt.ShortcutContext.WidgetWithChildrenShortcut
    )
    shortcut.setWhatsThis(words)
    shortcut.activated.connect(slot)
    return shortcut


def keys_of(widget: QWidget, group: str = "") -> Iterator[Key]:
    """Keys bound in a widget and below it: actions with a key, shortcuts with words, and a `SHORTCUTS` list.

    A widget that handles keys itself says so in `SHORTCUTS`, pairs of keys and words.
    """
    for action in widget.findChildren(QAction):
        if not action.shortcut().isEmpty() and action.text():
            keys = ", ".join(_shown(sequence) for sequence in action.shortcuts())
            yield Key(group, keys, action.text().replace("&", "").rstrip("…"))
    for shortcut in widget.findChildren(QShortcut):
        if shortcut.whatsThis():
            bound = shortcut.keys()
            yield Key(group, ", ".join(_shown(sequence) for sequence in bound), shortcut.whatsThis())
    for keys, words in getattr(widget, "SHORTCUTS", ()):
        yield Key(group, keys, words)


def _shown(sequence: QKeySequence) -> str:
    return sequence.toString(QKeySequence.SequenceFormat.NativeText)


class KeysDialog(QDialog):
    """The list of keys, with a field to search it."""

    def __init__(self, keys: list[Key], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Keys"))
        self.resize(560, 620)
        self._search = QLineEdit()
        self._search.setPlaceholderText(self.tr("Search a key or what it does"))
        self._search.setAccessibleName(self.tr("Search the keys"))
        self._search.setClearButtonEnabled(True)
        self._list = QTreeWidget()
        self._list.setAccessibleName(self.tr("Keys and what they do"))
        self._list.setHeaderLabels([self.tr("Key"), self.tr("What it does")])
        self._list.setRootIsDecorated(False)
        self._list.setColumnWidth(0, 190)
        self._fill(keys)
        self._search.textChanged.connect(self._filter)
        close = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        close.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        for part in (self._search, self._list, close):
            layout.addWidget(part)

    def _fill(self, keys: list[Key]) -> None:
        groups: dict[str, QTreeWidgetItem] = {}
        seen: set[Key] = set()
        for key in keys:
            if key in seen:
                continue
            seen.add(key)
            group = groups.get(key.group)
            if group is None:
                group = groups[key.group] = QTreeWidgetItem([key.group])
                font = group.font(0)
                font.setBold(True)
                group.setFont(0, font)
                self._list.addTopLevelItem(group)
                group.setFirstColumnSpanned(True)
            group.addChild(QTreeWidgetItem([key.keys, key.words]))
        self._list.expandAll()

    def _filter(self, text: str) -> None:
        wanted = text.casefold()
        for i in range(self._list.topLevelItemCount()):
            group = self._list.topLevelItem(i)
            assert group is not None
            shown = 0
            for j in range(group.childCount()):
                row = group.child(j)
                assert row is not None
                hit = wanted in row.text(0).casefold() or wanted in row.text(1).casefold()
                row.setHidden(not hit)
                shown += hit
            group.setHidden(not shown)

    @property
    def rows(self) -> list[tuple[str, str]]:
        """What is listed and not filtered away."""
        found = []
        for i in range(self._list.topLevelItemCount()):
            group = self._list.topLevelItem(i)
            assert group is not None
            rows = [group.child(j) for j in range(group.childCount())]
            found += [(row.text(0), row.text(1)) for row in rows if row is not None and not row.isHidden()]
        return found
