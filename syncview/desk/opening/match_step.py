"""Second step: picture and data on one clock, by sound and picture, by marks, and by nudging."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QImage, QKeySequence, QShortcut
from PyQt6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.opening.frame_finder import FrameFinder
from syncview.desk.opening.small_widgets import FrameCard, image_of
from syncview.desk.theme import css, current
from syncview.desk.work import Newest
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.clock.clock_map import ClockMap
    from syncview.desk.opening.looks import FramePicture
    from syncview.desk.state import DeskState
    from syncview.lesson.aligning import Aligned
    from syncview.progress import Progress
    from syncview.project import SavedClock

MOST_CARDS = 5


class MatchStep(QWidget):
    """The verdict above, the frames at the lap starts side by side, one frame large to mark by, the evidence."""

    readyChanged = pyqtSignal()  # noqa: N815 (Qt's way of naming signals)

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._aligned: Aligned | None = None
        self._asks_match = Newest(state.work, self._no_match)
        self._asks_frames = Newest(state.work, state.tell)
        self._asks_evidence = Newest(state.work, state.tell)
        self._starts_s: list[float] = []
        self._chosen = 0
        self._is_on = False
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addLayout(self._head())
        column.addLayout(self._cards_row(), 3)
        column.addLayout(self._nudge_row())
        self.tabs = QTabWidget()
        self.finder = FrameFinder(state)
        self.finder.marked.connect(self.mark)
        self.tabs.addTab(self.finder, self.tr("Mark by eye"))
        self._evidence = QLabel(self.tr("The evidence is shown here once it was looked for."))
        self._evidence.setAlignment(Qt.AlignmentFlag.AlignCenter)
        scroll = QScrollArea()
        scroll.setWidget(self._evidence)
        scroll.setWidgetResizable(True)
        scroll.setAccessibleName(self.tr("Evidence for the match"))
        self.tabs.addTab(scroll, self.tr("Evidence"))
        column.addWidget(self.tabs, 5)
        state.projectChanged.connect(self._follow)
        state.sessionReady.connect(self._follow)
        state.recordingReady.connect(self._follow)

    def _head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._verdict = QLabel()
        font = self._verdict.font()
        font.setPointSizeF(font.pointSizeF() * 1.5)
        font.setBold(True)
        self._verdict.setFont(font)
        self._basis = QLabel()
        self._basis.setObjectName("quiet")
        self._basis.setWordWrap(True)
        self._basis.setTextFormat(Qt.TextFormat.PlainText)
        self._others = QComboBox()
        self._others.setAccessibleName(self.tr("Clocks that fit alike"))
        self._others.setToolTip(self.tr("Clocks that fit alike: look at the frames of each"))
        self._others.activated.connect(self._try_other)
        self._accept = QPushButton(self.tr("Take it as it is"))
        self._accept.setToolTip(self.tr("Use this clock on your word, although it is not certain"))
        self._accept.clicked.connect(self.accept)
        self._again = QPushButton(self.tr("Match by sound and picture"))
        self._again.setToolTip(self.tr("Look for the clock in engine sound and image motion, with your marks"))
        self._again.clicked.connect(self.match)
        row.addWidget(self._verdict)
        row.addWidget(self._basis, 1)
        for part in (self._others, self._accept, self._again):
            row.addWidget(part)
        return row

    def _cards_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(6)
        self._cards = [FrameCard(number) for number in range(MOST_CARDS)]
        for card in self._cards:
            card.chosen.connect(self.choose)
            row.addWidget(card, 1)
        return row

    def _nudge_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self._where = QLabel()
        self._where.setObjectName("quiet")
        row.addWidget(self._where, 1)
        self._nudges: list[QPushButton] = []
        for words, nudge, key, tip in (
            (self.tr("− 10 ms"), "-10ms", "{", self.tr("The lap starts come 10 ms earlier in the recording")),
            (self.tr("− 1 frame"), "-1f", "[", self.tr("The lap starts come one frame earlier in the recording")),
            (self.tr("+ 1 frame"), "1f", "]", self.tr("The lap starts come one frame later in the recording")),
            (self.tr("+ 10 ms"), "10ms", "}", self.tr("The lap starts come 10 ms later in the recording")),
        ):
            button = QPushButton(words)
            button.setToolTip(f"{tip} ({key})")
            button.setAccessibleName(tip)
            button.clicked.connect(lambda _checked=False, nudge=nudge: self.nudge(nudge))
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WindowShortcut)
            shortcut.setWhatsThis(tip)
            shortcut.activated.connect(button.click)
            row.addWidget(button)
            self._nudges.append(button)
        return row

    # What is asked of it

    @property
    def ready(self) -> bool:
        """Whether there is a clock that products may rest on."""
        clock = self._clock
        return clock is not None and clock.usable

    @property
    def waiting_for(self) -> str:
        """Why there is none."""
        if self._asks_match.is_asking:
            return self.tr("Looking for the match…")
        return self.tr("Mark a lap start, or take the clock as it is")

    @property
    def _clock(self) -> SavedClock | None:
        return None if self._state.project is None else self._state.project.clock

    def enter(self) -> None:
        """Show what there is; without a clock, look for one at once."""
        self._is_on = True
        self._follow()
        if self._clock is None and not self._asks_match.is_asking and self._state.project is not None:
            self.match()

    def leave(self) -> None:
        """Stop looking."""
        self._is_on = False
        self._asks_match.drop()
        self._asks_frames.drop()
        self._asks_evidence.drop()

    def match(self) -> None:
        """Find the clock from sound, picture and marks."""
        project, path = self._state.project, self._state.path
        if project is None or path is None:
            return

        def find(progress: Progress) -> Aligned:
            from syncview.lesson.aligning import AlignOptions, align_project

            return align_project(project, path, project.marks, options=AlignOptions(), progress=progress)

        self._asks_match.ask(find, self._take_match, what=self.tr("matching picture and data"))
        self._show_clock()

    def mark(self, media_s: Fraction) -> None:
        """The car crosses the start line at this moment; the clock is found again with this mark."""
        from syncview.clock.marks import Mark

        project = self._state.project
        if project is None:
            return
        mark = Mark(float(media_s))
        if mark not in project.marks:
            self._state.edit(self.tr("mark a lap start"), replace(project, marks=(*project.marks, mark)))
        self.match()

    def forget_marks(self) -> None:
        """Drop all marks."""
        project = self._state.project
        if project is not None and project.marks:
            self._state.edit(self.tr("forget the marks"), replace(project, marks=()))
            self.match()

    def nudge(self, text: str) -> None:
        """Shift the clock by frames or milliseconds."""
        from syncview.lesson.aligning import nudge_project

        project, recording = self._state.project, self._state.recording
        if project is None or recording is None:
            return
        try:
            changed = nudge_project(project, text, float(1 / recording.nominal_rate))
        except SyncviewError as error:
            self._state.tell(error)
        else:
            self._state.edit(self.tr("nudge the clock"), changed, merge="nudge")

    def accept(self) -> None:
        """Use an unsure clock on the person's word."""
        project = self._state.project
        if project is not None and project.clock is not None:
            taken = replace(project.clock, accepted=True)
            self._state.edit(self.tr("take the clock as it is"), replace(project, clock=taken))

    def choose(self, number: int) -> None:
        """Look at one lap start closely."""
        self._chosen = number
        for card in self._cards:
            card.set_current(card is self._cards[number])
        clock = self._clock
        if clock is not None and number < len(self._starts_s):
            media_s = clock.clock.to_media_s(self._starts_s[number])
            if media_s == media_s and media_s >= 0:
                self.finder.go_to(Fraction(media_s))

    # What arrives

    def _take_match(self, aligned: Aligned) -> None:
        project = self._state.project
        if project is None:
            return
        self._aligned = aligned
        self._state.edit(self.tr("match picture and data"), replace(project, clock=aligned.project.clock))
        self._fill_others()
        self._show_clock()
        title = aligned.recording.path.name

        def draw(_progress: Progress) -> bytes:
            from syncview.clock.evidence_picture import lap_start_frames
            from syncview.desk.opening.looks import evidence_png

            return evidence_png(aligned.result, lap_start_frames(aligned.recording, aligned.result.fit), title)

        self._asks_evidence.ask(draw, self._show_evidence)

    def _no_match(self, error: SyncviewError) -> None:
        self._state.tell(error, where=self.tr("Match"))
        self._show_clock()

    def _show_evidence(self, png: bytes) -> None:
        from PyQt6.QtGui import QPixmap

        self._evidence.setPixmap(QPixmap.fromImage(QImage.fromData(png)))
        self._evidence.setAccessibleDescription(self._basis.text())

    def _fill_others(self) -> None:
        self._others.clear()
        aligned = self._aligned
        if aligned is None or not aligned.result.fit.alternatives:
            return
        for number, other in enumerate(aligned.result.fit.alternatives, start=1):
            self._others.addItem(self.tr("Clock %d: %s") % (number, other.basis), other.clock)

    def _try_other(self, index: int) -> None:
        """One of the clocks that fit alike, to be looked at; still unsure until it is taken."""
        from syncview.project import SavedClock

        project, clock = self._state.project, self._others.itemData(index)
        if project is None or clock is None:
            return
        old = project.clock
        saved = SavedClock(clock, sure=False, basis=self._others.itemText(index), doubts=old.doubts if old else ())
        self._state.edit(self.tr("look at another clock"), replace(project, clock=saved))

    def _follow(self, _new: object = None) -> None:
        if self._is_on:
            self._show_clock()
            self._ask_frames()

    def _show_clock(self) -> None:
        saved, look = self._clock, current()
        busy = self._asks_match.is_asking
        if busy:
            verdict, colour, words = self.tr("Looking…"), look.quiet, self.tr("Engine sound first, then the picture.")
        elif saved is None:
            verdict, colour = self.tr("No match"), look.brake
            words = self._doubts() or self.tr("Mark below the frame in which the car crosses the start line (M).")
        elif saved.sure:
            verdict, colour, words = self.tr("✓ Sure"), look.ahead, saved.basis
        elif saved.accepted:
            verdict, colour = self.tr("Taken on your word"), look.accent
            words = "; ".join(saved.doubts)
        else:
            verdict, colour, words = self.tr("? Unsure"), look.brake, "; ".join(saved.doubts)
        self._verdict.setText(verdict)
        self._verdict.setStyleSheet(f"color: {css(colour)};")
        self._basis.setText(words)
        self._accept.setVisible(saved is not None and not saved.usable and not busy)
        self._others.setVisible(self._others.count() > 0 and not busy)
        self._again.setEnabled(not busy)
        for button in self._nudges:
            button.setEnabled(saved is not None and not busy)
        self._where.setText("" if saved is None else _clock_words(saved.clock, self))
        marks = () if self._state.project is None else self._state.project.marks
        self.finder.show_marks(tuple(mark.media_s for mark in marks), self.forget_marks)
        self.readyChanged.emit()

    def _doubts(self) -> str:
        return "" if self._aligned is None else "; ".join(self._aligned.result.fit.doubts)

    def _ask_frames(self) -> None:
        saved, session, recording = self._clock, self._state.session, self._state.recording
        if saved is None or session is None or recording is None:
            for card in self._cards:
                card.setVisible(False)
            return
        timed = session.track.timed
        starts = [lap.start_s for lap in timed] + [timed[-1].end_s]
        numbers = [f"{lap.number}" for lap in timed] + [""]
        step = max(1, -(-len(starts) // MOST_CARDS))
        self._starts_s = starts[::step][:MOST_CARDS]
        times = [float(saved.clock.to_media_s(start_s)) for start_s in self._starts_s]
        words = [
            self.tr("lap %s begins · %.3f s") % (number, time_s)
            if number
            else self.tr("the last lap ends · %.3f s") % time_s
            for number, time_s in zip(numbers[::step], times, strict=False)
        ]

        def look(progress: Progress) -> list[FramePicture | None]:
            from syncview.desk.opening.looks import frames_at

            return frames_at(recording, times, progress=progress)

        def show(frames: list[FramePicture | None]) -> None:
            for i, card in enumerate(self._cards):
                card.setVisible(i < len(frames))
                if i < len(frames):
                    frame = frames[i]
                    card.show_frame(None if frame is None else image_of(frame.rgb), words[i])
            self.choose(min(self._chosen, len(frames) - 1))

        self._asks_frames.ask(look, show)


def _clock_words(clock: ClockMap, widget: QWidget) -> str:
    return widget.tr("Log 0 s is at %+.3f s of the recording; uncertainty ± %.0f ms.") % (
        clock.offset_s,
        clock.half_width_s(clock.pivot_log_s) * 1000,
    )
