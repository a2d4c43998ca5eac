"""Third step: which lap is taught."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QSize, Qt, pyqtSignal
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.opening.small_widgets import LapSpeeds, PictureBox, image_of
from syncview.desk.work import Newest

if TYPE_CHECKING:
    from syncview.desk.opening.looks import FramePicture
    from syncview.desk.state import DeskState
    from syncview.progress import Progress
    from syncview.track.laps import Lap


class LapStep(QWidget):
    """The laps on the left; the chosen one's speed and first frame on the right."""

    readyChanged = pyqtSignal()  # noqa: N815 (Qt's way of naming signals)

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._asks = Newest(state.work, state.tell)
        self._laps: tuple[Lap, ...] = ()
        self.table = QTableWidget(0, 4)
        self.table.setAccessibleName(self.tr("Laps"))
        self.table.setHorizontalHeaderLabels([self.tr("Lap"), self.tr("Time"), self.tr("To best"), self.tr("Remark")])
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setShowGrid(False)
        self.table.setTabKeyNavigation(False)
        beside, above = self.table.verticalHeader(), self.table.horizontalHeader()
        assert beside is not None
        assert above is not None
        beside.hide()
        above.setSectionResizeMode(3, QHeaderView.ResizeMode.Stretch)
        self.table.itemSelectionChanged.connect(self._look_at_chosen)
        self.picture = PictureBox(least=QSize(240, 135))
        self.speeds = LapSpeeds()
        self._words = QLabel()
        self._words.setWordWrap(True)
        self._words.setObjectName("quiet")
        right = QVBoxLayout()
        right.addWidget(self.picture, 3)
        right.addWidget(self.speeds, 2)
        right.addWidget(self._words)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(16)
        row.addWidget(self.table, 4)
        row.addLayout(right, 6)
        state.sessionReady.connect(self._follow)

    @property
    def ready(self) -> bool:
        """Whether a lap is chosen."""
        return self.chosen is not None

    @property
    def waiting_for(self) -> str:
        """Why none is."""
        return self.tr("Reading…") if self._state.session is None else self.tr("Choose a lap")

    @property
    def chosen(self) -> Lap | None:
        """The chosen lap."""
        row = self.table.currentRow()
        return self._laps[row] if 0 <= row < len(self._laps) else None

    def enter(self) -> None:
        """List the laps."""
        self._list()
        self.table.setFocus()

    def _follow(self, _session: object) -> None:
        if self.isVisible():
            self._list()

    def _list(self) -> None:
        session = self._state.session
        self._laps = () if session is None else session.track.timed
        best = None if session is None else session.track.best
        self.table.setRowCount(len(self._laps))
        for row, lap in enumerate(self._laps):
            behind = ""
            if best is not None:
                behind = self.tr("best") if lap is best else f"{(lap.time_ms - best.time_ms) / 1e3:+.3f}"
            for column, text in enumerate((f"{lap.number}", lap_time(lap.time_ms), behind, lap.remark)):
                item = QTableWidgetItem(text)
                if column < 3:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, column, item)
        current = self._state.lap
        for row, lap in enumerate(self._laps):
            if current is not None and lap.number == current.number:
                self.table.selectRow(row)
        self._look_at_chosen()

    def _look_at_chosen(self) -> None:
        self.readyChanged.emit()
        lap, session, recording = self.chosen, self._state.session, self._state.recording
        if lap is None or session is None:
            return
        from syncview.desk.opening.looks import lap_speeds

        best = session.track.best
        lines = [] if best is None or best is lap else [(*lap_speeds(session, best.number), False)]
        lines.append((*lap_speeds(session, lap.number), True))
        compared = self.tr("speed over lap distance; dashed: the best lap")
        self.speeds.show_lines(lines, self.tr("speed over lap distance") if len(lines) == 1 else compared)
        saved = None if self._state.project is None else self._state.project.clock
        if saved is None or recording is None:
            return
        begin, end = (float(saved.clock.to_media_s(moment)) for moment in (lap.start_s, lap.end_s))
        inside = begin >= 0 and end <= recording.duration_s
        self._words.setText(
            self.tr("In the recording from %.1f s to %.1f s.") % (begin, end)
            if inside
            else self.tr("The recording does not show this lap whole: it can be looked at, but not taught.")
        )

        def look(_progress: Progress) -> list[FramePicture | None]:
            from syncview.desk.opening.looks import frames_at

            return frames_at(recording, [Fraction(begin)] if begin >= 0 else [Fraction(0)], width=640)

        def show(frames: list[FramePicture | None]) -> None:
            frame = frames[0]
            self.picture.show_picture(None if frame is None else image_of(frame.rgb), self.tr("Not recorded"))

        self._asks.ask(look, show)

    def commit(self) -> None:
        """Teach the chosen lap."""
        lap = self.chosen
        if lap is None or self._state.session is None:
            return
        best = self._state.session.track.best
        self._state.choose_lap(None if best is not None and lap.number == best.number else lap.number)


def lap_time(time_ms: int) -> str:
    """A lap time as it is read: 1:02.345."""
    minutes, rest = divmod(time_ms, 60_000)
    return f"{minutes}:{rest / 1000:06.3f}"
