"""The map in the window: the taught lap, and the playhead it shares with picture and traces."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from PyQt6.QtWidgets import QVBoxLayout, QWidget

from syncview.desk.map.course import LapCourse, lap_course
from syncview.desk.map.plot import MapPlot
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.desk.work import Work
    from syncview.progress import Progress


class MapPanel(QWidget):
    """The lap from above under the window's playhead."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._reading: Work | None = None
        self.plot = MapPlot()
        self.setFocusProxy(self.plot)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.plot)
        self.SHORTCUTS = (
            (self.tr("Page Up  Page Down"), self.tr("Map: playhead to where the corner before or behind begins")),
            (self.tr("Up  Down"), self.tr("Map: playhead forward or back along the lap")),
            (self.tr("Home  End"), self.tr("Map: playhead to the begin or end of the lap")),
            (self.tr("Click, drag"), self.tr("Map: playhead to the nearest place of the lap")),
        )
        self.plot.seek_asked.connect(self._seek)
        state.sessionReady.connect(self._read)
        state.lapChanged.connect(self._read)
        state.unitsChanged.connect(self._take_units)
        state.filmChanged.connect(self._take_film)
        state.playheadMoved.connect(self._move_dot)
        self._read(None)

    def _read(self, _what: object) -> None:
        """In a thread: facts of all corners take longer than the window may stand still."""
        session, lap = self._state.session, self._state.lap
        if self._reading is not None:
            self._reading.cancel()
            self._reading = None
        if session is None or lap is None:
            waiting = session is None
            self.plot.show_message(
                self.tr("The map appears when a log is open.") if waiting else self.tr("Choose a lap to see its map.")
            )
            return
        if self.plot.course is None:
            self.plot.show_message(self.tr("Drawing the map …"))

        def read(_progress: Progress) -> LapCourse:
            return lap_course(session, lap)

        self._reading = self._state.work.run(read, done=self._take_course, failed=self._fail)

    def _take_course(self, course: LapCourse) -> None:
        self._reading = None
        self._show(course)

    def _fail(self, error: SyncviewError) -> None:
        self._reading = None
        self.plot.show_message(str(error))
        self._state.tell(error, where=self.tr("map"))

    def _take_units(self, _units: str) -> None:
        if self.plot.course is not None:
            self._show(self.plot.course)

    def _show(self, course: LapCourse) -> None:
        session = self._state.session
        markers = () if session is None or session.circuit is None else session.circuit.markers
        self.plot.show_course(course, self._state.units, markers)
        self._move_dot(self._state.playhead_s)

    def _take_film(self, _film: object) -> None:
        self._move_dot(self._state.playhead_s)

    def _move_dot(self, media_s: Fraction) -> None:
        session, lap = self._state.session, self._state.lap
        if session is None or self._state.clock is None:
            self.plot.set_dot(None)
            return
        log_s = self._state.clock.to_log_s(float(media_s))
        course_m = float(session.track.course_at(np.array(log_s)))
        if not math.isfinite(course_m):
            self.plot.set_dot(None)
            return
        taught = lap is not None and lap.start_s <= log_s <= lap.end_s
        self.plot.set_dot(course_m % session.track.lap_length_m, full=taught)

    def _seek(self, lap_m: float) -> None:
        """In the taught lap, whichever is under way."""
        session, course = self._state.session, self.plot.course
        if self._state.clock is None or session is None or course is None:
            problem = self.tr("picture and data are not on one clock yet")
            remedy = self.tr("Match them first; then the map leads the film.")
            self._state.tell(SyncviewError(problem, remedy), where=self.tr("map"))
            return
        log_s = float(session.track.traces[course.lap.number].log_s_at(np.array(lap_m)))
        media_s = self._state.clock.to_media_s(log_s) if math.isfinite(log_s) else math.nan
        if math.isfinite(media_s):
            self._state.move_playhead(Fraction(media_s), by=self)
