"""How loud the microphone is, as a bar with its loudest moment, and in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PyQt6.QtCore import QRectF, QSize
from PyQt6.QtGui import QColor, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from syncview.desk import theme
from syncview.desk.notes.sound_blocks import shown_share

if TYPE_CHECKING:
    from syncview.desk.notes.sound_blocks import Level

GOOD_PEAK_DB = (-20.0, -3.0)
"""A voice whose peaks lie here is well set (common practice, no source)."""
PEAK_FALLS_DB = 1.5
"""Per block: the mark of the loudest moment sinks slowly."""


class LevelMeter(QWidget):
    """Fed by the recorder."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._rms_db = self._peak_db = -math.inf
        self._clipped = False
        self._told = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Loudness of the microphone"))

    def show_level(self, level: Level | None) -> None:
        """Show a block's level; None before the first."""
        if level is None:
            self._rms_db = self._peak_db = -math.inf
            self._clipped = False
        else:
            self._rms_db = level.rms_db
            self._peak_db = max(level.peak_db, self._peak_db - PEAK_FALLS_DB)
            self._clipped = self._clipped or level.clipped
        told = self.words
        if told != self._told:
            self._told = told
            self.setAccessibleDescription(told)
        self.update()

    @property
    def words(self) -> str:
        """What the person should do."""
        if self._clipped:
            return self.tr("too loud: move away from the microphone")
        if self._peak_db < -50:
            return self.tr("nothing is heard yet")
        if self._peak_db < GOOD_PEAK_DB[0]:
            return self.tr("soft: come nearer")
        return self.tr("good") if self._peak_db <= GOOD_PEAK_DB[1] else self.tr("loud: a little further away")

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """A low bar."""
        return QSize(120, self.fontMetrics().height() + 12)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """It may be short."""
        return QSize(80, self.fontMetrics().height() + 12)

    def paintEvent(self, _event: QPaintEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Bar, mark of the peak, words."""
        look, painter = theme.current(), QPainter(self)
        bar = QRectF(0, 0, self.width(), 9)
        painter.fillRect(bar, QColor(*look.raised))
        rms, peak = shown_share(self._rms_db), shown_share(self._peak_db)
        painter.fillRect(QRectF(0, 0, rms * bar.width(), 9), QColor(*(look.brake if self._clipped else look.accent)))
        low, high = (shown_share(level) * bar.width() for level in GOOD_PEAK_DB)
        painter.setPen(QColor(*look.quiet))
        painter.drawRect(QRectF(low, 0, high - low, 8.5))
        if peak > 0:
            painter.fillRect(QRectF(min(peak * bar.width(), bar.width() - 3), 0, 3, 9), QColor(*look.ink))
        painter.setPen(QColor(*look.ink))
        painter.drawText(QRectF(0, 11, self.width(), self.height() - 11), self.words)
