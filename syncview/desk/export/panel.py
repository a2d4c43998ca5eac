"""Export: what is wanted, how far it is, what came of it."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, QTimer, QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.export.job import Ended, ExportJob
from syncview.desk.export.orders import Order
from syncview.desk.export.ready import existing_files, saving_of
from syncview.desk.export.results import Results
from syncview.desk.export.time_left import left_text
from syncview.desk.export.wishes import Wishes
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from collections.abc import Callable

    from PyQt6.QtGui import QCloseEvent

    from syncview.desk.state import DeskState
    from syncview.progress import Progress

_PARTS = 1000
"""Steps of the progress bar."""
_NAMED_FILES = 3
"""So many files are named when it is asked whether to replace them."""


class ExportPanel(QWidget):
    """The panel."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._preparing = False
        self._folder: Path | None = None
        self._doing = ""
        self.job = ExportJob(self)
        self._tick = QTimer(self)
        self._tick.setInterval(500)
        self._tick.timeout.connect(self._show_time_left)
        self.setAccessibleName(self.tr("Export"))
        self._build()
        self.wishes.changed.connect(self._show_what_can_be)
        self.job.progressed.connect(self._show_progress)
        self.job.wrote.connect(self.results.add)
        self.job.ended.connect(self._show_end)
        self._show_what_can_be()

    def _build(self) -> None:
        self.wishes = Wishes(self._state)
        self.start = QPushButton(self.tr("Export"))
        self.start.setToolTip(self.tr("Write the chosen products; the window can be used meanwhile"))
        self.start.clicked.connect(self.begin)
        self.cancel = QPushButton(self.tr("Cancel"))
        self.cancel.setToolTip(self.tr("Stop; nothing half-written is left"))
        self.cancel.clicked.connect(self._cancel)
        self.open_folder = QPushButton(self.tr("Open folder"))
        self.open_folder.setToolTip(self.tr("Show what was written"))
        self.open_folder.clicked.connect(self._open_folder)
        buttons = QHBoxLayout()
        for button in (self.start, self.cancel, self.open_folder):
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.bar = QProgressBar()
        self.bar.setRange(0, _PARTS)
        self.bar.setAccessibleName(self.tr("Progress of the export"))
        self.doing = QLabel()
        self.doing.setObjectName("quiet")
        self.doing.setWordWrap(True)
        self._make_question()
        self.results = Results()
        self.results.setMinimumHeight(70)
        content = QWidget()
        column = QVBoxLayout(content)
        column.setContentsMargins(8, 6, 8, 6)
        column.setSpacing(5)
        column.addWidget(self.wishes)
        column.addLayout(buttons)
        column.addWidget(self.question)
        column.addWidget(self.bar)
        column.addWidget(self.doing)
        column.addWidget(self.results, 100)
        column.addStretch(1)
        self._area = area = QScrollArea()
        area.setWidget(content)
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area)
        hidden: tuple[QWidget, ...] = (self.cancel, self.open_folder, self.bar, self.doing, self.results)
        for one in hidden:
            one.hide()

    def _make_question(self) -> None:
        """The bar that asks, or says what went wrong."""
        self.question = QFrame()
        self.question.setObjectName("faultBar")
        self.question_words = QLabel()
        self.question_words.setWordWrap(True)
        self.question_words.setTextFormat(Qt.TextFormat.PlainText)
        self.question_words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._answers = QHBoxLayout()
        self._answers.addStretch(1)
        self.answers: list[QPushButton] = []
        column = QVBoxLayout(self.question)
        column.setContentsMargins(8, 4, 8, 6)
        column.addWidget(self.question_words)
        column.addLayout(self._answers)
        self.question.hide()

    def _ask(self, words: str, answers: tuple[tuple[str, Callable[[], object]], ...] = ()) -> None:
        for button in self.answers:
            button.hide()
            button.deleteLater()
        self.answers = []
        self.question.setVisible(bool(words))
        self.question_words.setText(f"! {words}" if words else "")
        self.question_words.setAccessibleName(words)
        for answer, act in answers:
            button = QPushButton(answer)
            button.clicked.connect(lambda _checked=False, act=act: self._answer(act))
            self._answers.addWidget(button)
            self.answers.append(button)
        self._show_what_can_be()
        if words:
            QTimer.singleShot(0, self._scroll_to_question)

    def _scroll_to_question(self) -> None:
        """Once it has its place."""
        self._area.ensureWidgetVisible(self.question)

    def _answer(self, act: Callable[[], object]) -> None:
        self._ask("")
        act()

    # Beginning

    def _show_what_can_be(self) -> None:
        busy = self._preparing or self.job.is_running
        wanted = self._state.project is not None and self.wishes.chosen and self.wishes.folder.text().strip()
        self.start.setEnabled(bool(wanted) and not busy)
        self.start.setVisible(not self.job.is_running)
        self.cancel.setVisible(self.job.is_running)
        self.cancel.setEnabled(not self.job.is_stopping)
        self.wishes.setEnabled(not busy and self._state.project is not None)

    def begin(self) -> None:
        """Save, look what is there already, and start."""
        order = self.wishes.order()
        if order is None or self._preparing or self.job.is_running:
            return
        self._ask("")
        try:
            save = saving_of(self._state)
        except SyncviewError as error:
            self._ask(str(error))
            return
        film = self._state.film

        def prepare(progress: Progress) -> tuple[Path, ...]:
            save(progress)
            # Without a film the worker says why there is none.
            return () if film is None else existing_files(film, order.folder, order.products)

        self._preparing = True
        self._show_what_can_be()
        self._state.work.run(
            prepare,
            done=lambda there: self._prepared(order, there),
            failed=self._could_not_prepare,
            what=self.tr("saving before the export"),
        )

    def _could_not_prepare(self, error: SyncviewError) -> None:
        self._preparing = False
        self._ask(str(error))

    def _prepared(self, order: Order, there: tuple[Path, ...]) -> None:
        self._preparing = False
        if not there:
            self._run(order)
            return
        names = ", ".join(path.name for path in there[:_NAMED_FILES])
        more = len(there) - _NAMED_FILES
        if more > 0:
            names += " " + self.tr("and %n more", "", more)
        words = self.tr("In %s there are already: %s. Replace them?") % (order.folder.name, names)
        replacing = replace(order, overwrite=True)
        self._ask(words, (
            (self.tr("Replace"), lambda: self._run(replacing)),
            (self.tr("Another folder…"), self.wishes.choose_folder),
            (self.tr("Keep them"), lambda: None),
        ))  # fmt: skip

    def _run(self, order: Order) -> None:
        self.results.clear()
        self._folder = order.folder
        self.open_folder.hide()
        self.job.start(order)
        self._show_running(0.0)

    def _go_on(self) -> None:
        self.job.go_on()
        self._show_running(self.bar.value() / _PARTS)

    def _show_running(self, share: float) -> None:
        self.bar.setValue(round(share * _PARTS))
        self.bar.setFormat("%p %")
        for part in (self.bar, self.doing, self.results):
            part.show()
        self._doing = self.tr("starting")
        self.doing.setText(self._doing)
        self._tick.start()
        self._show_what_can_be()
        QTimer.singleShot(0, self._scroll_to_progress)

    def _scroll_to_progress(self) -> None:
        self._area.ensureWidgetVisible(self.doing)

    # While it runs

    def _show_progress(self, share: float, what: str) -> None:
        self.bar.setValue(round(share * _PARTS))
        self._doing = what
        self._show_time_left()

    def _show_time_left(self) -> None:
        if self.job.is_stopping:
            self.doing.setText(self.tr("stopping"))
            return
        left_s = self.job.left_s
        left = "" if left_s is None else ", " + self.tr("%s left") % left_text(left_s)
        self.doing.setText(f"{self._doing}{left}")

    def _cancel(self) -> None:
        self.job.stop()
        self._show_time_left()
        self._show_what_can_be()

    def _show_end(self, ended: Ended) -> None:
        self._tick.stop()
        self.bar.hide()
        self.doing.hide()
        folder = self._folder
        self.open_folder.setVisible(folder is not None and folder.is_dir())
        if ended.kind == "fault":
            answers = ((self.tr("Go on"), self._go_on), (self.tr("Leave it"), lambda: None))
            self._ask(ended.problem, answers if ended.can_go_on else ())
        elif ended.kind == "stopped":
            self.results.add_words(self.tr("Stopped at %s; what is listed here is whole, nothing else was left.")
                                   % time.strftime("%H:%M"))  # fmt: skip
        else:
            self.results.add_words(self.tr("Done at %s.") % time.strftime("%H:%M"))
        self._show_what_can_be()

    def _open_folder(self) -> None:
        if self._folder is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._folder)))

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Stop the worker: nothing half-written is left."""
        self._tick.stop()
        self.job.close()
        super().closeEvent(event)
