"""Looking for one frame by eye: a slider, exact steps, and a key that marks it."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QSize, Qt, pyqtSignal
from PyQt6.QtGui import QKeySequence, QShortcut, QShowEvent
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QSlider, QVBoxLayout, QWidget

from syncview.desk.opening.small_widgets import PictureBox, image_of
from syncview.desk.work import Newest

if TYPE_CHECKING:
    from syncview.desk.opening.looks import FramePicture
    from syncview.desk.state import DeskState
    from syncview.progress import Progress


class FrameFinder(QWidget):
    """One frame of the recording, large."""

    marked = pyqtSignal(object)
    """Media time of the frame in which the car crosses the start line."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self.number = 0
        """Which frame is shown or asked for."""
        self._asks = Newest(state.work, state.tell)
        self.picture = PictureBox(least=QSize(240, 135))
        self._slider = QSlider(Qt.Orientation.Horizontal)
        self._slider.setAccessibleName(self.tr("Place in the recording"))
        self._slider.valueChanged.connect(self.go_to_frame)
        self._time = QLabel()
        self._time.setMinimumWidth(150)
        self._marks = QLabel()
        self._marks.setObjectName("quiet")
        self._forget = QPushButton(self.tr("Forget the marks"))
        self._forget.hide()
        self._forget_slot: Callable[[], None] | None = None
        self._forget.clicked.connect(self._do_forget)
        mark = QPushButton(self.tr("The car crosses the start line here (M)"))
        mark.setToolTip(self.tr("One mark is enough; more make it more certain"))
        mark.clicked.connect(self.mark)
        row = QHBoxLayout()
        for words, step, key, tip in (
            ("◀", -1, ",", self.tr("One frame back")), ("▶", 1, ".", self.tr("One frame on")),
        ):  # fmt: skip
            button = QPushButton(words)
            button.setFixedWidth(42)
            button.setToolTip(f"{tip} ({key})")
            button.setAccessibleName(tip)
            button.setAutoRepeat(True)
            button.clicked.connect(lambda _checked=False, step=step: self.step(step))
            self._bind(key, tip, button.click)
            row.addWidget(button)
        self._bind("M", self.tr("The car crosses the start line in this frame"), self.mark)
        row.addWidget(self._time)
        row.addWidget(self._slider, 1)
        row.addWidget(mark)
        below = QHBoxLayout()
        below.addWidget(self._marks, 1)
        below.addWidget(self._forget)
        column = QVBoxLayout(self)
        column.setContentsMargins(6, 6, 6, 6)
        column.addWidget(self.picture, 1)
        column.addLayout(row)
        column.addLayout(below)
        state.recordingReady.connect(self._follow)
        self._follow(state.recording)

    def _bind(self, key: str, words: str, slot: Callable[[], object]) -> None:
        shortcut = QShortcut(QKeySequence(key), self)
        shortcut.setContext(Qt.ShortcutContext.WindowShortcut)
        shortcut.setWhatsThis(words)
        shortcut.activated.connect(slot)

    def _follow(self, _recording: object) -> None:
        recording = self._state.recording
        self._slider.blockSignals(True)
        self._slider.setRange(0, 0 if recording is None else len(recording.frames) - 1)
        self._slider.blockSignals(False)
        self._time.clear()
        self.picture.show_picture(None)
        if self.isVisible():
            self.go_to_frame(0)

    def showEvent(self, event: QShowEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Show the frame asked for last."""
        super().showEvent(event)
        self.go_to_frame(self.number)

    def go_to(self, media_s: Fraction) -> None:
        """Show the frame on screen at that time."""
        recording = self._state.recording
        if recording is not None and 0 <= media_s < recording.frames.end_s:
            self.go_to_frame(recording.frames.index_at(media_s))

    def step(self, frames: int) -> None:
        """Show another frame."""
        self.go_to_frame(self.number + frames)

    def go_to_frame(self, number: int) -> None:
        """Show that frame."""
        recording = self._state.recording
        if recording is None:
            return
        self.number = min(max(0, number), len(recording.frames) - 1)
        media_s = recording.frames.media_s(self.number)
        self._time.setText(self.tr("%.3f s · frame %d") % (float(media_s), self.number))
        if self._slider.value() != self.number:
            self._slider.blockSignals(True)
            self._slider.setValue(self.number)
            self._slider.blockSignals(False)

        def look(_progress: Progress) -> list[FramePicture | None]:
            from syncview.desk.opening.looks import frames_at

            return frames_at(recording, [media_s], width=960)

        def show(frames: list[FramePicture | None]) -> None:
            frame = frames[0]
            self.picture.show_picture(None if frame is None else image_of(frame.rgb), self.tr("A damaged frame"))

        self._asks.ask(look, show)

    def mark(self) -> None:
        """The car crosses the start line in the frame that is shown."""
        recording = self._state.recording
        if recording is not None and self.isVisible():
            self.marked.emit(recording.frames.media_s(self.number))

    def show_marks(self, media_s: tuple[float, ...], forget: Callable[[], None]) -> None:
        """List the marks there are."""
        self._forget_slot = forget
        self._forget.setVisible(bool(media_s))
        listed = ", ".join(f"{time_s:.3f} s" for time_s in media_s)
        self._marks.setText(self.tr("Marked: %s") % listed if media_s else "")

    def _do_forget(self) -> None:
        if self._forget_slot is not None:
            self._forget_slot()
