"""Shapes and lines of verdicts, painted the same in the list and beside the text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QTextLayout, QTextOption

if TYPE_CHECKING:
    from syncview.desk.theme import Theme
    from syncview.gauges.palette import Colour
    from syncview.notes.check import Outcome


def colour_of(outcome: Outcome, theme: Theme) -> Colour:
    """The colour of a verdict: it goes with its shape and its words, never alone."""
    return {"agree": theme.ahead, "disagree": theme.brake, "cannot tell": theme.quiet}[outcome]


def draw_shape(painter: QPainter, outcome: Outcome, box: QRectF, theme: Theme) -> None:
    """Agrees: a tick. Disagrees: two bars, struck through. Cannot tell: an open ring."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = QColor(*colour_of(outcome, theme))
    width = max(1.6, box.width() / 7)
    pen = QPen(colour, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    x, y, side = box.x(), box.y(), box.width()
    if outcome == "agree":
        tick = [(0.12, 0.55), (0.4, 0.82), (0.9, 0.2)]
        painter.drawPolyline(QPolygonF([QPointF(x + a * side, y + b * side) for a, b in tick]))
    elif outcome == "disagree":
        for (a, b), (c, d) in (((0.05, 0.33), (0.95, 0.33)), ((0.05, 0.67), (0.95, 0.67)), ((0.28, 1.0), (0.72, 0.0))):
            painter.drawLine(QPointF(x + a * side, y + b * side), QPointF(x + c * side, y + d * side))
    else:
        painter.drawEllipse(box.adjusted(width, width, -width, -width))
    painter.restore()


def wrapped(text: str, font: QFont, width: float, *, most: int = 0) -> list[str]:
    """The lines of a text in a column; with `most`, no more than these, the last ending in an ellipsis if cut."""
    lines: list[str] = []
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    for paragraph in text.split("\n"):
        layout = QTextLayout(paragraph, font)
        layout.setTextOption(option)
        units = paragraph.encode("utf-16-le")  # Qt counts in these
        layout.beginLayout()
        begin = len(lines)
        while (line := layout.createLine()).isValid():
            line.setLineWidth(max(width, 20.0))
            first = line.textStart()
            lines.append(units[2 * first : 2 * (first + line.textLength())].decode("utf-16-le").rstrip())
            if most and len(lines) > most:
                break
        layout.endLayout()
        if len(lines) == begin:
            lines.append("")
        if most and len(lines) > most:
            last = QFontMetricsF(font).elidedText(lines[most - 1] + " …", Qt.TextElideMode.ElideRight, width)
            return [*lines[: most - 1], last if last.endswith("…") else f"{last}…"]
    return lines


def draw_lines(painter: QPainter, lines: Sequence[str], x: float, y: float) -> float:
    """Draw lines one below the other; the height that they took."""
    metrics = QFontMetricsF(painter.font())
    for i, line in enumerate(lines):
        painter.drawText(QPointF(x, y + metrics.ascent() + i * metrics.lineSpacing()), line)
    return len(lines) * metrics.lineSpacing()
