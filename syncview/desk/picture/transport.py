"""The row below the picture: play, step, speed, loop, gauges, sound, drawing tools, and where the playhead is."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, QSize, pyqtSignal
from PyQt6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QToolButton, QWidget

from syncview.desk.picture.icons import icon
from syncview.desk.picture.place_label import PlaceLabel
from syncview.desk.picture.play_run import SPEEDS, speed_words

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from syncview.desk.picture.play_run import Loop
    from syncview.gauges.drawing import Kind


class Transport(QWidget):
    """Says what was pressed; shows what it is told."""

    play_pressed = pyqtSignal()
    step_pressed = pyqtSignal(int)
    speed_chosen = pyqtSignal(object)
    loop_chosen = pyqtSignal(object)
    """A `Loop`, or None."""
    gauges_pressed = pyqtSignal()
    sound_pressed = pyqtSignal()
    tool_pressed = pyqtSignal(object)
    full_pressed = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._signs: dict[QToolButton, str] = {}
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(6, 4, 6, 4)
        self._row.setSpacing(3)
        self._make_playing()
        self.readout = PlaceLabel()
        self.readout.setObjectName("quiet")
        self.readout.setAccessibleName(self.tr("Playhead"))
        self._row.addWidget(self.readout, 1)
        self._make_looks()

    def _make_playing(self) -> None:
        tr = self.tr
        self.back = self._button("frame back", tr("One frame back"), ",", lambda: self.step_pressed.emit(-1))
        self.play = self._button("play", tr("Play"), tr("Space"), self.play_pressed.emit)
        self.onward = self._button("frame on", tr("One frame on"), ".", lambda: self.step_pressed.emit(1))
        for button in (self.back, self.onward):
            button.setAutoRepeat(True)
        self.speed = QComboBox()
        for speed in SPEEDS:
            self.speed.addItem(speed_words(speed), speed)
        self.speed.setAccessibleName(tr("Speed"))
        self.speed.setToolTip(tr("Speed; Q slower, W faster, R real"))
        self.speed.activated.connect(lambda at: self.speed_chosen.emit(self.speed.itemData(at)))
        self.loop = QComboBox()
        self.loop.setAccessibleName(tr("Loop"))
        self.loop.setToolTip(tr("Play one corner again and again; L takes the corner at the playhead"))
        self.loop.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.loop.setMinimumContentsLength(7)
        self.loop.activated.connect(lambda at: self.loop_chosen.emit(self.loop.itemData(at)))
        for combo in (self.speed, self.loop):
            self._row.addWidget(combo)
        self.show_loops((), None)

    def _make_looks(self) -> None:
        tr = self.tr
        tools: tuple[tuple[Kind, str, str], ...] = (
            ("arrow", tr("Draw an arrow on the still"), "A"), ("line", tr("Draw a line on the still"), "I"),
            ("ellipse", tr("Draw an ellipse on the still"), "E"), ("spotlight", tr("Light a part of the still"), "S"),
        )  # fmt: skip
        self.tools: dict[Kind, QToolButton] = {}
        for kind, words, key in tools:
            self.tools[kind] = self._button(kind, words, key, partial(self.tool_pressed.emit, kind), checkable=True)
        line = QFrame()
        line.setFrameShape(QFrame.Shape.VLine)
        self._row.addWidget(line)
        self.gauges = self._button("gauges", tr("Gauges"), "G", self.gauges_pressed.emit, checkable=True)
        self.sound = self._button("sound", tr("Sound"), "M", self.sound_pressed.emit, checkable=True)
        self.full = self._button("full", tr("Full screen"), "F11", self.full_pressed.emit)

    def _button(
        self, sign: str, words: str, key: str, slot: Callable[[], object], *, checkable: bool = False
    ) -> QToolButton:  # fmt: skip
        button = QToolButton()
        button.setIcon(icon(sign))
        button.setIconSize(QSize(18, 18))
        button.setToolTip(f"{words} ({key})")
        button.setAccessibleName(words)
        button.setCheckable(checkable)
        button.clicked.connect(lambda _checked=False: slot())
        self._signs[button] = sign
        self._row.addWidget(button)
        return button

    # What is shown

    def show_playing(self, playing: bool) -> None:
        """Play or pause on the button."""
        words = self.tr("Pause") if playing else self.tr("Play")
        self._sign(self.play, "pause" if playing else "play")
        self.play.setToolTip(f"{words} ({self.tr('Space')})")
        self.play.setAccessibleName(words)

    def show_speed(self, speed: Fraction) -> None:
        """The speed that is chosen."""
        self.speed.setCurrentIndex(SPEEDS.index(speed))

    def show_loops(self, loops: Sequence[Loop], chosen: Loop | None) -> None:
        """The loops there are."""
        self.loop.clear()
        self.loop.addItem(self.tr("No loop"), None)
        for loop in loops:
            self.loop.addItem(self.tr("Loop %s") % loop.words, loop)
        self.loop.setEnabled(bool(loops))
        self.show_loop(chosen)

    def show_loop(self, chosen: Loop | None) -> None:
        """The loop that is played; one that is not listed any more counts as none."""
        at = next((n for n in range(self.loop.count()) if self.loop.itemData(n) == chosen), 0)
        self.loop.setCurrentIndex(at)

    def show_sound(self, with_sound: bool, *, has_sound: bool) -> None:
        """Whether the recording is heard, and whether it could be."""
        self.sound.setEnabled(has_sound)
        self.sound.setChecked(with_sound and has_sound)
        self._sign(self.sound, "sound" if with_sound and has_sound else "no sound")

    def show_tool(self, kind: Kind | None) -> None:
        """The tool in hand."""
        for name, button in self.tools.items():
            button.setChecked(name == kind)

    def _sign(self, button: QToolButton, sign: str) -> None:
        if self._signs[button] != sign:
            self._signs[button] = sign
            button.setIcon(icon(sign))

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Another theme: the signs in its colours."""
        super().changeEvent(event)
        if event is not None and event.type() == QEvent.Type.PaletteChange:
            for button, sign in self._signs.items():
                button.setIcon(icon(sign))
