"""The list of what was written, with what a person should know about it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import QListWidget, QListWidgetItem, QWidget

if TYPE_CHECKING:
    from syncview.desk.export.worker_words import Written

_PATH = Qt.ItemDataRole.UserRole


class Results(QListWidget):
    """Files and remarks; a file is opened by double click or Enter."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(self.tr("Files that were written, and remarks"))
        self.setWordWrap(True)
        self.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.itemActivated.connect(self._open)

    def add(self, written: Written) -> None:
        """Add what one process wrote."""
        for product, path in written.files:
            item = QListWidgetItem(f"{product}: {path.name}{_size_text(path)}")
            item.setData(_PATH, str(path))
            item.setToolTip(self.tr("%s\nDouble click opens it.") % path)
            self.addItem(item)
        for remark in written.remarks:
            self.add_words(self.tr("note: %s") % remark)

    def add_words(self, words: str) -> None:
        """Add a sentence, once."""
        if words in self.words:
            return
        item = QListWidgetItem(words)
        item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
        font = item.font()
        font.setItalic(True)
        item.setFont(font)
        self.addItem(item)
        self.scrollToBottom()

    @property
    def words(self) -> list[str]:
        """What is listed."""
        items = [self.item(number) for number in range(self.count())]
        return [item.text() for item in items if item is not None]

    @property
    def paths(self) -> list[Path]:
        """Files that are listed."""
        items = [self.item(number) for number in range(self.count())]
        return [Path(item.data(_PATH)) for item in items if item is not None and item.data(_PATH)]

    def _open(self, item: QListWidgetItem) -> None:
        path = item.data(_PATH)
        if path:
            QDesktopServices.openUrl(QUrl.fromLocalFile(path))


def _size_text(path: Path) -> str:
    try:
        size = path.stat().st_size
    except OSError:
        return ""
    return f", {size / 1e6:.1f} MB" if size >= 1e6 else f", {max(1, round(size / 1e3))} kB"
