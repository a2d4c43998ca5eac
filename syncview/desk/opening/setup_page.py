"""The card that leads through the three steps: recording and log, the match, the lap."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QColor, QKeySequence, QPainter, QPaintEvent, QShortcut
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from syncview.desk import theme
from syncview.desk.opening.files_step import FilesStep
from syncview.desk.opening.lap_step import LapStep
from syncview.desk.opening.match_step import MatchStep

if TYPE_CHECKING:
    from syncview.desk.state import DeskState

STEPS = ("files", "match", "lap")


class SetupPage(QWidget):
    """Three steps with live previews; each can be taken up again later."""

    finished = pyqtSignal()
    """All is said; on to the desk."""
    left = pyqtSignal()
    """The person goes back without finishing; what was saved stays."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self.files = FilesStep(state)
        self.match = MatchStep(state)
        self.lap = LapStep(state)
        self._pages = QStackedWidget()
        for step in (self.files, self.match, self.lap):
            self._pages.addWidget(step)
            step.readyChanged.connect(self._show_buttons)
        self.files.made.connect(lambda: self.go_to("match"))
        self._heads = [_StepHead() for _step in STEPS]
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(12)
        column.addLayout(self._head_row())
        column.addWidget(self._pages, 1)
        column.addLayout(self._button_row())
        escape = QShortcut(QKeySequence("Esc"), self)
        escape.setContext(Qt.ShortcutContext.WindowShortcut)
        escape.setWhatsThis(self.tr("Leave the steps"))
        escape.activated.connect(self.leave)
        onward = QShortcut(QKeySequence("Ctrl+Return"), self)
        onward.setContext(Qt.ShortcutContext.WindowShortcut)
        onward.setWhatsThis(self.tr("Continue with the next step"))
        onward.activated.connect(self._onward.click)
        self.go_to("files")

    def _head_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        words = (self.tr("1  Recording and log"), self.tr("2  Match"), self.tr("3  Lap"))
        for label, text in zip(self._heads, words, strict=True):
            label.setText(text)
            label.setContentsMargins(2, 2, 2, 8)
            font = label.font()
            font.setPointSizeF(font.pointSizeF() * 1.15)
            label.setFont(font)
            row.addWidget(label)
            row.addSpacing(18)
        row.addStretch(1)
        return row

    def _button_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        leave = QPushButton(self.tr("Leave"))
        leave.setToolTip(self.tr("Back to the window (Esc); what is saved stays saved"))
        leave.clicked.connect(self.leave)
        self._back = QPushButton(self.tr("Back"))
        self._back.clicked.connect(lambda: self.go_to(STEPS[self._pages.currentIndex() - 1]))
        self._why = QLabel()
        self._why.setObjectName("quiet")
        self._onward = QPushButton(self.tr("Continue"))
        self._onward.setDefault(True)
        self._onward.setToolTip(self.tr("Next step (Ctrl+Return)"))
        self._onward.clicked.connect(self._go_on)
        row.addWidget(leave)
        row.addStretch(1)
        row.addWidget(self._why)
        row.addWidget(self._back)
        row.addWidget(self._onward)
        return row

    @property
    def step(self) -> str:
        """The step that is shown."""
        return STEPS[self._pages.currentIndex()]

    @property
    def takes_files(self) -> bool:
        """Whether files dropped now belong to the project that is being made."""
        return self.step == "files" and self.files.is_new

    def begin(self, *, recording: Path | None, log: Path | None) -> None:
        """A new project."""
        self.files.begin_new()
        self.take_files(recording=recording, log=log)
        self.go_to("files")

    def take_files(self, *, recording: Path | None, log: Path | None) -> None:
        """Files for the project that is being made."""
        if recording is not None:
            self.files.set_recording(recording)
        if log is not None:
            self.files.set_log(log)

    def take_up(self, name: str) -> None:
        """One step for the open project."""
        self.files.show_open()
        self.go_to(name)

    def go_to(self, name: str) -> None:
        """Show a step."""
        self._pages.setCurrentIndex(STEPS.index(name))
        if name == "match":
            self.match.enter()
        elif name == "lap":
            self.lap.enter()
        self._show_buttons()

    def leave(self) -> None:
        """Back to where the person came from."""
        self.match.leave()
        self.left.emit()

    def _go_on(self) -> None:
        if self.step == "files":
            self.files.commit()
        elif self.step == "match":
            self.match.leave()
            self.go_to("lap")
        else:
            self.lap.commit()
            self.finished.emit()

    def _show_buttons(self) -> None:
        step = self._pages.currentWidget()
        assert isinstance(step, FilesStep | MatchStep | LapStep)
        self._back.setEnabled(self._pages.currentIndex() > 0)
        self._onward.setEnabled(step.ready)
        self._onward.setText(self.tr("To the desk") if self.step == "lap" else self.tr("Continue"))
        self._why.setText("" if step.ready else step.waiting_for)
        for i, label in enumerate(self._heads):
            label.set_current(i == self._pages.currentIndex())


class _StepHead(QLabel):
    """The name of a step, underlined when it is the one that is shown."""

    def set_current(self, is_current: bool) -> None:
        """Whether it is."""
        self._is_current = is_current
        self.setObjectName("title" if is_current else "quiet")
        style = self.style()
        assert style is not None
        style.unpolish(self)
        style.polish(self)
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The words and the line."""
        super().paintEvent(event)
        if self._is_current:
            QPainter(self).fillRect(0, self.height() - 3, self.width(), 3, QColor(*theme.current().accent))
