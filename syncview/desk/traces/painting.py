"""Paints the traces, without the playhead: once for every zoom, pan or size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PyQt6 import sip
from PyQt6.QtCore import QPointF, QRect, QRectF, Qt
from PyQt6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPen

from syncview.desk.theme import Theme, mixed
from syncview.desk.traces.lines import RowKey
from syncview.desk.traces.plot_data import CORNERS_PX, HEAD_PX, Frame
from syncview.desk.traces.scale import mark_words
from syncview.desk.traces.scene import RowPlace
from syncview.desk.traces.spans import column_edges, column_spans
from syncview.desk.traces.ticks import scale_ticks
from syncview.desk.traces.words import axis_words, left_out_words, missing_words, title_of, tr, unit_words
from syncview.gauges.palette import Colour

Pixels = NDArray[np.float64]

OWN_PX, REFERENCE_PX = 1.7, 1.3
DASH_PX, DASH_GAP_PX = 6.0, 4.0
STEEP_PX = 4.0
"""Dashes have no gaps where the trace is steeper than this in a column: an edge must not vanish in one."""
PLACE_PX = 220.0
"""Room in the head for where the playhead is."""
DENSE = 60
"""With more samples than this in a column, traces are bands: smoothing their ends would take time and show nothing."""
STRIPE_PX = 9.0
"""Corners and markers that lie closer than this on average would be stripes: nothing could be told from them."""
FILL_SHARE = 0.26
"""How much of the trace's colour is in the area below it."""


@dataclass(frozen=True, slots=True)
class Fonts:
    """Made once for a plot."""

    usual: QFont
    bold: QFont
    small: QFont
    small_metrics: QFontMetricsF

    @classmethod
    def of(cls, font: QFont) -> Fonts:
        """From the widget's own."""
        bold, small = QFont(font), QFont(font)
        bold.setBold(True)
        size = font.pointSizeF() if font.pointSizeF() > 0 else 9.0
        small.setPointSizeF(size * 0.84)
        return cls(QFont(font), bold, small, QFontMetricsF(small))


def colour(value: Colour) -> QColor:
    """A colour of the theme for Qt."""
    return QColor(*value)


def paint_frame(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts, scale: float) -> None:
    """Paint everything that stays while the playhead moves; `scale`: device pixels per logical pixel."""
    painter.fillRect(QRectF(0, 0, frame.width, frame.height), colour(theme.panel))
    _paint_corners(painter, frame, theme, fonts)
    rows = frame.rows()
    for place in rows:
        _paint_row(painter, frame, place, theme, fonts)
    _paint_scale(painter, frame, theme, fonts)
    _paint_markers(painter, frame, theme, fonts)
    _paint_traces(painter, frame, rows, theme, scale)
    _paint_legend(painter, frame, theme, fonts)


def trace_colour(key: RowKey, theme: Theme) -> Colour:
    """Pedals have colours of their own; every trace has its row and its name."""
    return {"brake": theme.brake, "throttle": theme.throttle}.get(key, theme.ink)


def _paint_corners(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts) -> None:
    """A band for each corner, with its number above: on a full plate, or on an open one where it is flat."""
    marks = frame.subject.marks.corners_between(frame.view.begin, frame.view.end)
    if len(marks) > (frame.right - frame.left) / STRIPE_PX:
        return
    band = colour(mixed(theme.panel, theme.quiet, 0.15))
    painter.setFont(fonts.small)
    free_from = frame.left
    for mark in marks:
        begin, end = max(frame.px(mark.begin), frame.left), min(frame.px(mark.end), frame.right)
        painter.fillRect(QRectF(begin, frame.top, end - begin, frame.bottom - frame.top), band)
        words = str(mark.corner.number)
        width = fonts.small_metrics.horizontalAdvance(words) + 9
        middle = frame.px(mark.apex)
        if middle - width / 2 < free_from or middle + width / 2 > frame.right:
            continue
        free_from = middle + width / 2 + 2
        plate = QRectF(middle - width / 2, HEAD_PX + 2, width, CORNERS_PX - 5)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(colour(theme.ink), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush if mark.corner.flat else colour(theme.ink))
        painter.drawRoundedRect(plate, 5, 5)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(colour(theme.ink if mark.corner.flat else theme.panel))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, words)


def _paint_row(painter: QPainter, frame: Frame, place: RowPlace, theme: Theme, fonts: Fonts) -> None:
    """Name, unit and scale of a trace, or what is missing."""
    row, small = place.row, fonts.small_metrics
    if row.number is None:
        painter.setFont(fonts.small)
        painter.setPen(colour(theme.quiet))
        where = QRectF(8, place.top, frame.right - 8, place.height)
        painter.drawText(where, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, missing_words(row))
        return
    value_range = frame.subject.ranges[row.key]
    grid = QPen(colour(mixed(theme.panel, theme.line, 0.75)), 1)
    if frame.subject.traces.reference is not None and row.key != "gap" and place.height > 2.1 * small.height():
        y = place.top + 2.05 * small.height() - small.capHeight() / 2
        _dashes(painter, frame.right + 9, y, 2, theme)
    last_y = place.bottom + 100.0
    painter.setFont(fonts.small)
    for mark in value_range.marks:
        y = place.y((mark - value_range.low) / (value_range.high - value_range.low))
        painter.setPen(grid)
        painter.drawLine(QPointF(frame.left, round(y) + 0.5), QPointF(frame.right, round(y) + 0.5))
        if last_y - y < small.height() * 0.95:
            continue
        last_y = y
        words = mark_words(row.key, mark, frame.subject.units)
        painter.setPen(colour(theme.quiet))
        if place.height > 1.6 * small.height():
            painter.drawText(QPointF(frame.left - 5 - small.horizontalAdvance(words), y + small.capHeight() / 2), words)
    painter.setPen(colour(theme.ink))
    painter.setFont(fonts.usual)
    painter.drawText(QPointF(8, place.top + small.height()), title_of(row.key))
    unit = unit_words(row.key, frame.subject.units)
    if unit and place.height > 2.2 * small.height():
        painter.setFont(fonts.small)
        painter.setPen(colour(theme.quiet))
        painter.drawText(QPointF(8, place.top + 2.05 * small.height()), unit)


def _paint_scale(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts) -> None:
    subject, small = frame.subject, fonts.small_metrics
    painter.setFont(fonts.small)
    painter.setPen(colour(theme.quiet))
    base = frame.scale_top + small.ascent() + 3
    caption = axis_words(subject.axis, subject.units, whole_session=subject.lap is None)
    painter.drawText(QPointF(8, base), small.elidedText(caption, Qt.TextElideMode.ElideRight, frame.left - 12))
    most = max(int((frame.right - frame.left) / 78), 1)
    free_from = frame.left
    for tick in scale_ticks(subject.traces, subject.axis, subject.lap, frame.view.begin, frame.view.end,
                            most=most, units=subject.units):  # fmt: skip
        x = round(frame.px(tick.x)) + 0.5
        crossing = not tick.words
        words = tick.words or (tr("lap %d") % tick.lap if tick.lap is not None else "")
        painter.setPen(QPen(colour(theme.quiet if crossing else mixed(theme.panel, theme.line, 0.5)), 1))
        painter.drawLine(QPointF(x, frame.top), QPointF(x, frame.scale_top + 4))
        width = small.horizontalAdvance(words)
        left = min(max(x - width / 2, frame.left), frame.right - width)
        if left >= free_from:
            painter.setPen(colour(theme.ink if crossing else theme.quiet))
            painter.drawText(QPointF(left, base), words)
            free_from = left + width + 8


def _paint_markers(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts) -> None:
    """A dotted line at each marker; its words below where there is room."""
    small = fonts.small_metrics
    dots = QBrush(colour(theme.quiet), Qt.BrushStyle.HorPattern)
    free_from = frame.left
    marks = frame.subject.marks.markers_between(frame.view.begin, frame.view.end)
    if len(marks) > (frame.right - frame.left) / STRIPE_PX:
        return
    painter.setFont(fonts.small)
    for mark in marks:
        x = round(frame.px(mark.x)) + 0.5
        painter.fillRect(QRectF(x - 0.5, frame.top, 1, frame.bottom + 3 - frame.top), dots)
        words = mark.marker.words
        width = small.horizontalAdvance(words)
        if frame.names_markers and x - width / 2 >= free_from and x + width / 2 <= frame.right:
            painter.setPen(colour(theme.quiet))
            painter.drawText(QPointF(x - width / 2, frame.bottom + small.ascent() + 1), words)
            free_from = x + width / 2 + 8


def _paint_legend(painter: QPainter, frame: Frame, theme: Theme, fonts: Fonts) -> None:
    """How the reference lap is drawn, at the right of the head."""
    reference, small = frame.subject.traces.reference, fonts.small_metrics
    painter.setFont(fonts.small)
    painter.setPen(colour(theme.quiet))
    base, right = HEAD_PX / 2 + small.capHeight() / 2, frame.right
    left_out = frame.left_out()
    if left_out:
        words = small.elidedText(left_out_words(left_out), Qt.TextElideMode.ElideRight, (right - frame.left) * 0.5)
        right -= small.horizontalAdvance(words)
        painter.drawText(QPointF(right, base), words)
        right -= 24
    if reference is None:
        return
    words = tr("lap %d, the reference") % reference.number
    left = right - small.horizontalAdvance(words) - 34
    if left > frame.left + PLACE_PX:
        _dashes(painter, left, HEAD_PX / 2, 3, theme)
        painter.setPen(colour(theme.quiet))
        painter.drawText(QPointF(left + 34, base), words)


def _dashes(painter: QPainter, left: float, y: float, count: int, theme: Theme) -> None:
    """A sample of the reference's line beside words; as areas, since Qt's dashed pens take milliseconds."""
    for number in range(count):
        dash = QRectF(left + number * (DASH_PX + DASH_GAP_PX), y - REFERENCE_PX / 2, DASH_PX, REFERENCE_PX)
        painter.fillRect(dash, colour(reference_colour(theme)))


def reference_colour(theme: Theme) -> Colour:
    """Quieter than the lap's own traces."""
    return mixed(theme.quiet, theme.panel, 0.12)


def _paint_traces(painter: QPainter, frame: Frame, rows: tuple[RowPlace, ...], theme: Theme, scale: float) -> None:
    """In device pixels: one bar in every column, as high as the trace goes there.

    Bars are many times quicker than Qt's strokes of polygons, and exact: their ends are smoothed, their sides lie on
    pixels (measured: 0.3 ms a trace, against 70 ms for a polyline wider than a pixel).
    """
    first, stop = round(frame.left * scale), round(frame.right * scale)
    subject = frame.subject
    edges = column_edges(frame.view.begin, frame.view.end, stop - first)
    low, high = column_spans(subject.traces, subject.axis, edges)
    x = np.arange(first, stop, dtype=np.float64)
    width = max(round(scale), 1)
    dashed = (np.arange(x.size) / scale) % (DASH_PX + DASH_GAP_PX) < DASH_PX
    painter.save()
    painter.scale(1 / scale, 1 / scale)
    shown = np.searchsorted(subject.traces.x(subject.axis), (frame.view.begin, frame.view.end))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, bool(np.diff(shown)[0] < DENSE * (stop - first)))
    for place in rows:
        number = place.row.number
        if number is None:
            continue
        band = _Band.of(frame, place, scale)
        upper, lower = band.y(high[number]), band.y(low[number])
        _paint_area(painter, band, place.row.key, x, (upper, lower), theme)
        other = number + subject.traces.own_rows
        if place.row.key != "gap" and subject.traces.reference is not None:
            top, bottom = band.y(high[other]), band.y(low[other])
            seen = (top < upper) | (bottom > lower) | np.isnan(upper)  # the rest would be painted over
            inked = seen & (dashed | (bottom - top > STEEP_PX * scale))
            _draw_columns(painter, x[inked], band.stroke(top[inked], bottom[inked], REFERENCE_PX * scale),
                          colour(reference_colour(theme)))  # fmt: skip
        _draw_columns(
            painter, x, band.stroke(upper, lower, OWN_PX * scale), colour(trace_colour(place.row.key, theme)), width
        )
    painter.restore()


@dataclass(frozen=True, slots=True)
class _Band:
    """A row in device pixels."""

    top: float
    bottom: float
    low: float
    high: float
    zero: float
    """Where nought lies, inside the row."""

    @classmethod
    def of(cls, frame: Frame, place: RowPlace, scale: float) -> _Band:
        value_range = frame.subject.ranges[place.row.key]
        top, bottom = place.top * scale, place.bottom * scale
        share = min(max(-value_range.low / (value_range.high - value_range.low), 0.0), 1.0)
        return cls(top, bottom, value_range.low, value_range.high, bottom - share * (bottom - top))

    def y(self, values: NDArray[np.float32]) -> Pixels:
        """Where values lie, beyond the row too."""
        per_value = (self.bottom - self.top) / (self.high - self.low)
        return self.bottom - (values.astype(np.float64) - self.low) * per_value

    def stroke(self, upper: Pixels, lower: Pixels, thickness: float) -> tuple[Pixels, Pixels]:
        """Upper and lower end of the ink, inside the row; NaN where there is none."""
        upper, lower = upper - thickness / 2, lower + thickness / 2
        outside = (lower < self.top) | (upper > self.bottom)
        upper = np.where(outside, np.nan, np.maximum(upper, self.top))
        return upper, np.minimum(lower, self.bottom)


def _paint_area(
    painter: QPainter, band: _Band, key: RowKey, x: Pixels, span: tuple[Pixels, Pixels], theme: Theme
) -> None:
    """The area between a pedal's or the gap's trace and nought."""
    upper, lower = span
    if key in ("brake", "throttle"):
        tone = _thin(trace_colour(key, theme), FILL_SHARE)
        _draw_columns(painter, x, band.stroke(lower, np.full(x.size, band.zero), 0.0), tone)
    elif key == "gap":
        for side, ends in (
            (theme.behind, (lower, np.full(x.size, band.zero))),
            (theme.ahead, (np.full(x.size, band.zero), upper)),
        ):
            there = ends[0] < ends[1]
            strokes = band.stroke(ends[0][there], ends[1][there], 0.0)
            _draw_columns(painter, x[there], strokes, _thin(side, 2 * FILL_SHARE))


def _thin(value: Colour, share: float) -> QColor:
    """A colour that lets what lies below shine through."""
    tone = colour(value)
    tone.setAlphaF(share)
    return tone


def _draw_columns(painter: QPainter, x: Pixels, ends: tuple[Pixels, Pixels], tone: QColor, width: int = 1) -> None:
    """Bars from one end to the other; `width` in device pixels, so that steep parts are no thinner than flat ones."""
    there = ends[1] > ends[0]  # false for NaN
    count = int(there.sum())
    if not count:
        return
    left, top, bottom = x[there] - (width - 1) // 2, ends[0][there], ends[1][there]
    columns: Any
    if painter.testRenderHint(QPainter.RenderHint.Antialiasing):
        columns = sip.array(QRectF, count)  # type: ignore[call-arg] # its stub lacks the constructor
        numbers = np.frombuffer(columns, dtype=np.float64).reshape(count, 4)
        numbers[:, 0], numbers[:, 1], numbers[:, 2], numbers[:, 3] = left, top, width, bottom - top
    else:  # half the time; a QRect holds its first and last pixels
        columns = sip.array(QRect, count)  # type: ignore[call-arg]
        pixels = np.frombuffer(columns, dtype=np.int32).reshape(count, 4)
        pixels[:, 0], pixels[:, 1], pixels[:, 2] = left, np.rint(top), left + width - 1
        pixels[:, 3] = np.maximum(np.rint(bottom) - 1, pixels[:, 1])
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(tone)
    painter.drawRects(columns)
