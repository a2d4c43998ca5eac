"""The line about the chosen piece: why it is so, its value to be typed, and buttons to pin and free it."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QFontMetrics, QResizeEvent
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QSizePolicy, QWidget

from syncview.desk.plan.pins import why_not
from syncview.desk.plan.values import LONGEST_HOLD_S, speed_text
from syncview.errors import SyncviewError
from syncview.plan.lesson_choices import speed_of

if TYPE_CHECKING:
    from syncview.desk.plan.pieces import Piece


class Elided(QLabel):
    """Words on one line, cut where they do not fit, whole in the tool tip."""

    def __init__(self) -> None:
        super().__init__()
        self.words = ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.setTextFormat(Qt.TextFormat.PlainText)

    def show_words(self, words: str) -> None:
        """Show these."""
        self.words = words
        self.setToolTip(words)
        self.setAccessibleName(words)
        self._fit()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Cut anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.setText(QFontMetrics(self.font()).elidedText(self.words, Qt.TextElideMode.ElideRight, self.width()))


class Detail(QWidget):
    """About one piece."""

    pinAsked = pyqtSignal(object)  # noqa: N815 (Qt's way of naming signals)
    """Speed or seconds, a Fraction."""
    freeAsked = pyqtSignal()  # noqa: N815
    faulty = pyqtSignal(object)
    """A `SyncviewError`: what was typed cannot be."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._piece: Piece | None = None
        self.why = Elided()
        self.value = QLineEdit()
        self.value.setMaximumWidth(74)
        self.value.returnPressed.connect(self._pin)
        self.pin = QPushButton(self.tr("Pin"))
        self.pin.setToolTip(self.tr("Set this value; the rest of the lesson is planned around it (Enter)"))
        self.pin.clicked.connect(self._pin)
        self.free = QPushButton(self.tr("Free"))
        self.free.setToolTip(self.tr("Leave it to the plan again (Delete, or double click)"))
        self.free.clicked.connect(self.freeAsked)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.why, 1)
        for part in (self.value, self.pin, self.free):
            row.addWidget(part)
        self.show_piece(None)

    def show_piece(self, piece: Piece | None) -> None:
        """Show a piece, or how to choose one."""
        self._piece = piece
        can = piece is not None and piece.can_be_set
        for part in (self.value, self.pin, self.free):
            part.setVisible(can)
        self.free.setEnabled(piece is not None and piece.pinned)
        if piece is None:
            self.why.show_words(self.tr("Drag the top of a stretch or the edge of a hold; arrows step through them."))
            return
        self.why.show_words(piece.why if can or not piece.in_breakdown else f"{piece.why} ({why_not(piece)[0]})")
        is_hold = piece.kind == "hold"
        text = f"{float(piece.length_s):.1f} s" if is_hold else speed_text(piece.speed)
        self.value.setText(text)
        name = self.tr("Seconds of the hold") if is_hold else self.tr("Speed as a share of full speed: 1/4, 0.25, 25 %")
        self.value.setAccessibleName(name)
        self.value.setToolTip(name)

    def _pin(self) -> None:
        if self._piece is None:
            return
        try:
            value = typed_value(self.value.text(), is_hold=self._piece.kind == "hold")
        except SyncviewError as error:
            self.faulty.emit(error)
        else:
            self.pinAsked.emit(value)


def typed_value(text: str, *, is_hold: bool) -> Fraction:
    """The speed or the seconds that a person typed; raises `SyncviewError` when it is neither."""
    if not is_hold:
        return speed_of(text.replace(",", "."))
    words = text.strip().removesuffix("s").strip().replace(",", ".")
    remedy = f"Give 0 to {int(LONGEST_HOLD_S)} seconds."
    try:
        seconds = Fraction(words)
    except (ValueError, ZeroDivisionError):
        raise SyncviewError(f"“{text[:30]}” is no time", remedy) from None
    if not 0 <= seconds <= LONGEST_HOLD_S:
        raise SyncviewError(f"a hold of {words[:30]} s cannot be", remedy)
    return seconds
