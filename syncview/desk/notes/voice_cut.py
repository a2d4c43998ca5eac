"""Which part of a voice file is heard: a strip to drag on, and the same by numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import pyqtSignal
from PyQt6.QtWidgets import QDoubleSpinBox, QGridLayout, QLabel, QToolButton, QWidget

from syncview.desk.notes.voice_strip import VoiceStrip

if TYPE_CHECKING:
    from syncview.media.voice_file import VoiceFile
    from syncview.notes.note import Voice

STEP_S = 0.05
LEAST_S = 0.1


class VoiceCut(QWidget):
    """Trims without touching the file."""

    cut = pyqtSignal(object, object)
    """Begin and end in seconds on the file's clock; None for the file's own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._length_s = 0.0
        self._speech = (0.0, 0.0)
        self.strip = VoiceStrip(self)
        self.begin = self._number(self.tr("Heard from"), self.tr("Where in the file the voice begins"))
        self.end = self._number(self.tr("to"), self.tr("Where in the file the voice ends"))
        self.speech = self._button(self.tr("Speech"), self.tr("From the first word to the last one of the file"))
        self.whole = self._button(self.tr("Whole"), self.tr("The whole file again"))
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(4)
        grid.addWidget(self.strip, 0, 0, 1, 5)
        for column, part in enumerate((self.begin, QLabel("–"), self.end, self.speech, self.whole)):
            grid.addWidget(part, 1, column)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(2, 1)
        self.strip.cut.connect(self._ask)
        self.begin.valueChanged.connect(lambda at_s: self._ask(at_s, self.end.value()))
        self.end.valueChanged.connect(lambda at_s: self._ask(self.begin.value(), at_s))
        self.speech.clicked.connect(lambda: self._ask(*self._speech))
        self.whole.clicked.connect(lambda: self.cut.emit(None, None))

    def _number(self, name: str, tip: str) -> QDoubleSpinBox:
        box = QDoubleSpinBox(self)
        box.setDecimals(2)
        box.setSingleStep(STEP_S)
        box.setSuffix(self.tr(" s"))
        box.setKeyboardTracking(False)
        box.setAccessibleName(name)
        box.setToolTip(tip)
        box.setMinimumWidth(64)
        return box

    def _button(self, text: str, tip: str) -> QToolButton:
        button = QToolButton(self)
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(tip)
        return button

    def show_voice(self, voice: Voice, file: VoiceFile) -> None:
        """Show the part of the file that the note has."""
        self._length_s = float(file.length_s)
        self._speech = (float(file.speech_begin_s), float(file.speech_end_s))
        begin_s = 0.0 if voice.begin_s is None else voice.begin_s
        end_s = self._length_s if voice.end_s is None else min(voice.end_s, self._length_s)
        self.strip.show_voice(file, begin_s, end_s)
        for box, at_s in ((self.begin, begin_s), (self.end, end_s)):
            box.blockSignals(True)
            box.setRange(0.0, self._length_s)
            box.setValue(at_s)
            box.blockSignals(False)

    def _ask(self, begin_s: float, end_s: float) -> None:
        """Ask for a part; one without length is not asked for, and the numbers go back."""
        if end_s - begin_s < LEAST_S:
            self.begin.setValue(max(0.0, min(begin_s, self._length_s - LEAST_S)))
            self.end.setValue(self.begin.value() + LEAST_S)
            return
        whole_begin, whole_end = begin_s <= 0.005, end_s >= self._length_s - 0.005
        self.cut.emit(None if whole_begin else round(begin_s, 3), None if whole_end else round(end_s, 3))
