"""The bar in which faults are told with their remedy: over the work, never in front of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QToolButton, QWidget

MOST_FAULTS = 20


@dataclass(frozen=True, slots=True)
class Fault:
    """What is told."""

    where: str
    problem: str
    remedy: str
    actions: tuple[tuple[str, Callable[[], object]], ...] = ()
    """Buttons: words and what they do."""

    @property
    def words(self) -> str:
        """All in one sentence or two."""
        head = f"{self.where}: {self.problem}" if self.where else self.problem
        return f"{head}. {self.remedy}".strip()


class FaultBar(QFrame):
    """Shows the latest fault; those before it come back when it is dismissed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("faultBar")
        self.setAccessibleName(self.tr("Faults and their remedies"))
        self._faults: list[Fault] = []
        self._words = QLabel()
        self._words.setWordWrap(True)
        self._words.setTextFormat(Qt.TextFormat.PlainText)
        self._words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._more = QLabel()
        self._buttons = QHBoxLayout()
        dismiss = QToolButton()
        dismiss.setText("×")
        dismiss.setToolTip(self.tr("Dismiss (Ctrl+Backspace)"))
        dismiss.setAccessibleName(self.tr("Dismiss this message"))
        dismiss.clicked.connect(self.dismiss)
        sign = QLabel("!")
        bold = sign.font()
        bold.setBold(True)
        bold.setPointSizeF(bold.pointSizeF() * 1.4)
        sign.setFont(bold)
        sign.setAccessibleName(self.tr("Attention"))
        layout = QHBoxLayout(self)
        layout.setContentsMargins(10, 6, 8, 6)
        layout.addWidget(sign)
        layout.addWidget(self._words, 1)
        layout.addWidget(self._more)
        layout.addLayout(self._buttons)
        layout.addWidget(dismiss)
        self.hide()

    @property
    def faults(self) -> Sequence[Fault]:
        """Those not dismissed, the latest last."""
        return tuple(self._faults)

    def tell(self, fault: Fault) -> None:
        """Show a fault; the same one twice is shown once."""
        self._faults = [old for old in self._faults if old.words != fault.words][-MOST_FAULTS + 1 :]
        self._faults.append(fault)
        self._show()

    def dismiss(self) -> None:
        """Take the shown fault away."""
        if self._faults:
            self._faults.pop()
        self._show()

    def withdraw(self, gone: Callable[[Fault], bool]) -> None:
        """Take away faults whose trouble is over."""
        self._faults = [fault for fault in self._faults if not gone(fault)]
        self._show()

    def clear(self) -> None:
        """Take all away."""
        self._faults.clear()
        self._show()

    def _show(self) -> None:
        while (item := self._buttons.takeAt(0)) is not None:
            button = item.widget()
            if button is not None:
                button.hide()
                button.deleteLater()
        self.setVisible(bool(self._faults))
        if not self._faults:
            return
        fault = self._faults[-1]
        self._words.setText(fault.words)
        self._words.setAccessibleName(fault.words)
        others = len(self._faults) - 1
        self._more.setText(self.tr("and %n more", "", others) if others else "")
        for words, act in fault.actions:
            button = QPushButton(words)
            button.clicked.connect(lambda _checked=False, act=act, fault=fault: self._act(fault, act))
            self._buttons.addWidget(button)

    def _act(self, fault: Fault, act: Callable[[], object]) -> None:
        if fault in self._faults:
            self._faults.remove(fault)
        self._show()
        act()
