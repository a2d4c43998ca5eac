"""The first page: drop files here, take up an earlier project, or try the sample."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PyQt6.QtCore import QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen
from PyQt6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from syncview.desk import theme

SAMPLE = Path(__file__).parents[3] / "sample_media"
MOST_SHOWN = 5


class SeeSaw(QWidget):
    """The sign of the program: its main gauge, braking to the left, throttle to the right."""

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Wide and low."""
        return QSize(260, 34)

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Draw it in the theme's colours."""
        look = theme.current()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        width, top, high = min(self.width(), 260), 10.0, 14.0
        middle = width / 2
        painter.setBrush(QColor(*look.raised))
        painter.drawRoundedRect(QRectF(0, top, width, high), 7, 7)
        brake = QRectF(middle - 78, top + 2, 76, high - 4)
        painter.setBrush(QColor(*look.brake))
        painter.drawRoundedRect(brake, 4, 4)
        painter.setBrush(QBrush(QColor(*look.panel), Qt.BrushStyle.BDiagPattern))
        painter.drawRoundedRect(brake, 4, 4)
        painter.setBrush(QColor(*look.throttle))
        painter.drawRoundedRect(QRectF(middle + 2, top + 2, 104, high - 4), 4, 4)
        painter.setPen(QPen(QColor(*look.ink), 2))
        painter.drawLine(int(middle), int(top - 6), int(middle), int(top + high + 6))


class WelcomePage(QWidget):
    """What is seen without a project."""

    opened = pyqtSignal(object)
    """Path of a project to open."""
    dropped = pyqtSignal(list)
    """Paths to be sorted out, as if they had been dropped."""
    new_wanted = pyqtSignal()
    open_wanted = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        card = QFrame()
        card.setObjectName("card")
        card.setMaximumWidth(640)
        card.setMinimumWidth(480)
        self._column = QVBoxLayout(card)
        self._column.setContentsMargins(36, 30, 36, 30)
        self._column.setSpacing(12)
        self._column.addWidget(SeeSaw())
        self._column.addWidget(_big(self.tr("Put picture and data on one clock"), 1.7))
        self._column.addWidget(_quiet(self.tr(
            "Drop an onboard recording and the car's log on this window, or a project you have begun."
        )))  # fmt: skip
        self._column.addLayout(self._buttons())
        self._recent = QVBoxLayout()
        self._recent.setSpacing(4)
        self._column.addLayout(self._recent)
        grid = QGridLayout(self)
        grid.addWidget(card, 1, 1)
        for edge in (0, 2):
            grid.setRowStretch(edge, 1)
            grid.setColumnStretch(edge, 1)
        grid.setColumnStretch(1, 3)

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        new = QPushButton(self.tr("New from a recording and a log…"))
        new.setDefault(True)
        new.setAutoDefault(True)
        new.clicked.connect(lambda: self.new_wanted.emit())
        old = QPushButton(self.tr("Open a project…"))
        old.clicked.connect(lambda: self.open_wanted.emit())
        row.addWidget(new)
        row.addWidget(old)
        if (SAMPLE / "session.mp4").is_file() and (SAMPLE / "session.csv").is_file():
            sample = QPushButton(self.tr("Try the sample"))
            sample.setToolTip(self.tr("A recording and a log of an invented circuit that come along"))
            sample.clicked.connect(lambda: self.dropped.emit([SAMPLE / "session.mp4", SAMPLE / "session.csv"]))
            row.addWidget(sample)
        row.addStretch(1)
        return row

    def show_recent(self, paths: Sequence[Path]) -> None:
        """List these projects."""
        while (item := self._recent.takeAt(0)) is not None:
            old = item.widget()
            if old is not None:
                old.hide()
                old.deleteLater()
        if not paths:
            return
        self._recent.addSpacing(8)
        self._recent.addWidget(_quiet(self.tr("Lately")))
        for path in paths[:MOST_SHOWN]:
            name = path.name.removesuffix(".json").removesuffix(".syncview")
            button = QPushButton(f"{name}   –   {_short(path.parent)}".replace("&", "&&"))
            button.setToolTip(str(path))
            button.setAccessibleName(self.tr("Open the project %s") % name)
            button.setStyleSheet("text-align: left;")
            button.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            button.clicked.connect(lambda _checked=False, path=path: self.opened.emit(path))
            self._recent.addWidget(button)


def _short(folder: Path, most: int = 52) -> str:
    """The folder with its beginning left out when it is long."""
    words = str(folder)
    return words if len(words) <= most else "…" + words[1 - most :]


def _big(words: str, times: float) -> QLabel:
    label = QLabel(words)
    label.setObjectName("title")
    font = label.font()
    font.setPointSizeF(font.pointSizeF() * times)
    font.setBold(True)
    label.setFont(font)
    label.setWordWrap(True)
    return label


def _quiet(words: str) -> QLabel:
    label = QLabel(words)
    label.setObjectName("quiet")
    label.setWordWrap(True)
    return label
