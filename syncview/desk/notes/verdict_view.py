"""The verdicts of one note, each with its shape and its words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PyQt6.QtCore import QRectF, QSize
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme
from syncview.desk.notes import words
from syncview.desk.notes.painting import draw_lines, draw_shape, wrapped

if TYPE_CHECKING:
    from syncview.desk.notes.verdict_lines import NoteCheck
    from syncview.notes.check import Outcome

GAP_PX = 3


@dataclass(frozen=True, slots=True)
class Told:
    """One line to show: a shape (or none) and words."""

    outcome: Outcome | None
    words: str


def told_in_full(check: NoteCheck | None, *, why_not: str = "") -> tuple[Told, ...]:
    """Every claim; why nothing is said without a check."""
    if check is None:
        return (Told(None, why_not),) if why_not else ()
    if not check.lines:
        return (Told(None, words.tr("nothing in it that can be checked")),)
    order: dict[Outcome, int] = {"disagree": 0, "cannot tell": 1, "agree": 2}
    lines = sorted(check.lines, key=lambda line: order[line.outcome])
    return tuple(Told(line.outcome, words.verdict(line)) for line in lines)


def told_in_short(check: NoteCheck | None) -> tuple[Told, ...]:
    """What is wrong in full, the rest counted."""
    if check is None:
        return ()
    told = [Told("disagree", words.verdict(line)) for line in check.wrong]
    rest = words.counts(check)
    if rest:
        told.append(Told("agree" if check.count("agree") else "cannot tell", rest))
    return tuple(told)


class ToldLines:
    """Lines set into a column of some width; kept until words, width or font change."""

    def __init__(self) -> None:
        self._made_for: tuple[object, ...] = ()
        self._blocks: list[tuple[Told, list[str]]] = []
        self.height = 0.0

    def lay(self, told: tuple[Told, ...], font: QFont, width: float) -> float:
        """Break the lines; the height that they need."""
        made_for = (told, font.key(), width)
        if made_for != self._made_for:
            self._made_for = made_for
            metrics = QFontMetricsF(font)
            indent = indent_px(metrics)
            self._blocks = [(one, wrapped(one.words, font, width - indent)) for one in told]
            lines = sum(len(lines) for _, lines in self._blocks)
            self.height = lines * metrics.lineSpacing() + GAP_PX * max(0, len(told) - 1)
        return self.height

    def draw(self, painter: QPainter, x: float, y: float) -> None:
        """Draw what was laid."""
        look, metrics = theme.current(), QFontMetricsF(painter.font())
        side = metrics.ascent() * 0.9
        for told, lines in self._blocks:
            if told.outcome is not None:
                box = QRectF(x, y + (metrics.lineSpacing() - side) / 2, side, side)
                draw_shape(painter, told.outcome, box, look)
            painter.setPen(QColor(*(look.ink if told.outcome == "disagree" else look.quiet)))
            y += draw_lines(painter, lines, x + indent_px(metrics), y) + GAP_PX


def indent_px(metrics: QFontMetricsF) -> float:
    """Room for the shape before the words."""
    return metrics.ascent() * 0.9 + 7


class VerdictView(QWidget):
    """Shows them below the text that is written."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._told: tuple[Told, ...] = ()
        self._lines = ToldLines()
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName(self.tr("What the data say"))

    def show_told(self, told: tuple[Told, ...]) -> None:
        """Show other verdicts."""
        if told != self._told:
            self._told = told
            self.setAccessibleDescription("; ".join(one.words for one in told))
            self.setVisible(bool(told))
            self.updateGeometry()
            self.update()

    @property
    def told(self) -> tuple[Told, ...]:
        """What is shown."""
        return self._told

    def hasHeightForWidth(self) -> bool:  # noqa: N802 (Qt's name)
        """Narrow columns are higher."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 (Qt's name)
        """All lines."""
        return round(self._lines.lay(self._told, self.font(), width) + 2)

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """As wide as it is."""
        width = max(self.width(), 200)
        return QSize(200, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """It may be narrow."""
        return QSize(120, self.heightForWidth(max(self.width(), 120)))

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Another width, another height."""
        super().resizeEvent(event)
        self.updateGeometry()

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Paint the lines."""
        painter = QPainter(self)
        painter.setFont(self.font())
        self._lines.lay(self._told, self.font(), self.width())
        self._lines.draw(painter, 0, 1)
