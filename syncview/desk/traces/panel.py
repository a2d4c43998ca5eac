"""The traces in the window: what is compared, over what, and the playhead they share with the picture."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtWidgets import QButtonGroup, QComboBox, QHBoxLayout, QLabel, QToolButton, QVBoxLayout, QWidget

from syncview.desk.traces.lines import AxisName, TraceSet, trace_set
from syncview.desk.traces.plot import TracePlot
from syncview.desk.traces.plot_data import Subject
from syncview.errors import SyncviewError
from syncview.lesson.gauge_feed import usual_reference
from syncview.track.laps import format_ms

if TYPE_CHECKING:
    from collections.abc import Callable

    from syncview.desk.state import DeskState
    from syncview.desk.work import Work
    from syncview.lesson.session import Session
    from syncview.progress import Progress
    from syncview.track.distance import Track
    from syncview.track.laps import Lap

USUAL, NOTHING = 0, -1
"""Choices of the reference besides a lap's number."""


class TracesPanel(QWidget):
    """Stacked traces under the window's playhead."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._traces: TraceSet | None = None
        self._reading: Work | None = None
        self._asked: tuple[Track, Lap | None] | None = None
        self._axis: AxisName = "distance"
        self._whole_session = False
        self._wanted_reference = USUAL
        self.plot = TracePlot()
        self.setFocusProxy(self.plot)
        self._bar = self._made_bar()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(self._bar)
        layout.addWidget(self.plot, 1)
        self.SHORTCUTS = self._shortcuts()
        self.plot.seek_asked.connect(self._seek)
        self.plot.view_changed.connect(self._tell_view)
        state.sessionReady.connect(self._take_session)
        state.filmChanged.connect(self._take_film)
        state.lapChanged.connect(self._take_lap)
        state.unitsChanged.connect(self._show)
        state.playheadMoved.connect(self._move_playhead)
        self._take_session(state.session)

    def _shortcuts(self) -> tuple[tuple[str, str], ...]:
        return (
            (self.tr("+  −"), self.tr("Traces: zoom about the playhead")),
            (self.tr("0"), self.tr("Traces: show all")),
            (self.tr("Shift+Left  Shift+Right"), self.tr("Traces: move the view")),
            (self.tr("Page Up  Page Down"), self.tr("Traces: zoom to the corner before or behind")),
            (self.tr("Home  End"), self.tr("Traces: playhead to the begin or end")),
            (self.tr("Wheel"), self.tr("Traces: zoom about the pointer; with Shift, move the view")),
            (self.tr("Drag"), self.tr("Traces: seek; with Shift, zoom to a stretch; on the scale, move the view")),
        )

    # The bar above the plot

    def _made_bar(self) -> QHBoxLayout:
        bar = QHBoxLayout()
        bar.setContentsMargins(6, 4, 6, 4)
        bar.setSpacing(4)
        self.by_distance, self.by_time = self._pair(
            bar,
            (self.tr("lap distance"), self.tr("Show the traces over lap distance: laps lie place by place")),
            (self.tr("time"), self.tr("Show the traces over time")),
            lambda second: self._choose_axis("time" if second else "distance"),
        )
        bar.addSpacing(10)
        self.one_lap, self.all_laps = self._pair(
            bar,
            (self.tr("this lap"), self.tr("Show the lap that is taught")),
            (self.tr("whole session"), self.tr("Show all laps")),
            self._choose_scope,
        )
        bar.addSpacing(10)
        label = QLabel(self.tr("compared with"))
        label.setObjectName("quiet")
        bar.addWidget(label)
        self.references = QComboBox()
        self._reference_tip = self.tr("The reference lap, drawn dashed behind at the same place of the lap (%s)")
        self.references.setAccessibleName(self.tr("Reference lap"))
        self.references.activated.connect(self._choose_reference)
        self.references.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.references.setMinimumContentsLength(8)
        self.references.setMaximumWidth(240)
        label.setBuddy(self.references)
        bar.addWidget(self.references, 3)
        bar.addStretch(1)
        self.zoom_out = self._button(bar, "−", self.tr("Show more (−)"), lambda: self.plot.zoom(1 / 0.7))
        self.zoom_in = self._button(bar, "+", self.tr("Zoom in about the playhead (+)"), lambda: self.plot.zoom(0.7))
        self.zoom_all = self._button(bar, self.tr("all"), self.tr("Show all (0)"), self.plot.show_all)
        return bar

    def _button(self, bar: QHBoxLayout, words: str, tip: str, slot: Callable[..., object] | None) -> QToolButton:
        button = QToolButton()
        button.setText(words)
        button.setToolTip(tip)
        button.setAccessibleName(tip)
        if slot is not None:
            button.clicked.connect(slot)
        bar.addWidget(button)
        return button

    def _pair(
        self, bar: QHBoxLayout, one: tuple[str, str], other: tuple[str, str], slot: Callable[..., object]
    ) -> tuple[QToolButton, QToolButton]:
        """Two buttons of which one is down."""
        group = QButtonGroup(self)
        buttons = [self._button(bar, words, tip, None) for words, tip in (one, other)]
        for button in buttons:
            button.setCheckable(True)
            group.addButton(button)
        buttons[0].setChecked(True)
        buttons[1].toggled.connect(slot)
        return buttons[0], buttons[1]

    def _choose_axis(self, axis: AxisName) -> None:
        self._axis = axis
        self._show()

    def _choose_scope(self, whole_session: bool) -> None:
        self._whole_session = whole_session
        self._show()

    def _choose_reference(self, _place: int) -> None:
        self._wanted_reference = int(self.references.currentData())
        self._read_traces()

    def _tell_view(self) -> None:
        view = self.plot.view
        self.zoom_in.setEnabled(view is not None and view.length > view.smallest)
        for button in (self.zoom_out, self.zoom_all):
            button.setEnabled(view is not None and not view.is_whole)

    def _list_references(self) -> None:
        self.references.blockSignals(True)
        self.references.clear()
        session, lap = self._state.session, self._state.lap
        if session is not None and lap is not None:
            usual = usual_reference(session, lap)
            if usual is not None:
                words = self.tr("best other: lap %d, %s") % (usual.number, format_ms(usual.time_ms))
                self.references.addItem(words, USUAL)
            for other in session.track.timed:
                if other.number != lap.number:
                    self.references.addItem(
                        self.tr("lap %d, %s") % (other.number, format_ms(other.time_ms)), other.number
                    )
            self.references.addItem(self.tr("nothing"), NOTHING)
        place = self.references.findData(self._wanted_reference)
        if place < 0:
            self._wanted_reference = USUAL
            place = self.references.findData(USUAL)
        self.references.setCurrentIndex(max(place, 0))
        self.references.setEnabled(self.references.count() > 1)
        self.references.setToolTip(self._reference_tip % self.references.currentText())
        self.references.blockSignals(False)

    def _reference(self, session: Session, lap: Lap | None) -> Lap | None:
        if lap is None or self._wanted_reference == NOTHING:
            return None
        if self._wanted_reference == USUAL:
            return usual_reference(session, lap)
        return next((one for one in session.track.timed if one.number == self._wanted_reference), None)

    # The state

    def _take_session(self, session: Session | None) -> None:
        self._traces = self._asked = None
        if session is None:
            if self._reading is not None:
                self._reading.cancel()
            self._list_references()
            self.plot.show_message(self.tr("The traces appear when a log is open."))
            self._tell_view()
            return
        self._read_traces()

    def _take_lap(self, _number: int) -> None:
        self._read_traces()

    def _take_film(self, _film: object) -> None:
        self._move_playhead(self._state.playhead_s)

    def _read_traces(self) -> None:
        """In a thread: a session of hours takes longer than the window may stand still."""
        session = self._state.session
        if session is None:
            return
        self._list_references()
        reference = self._reference(session, self._state.lap)
        if self._reading is not None:
            if self._asked == (session.track, reference):
                return
            self._reading.cancel()
        elif self._traces is not None and (self._traces.session.track, self._traces.reference) == (
            session.track, reference
        ):  # fmt: skip
            self._show()
            return
        self._asked = (session.track, reference)
        if self._traces is None:
            self.plot.show_message(self.tr("Reading the channels …"))

        def read(_progress: Progress) -> TraceSet:
            return trace_set(session, reference)

        self._reading = self._state.work.run(read, done=self._take_traces, failed=self._fail)

    def _take_traces(self, traces: TraceSet) -> None:
        self._reading, self._traces = None, traces
        self._show()

    def _fail(self, error: SyncviewError) -> None:
        self._reading = None
        self.plot.show_message(str(error))
        self._state.tell(error, where=self.tr("traces"))

    def _show(self, _units: str = "") -> None:
        if self._traces is None:
            return
        lap = None if self._whole_session else self._state.lap
        self.plot.show_subject(Subject.of(self._traces, self._axis, lap, self._state.units))
        self._move_playhead(self._state.playhead_s)
        self._tell_view()

    def _move_playhead(self, media_s: Fraction) -> None:
        log_s = None if self._state.clock is None else self._state.clock.to_log_s(float(media_s))
        self.plot.set_playhead(log_s, follow=self._state.moved_by is not self)

    def _seek(self, log_s: float) -> None:
        if self._state.clock is None:
            problem = self.tr("picture and data are not on one clock yet")
            remedy = self.tr("Match them first; then the traces lead the film.")
            self._state.tell(SyncviewError(problem, remedy), where=self.tr("traces"))
            return
        media_s = self._state.clock.to_media_s(log_s)
        if media_s == media_s:
            self._state.move_playhead(Fraction(media_s), by=self)
