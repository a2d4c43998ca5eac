"""What moves above the painted traces: the playhead, and the values that it crosses."""

from __future__ import annotations

from PyQt6.QtCore import QPointF, QRect, QRectF
from PyQt6.QtGui import QPainter

from syncview.desk.theme import Theme
from syncview.desk.traces.painting import Fonts, colour, reference_colour
from syncview.desk.traces.plot_data import CORNERS_PX, HEAD_PX, Frame
from syncview.desk.traces.readout import Readout
from syncview.desk.traces.scale import words_of
from syncview.desk.traces.scene import RowPlace

LINES, COMPARED_LINES = 1.35, 2.35
"""Height of a value, and of a value with the reference's below it, in lines of small words."""


def playhead_places(frame: Frame, px: float) -> list[QRect]:
    """What a playhead there may paint upon."""
    line = QRect(round(px) - 3, HEAD_PX, 6, round(frame.height) - HEAD_PX)
    return [line, QRect(round(px) - 11, HEAD_PX - 2, 22, CORNERS_PX)]


def paint_playhead(painter: QPainter, frame: Frame, theme: Theme, *, x: float | None) -> None:
    """A line with a head; an arrow at the edge when the playhead lies beyond it."""
    if x is None:
        return
    px, tone = min(max(frame.px(x), frame.left), frame.right), colour(theme.playhead)
    if frame.view.begin <= x <= frame.view.end:
        painter.fillRect(QRectF(px - 0.75, HEAD_PX, 1.5, frame.scale_top + 4 - HEAD_PX), tone)
        painter.fillRect(QRectF(px - 5, HEAD_PX - 2, 10, 4), tone)
    else:
        before = x < frame.view.begin
        painter.setPen(tone)
        painter.drawText(QPointF(px - (0 if before else 10), HEAD_PX + 12), "◂" if before else "▸")


def head_place(words: str, fonts: Fonts) -> QRect:
    """Where the words above the traces stand."""
    return QRect(0, 0, 16 + round(1.3 * fonts.small_metrics.horizontalAdvance(words)), HEAD_PX)


def value_places(frame: Frame, rows: tuple[RowPlace, ...], fonts: Fonts) -> list[QRect]:
    """Where words change with the playhead; small, for painting costs by the row of pixels."""
    line, left = fonts.small_metrics.height(), round(frame.right) + 8
    places = []
    for place in rows:
        lines = COMPARED_LINES if _is_compared(frame, place, fonts) else LINES
        places.append(QRect(left, round(place.top), round(frame.width) - left, round(lines * line)))
    return places


def paint_values(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts, *, rows: tuple[RowPlace, ...],
                 readout: Readout, head: str) -> None:  # fmt: skip
    """Where the playhead is (`head`), above the traces; at their right what it crosses, own value and reference's."""
    units, left, line = frame.subject.units, frame.right + 9, fonts.small_metrics.height()
    painter.setFont(fonts.usual)
    painter.setPen(colour(theme.ink))
    painter.drawText(QPointF(8, HEAD_PX / 2 + line / 2 - 2), head)
    painter.setFont(fonts.bold)
    for place in rows:
        words = words_of(place.row.key, readout.own.get(place.row.key), units)
        painter.drawText(QPointF(left, place.top + line), words)
    painter.setFont(fonts.small)
    painter.setPen(colour(reference_colour(theme)))
    for place in rows:
        if _is_compared(frame, place, fonts):
            words = words_of(place.row.key, readout.reference.get(place.row.key), units)
            painter.drawText(QPointF(left + 21, place.top + 2.05 * line), words)


def _is_compared(frame: Frame, place: RowPlace, fonts: Fonts) -> bool:
    """Whether the reference's value stands below the own: where there is one, and room for it."""
    compared = frame.subject.traces.reference is not None and place.row.key != "gap"
    return compared and place.height > 2.1 * fonts.small_metrics.height()
