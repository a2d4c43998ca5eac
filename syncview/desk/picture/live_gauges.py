"""Prepares gauges beside the window and draws those of the frame that is shown."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from PyQt6.QtCore import QObject, QRectF, pyqtSignal
from PyQt6.QtGui import QImage, QPainter

from syncview.desk.picture.loops import CornerStretch, corner_loops, corner_stretches
from syncview.desk.picture.screen_image import image_over
from syncview.desk.work import Newest
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.picture.fit import Fit
    from syncview.desk.picture.gauge_images import ScreenGauges
    from syncview.desk.picture.play_run import Loop
    from syncview.desk.state import DeskState
    from syncview.lesson.gauge_feed import GaugeFeed
    from syncview.lesson.lap_film import LapFilm
    from syncview.progress import Progress

_WARM_UP = 60
"""Moments of the lap that are drawn once beside the window, so that most figures are there when it shows them."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ready:
    film: LapFilm
    feed: GaugeFeed
    loops: tuple[Loop, ...]
    corners: tuple[CornerStretch, ...]
    gauges: ScreenGauges | None
    trouble: str


class LiveGauges(QObject):
    """Gauges of the taught lap for a picture of any size."""

    changed = pyqtSignal()
    """There are other gauges, or none."""

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._newest = Newest(state.work, self._failed)
        self._ready: _Ready | None = None
        self._size: tuple[int, int] | None = None
        self.trouble = ""
        """Why there are no gauges, as a sentence; empty when there are."""
        state.filmChanged.connect(self._follow_film)
        state.unitsChanged.connect(self._prepare)
        state.sessionReady.connect(self._prepare)

    @property
    def loops(self) -> tuple[Loop, ...]:
        """The corners of the taught lap as loops."""
        return () if self._ready is None else self._ready.loops

    @property
    def corners(self) -> tuple[CornerStretch, ...]:
        """The corners of the taught lap."""
        return () if self._ready is None else self._ready.corners

    def set_size(self, fit: Fit) -> None:
        """The picture's size in device pixels; other gauges follow soon, till then the old ones are scaled."""
        if self._size != (fit.width, fit.height):
            self._size = fit.width, fit.height
            self._prepare()

    def close(self) -> None:
        """Ask for nothing any more."""
        self._size = None
        self._newest.drop()

    def _follow_film(self, film: LapFilm | None) -> None:
        if film is None:
            self._newest.drop()
            self._ready = None
            self._tell_missing()
            self.changed.emit()
        else:
            self._prepare()

    def _tell_missing(self) -> None:
        if self._state.project is not None and self._state.session is not None and self._state.recording is not None:
            self.trouble = self.tr("No gauges: picture and data are not on one clock yet.")
        else:
            self.trouble = ""

    def _prepare(self) -> None:
        film, size = self._state.film, self._size
        if film is None or size is None:
            self._tell_missing()
            return
        self._newest.ask(lambda progress: _made(film, size, progress), self._take)

    def _take(self, ready: _Ready) -> None:
        self._ready, self.trouble = ready, ready.trouble
        self.changed.emit()

    def _failed(self, error: SyncviewError) -> None:
        self._ready, self.trouble = None, str(error)
        self.changed.emit()

    def paint(self, painter: QPainter, fit: Fit, media_s: Fraction) -> None:
        """Draw over the picture at `fit`, in device pixels."""
        ready = self._ready
        if ready is None or ready.gauges is None:
            return
        across, down = fit.width / ready.gauges.width, fit.height / ready.gauges.height
        for image in ready.gauges.images(ready.feed.at(media_s)):
            rows, columns = image.bgra.shape[:2]
            shown = image_over(image.bgra, QImage.Format.Format_ARGB32_Premultiplied)
            if (across, down) == (1.0, 1.0):
                painter.drawImage(fit.left + image.left, fit.top + image.top, shown)
            else:
                left, top = fit.left + image.left * across, fit.top + image.top * down
                painter.drawImage(QRectF(left, top, columns * across, rows * down), shown)


def _made(film: LapFilm, size: tuple[int, int], progress: Progress) -> _Ready:
    from syncview.desk.picture.gauge_images import ScreenGauges
    from syncview.gauges.arrangement import TooSmallError
    from syncview.lesson.corner_span import corner_spans
    from syncview.lesson.gauge_feed import GaugeFeed, usual_reference
    from syncview.lesson.render import panel_options

    spans = corner_spans(film.session, film.lap)
    loops, corners = corner_loops(film, spans), corner_stretches(film, spans)
    feed = GaugeFeed(film, spans, reference=usual_reference(film.session, film.lap))
    try:
        gauges = ScreenGauges(*size, panel_options(film.session))
    except TooSmallError:
        return _Ready(film, feed, loops, corners, None, "")
    span = film.span
    for at_s in np.linspace(float(span.begin_s), float(span.end_s), _WARM_UP):
        progress(0.0, "")
        for _image in gauges.images(feed.at(at_s)):
            pass
    return _Ready(film, feed, loops, corners, gauges, " ".join(gauges.notes))
