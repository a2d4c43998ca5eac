"""The lesson's plan: its strip, its choices, and a preview that plays it without making it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QToolButton, QVBoxLayout, QWidget

from syncview.desk.plan import pins
from syncview.desk.plan.choices_form import ChoicesForm
from syncview.desk.plan.contents import Contents, contents_of
from syncview.desk.plan.detail import Detail
from syncview.desk.plan.pieces import lesson_at, media_at
from syncview.desk.plan.preview import Preview
from syncview.desk.plan.strip import Strip
from syncview.desk.plan.trouble import Trouble
from syncview.desk.plan.values import clock_text, seconds_text, speed_text
from syncview.desk.shortcuts import bind
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from PyQt6.QtGui import QCloseEvent

    from syncview.desk.plan.pieces import Piece
    from syncview.desk.state import DeskState
    from syncview.lesson.lesson_plan import LessonPlan
    from syncview.lesson.ready_lesson import ReadyLesson
    from syncview.plan.lesson_choices import LessonChoices
    from syncview.project import Project

GREY_AFTER_MS = 500
"""A plan that is made anew sooner than this is not greyed meanwhile, so that the strip does not flicker."""


class PlanPanel(QWidget):
    """The panel."""

    previewing = pyqtSignal(bool)
    """A preview began or ended: whoever plays sound may follow `preview_speed`."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._lesson_s = Fraction(0)
        self._moving = False
        self._preview = Preview(self)
        self._greying = QTimer(self)
        self._greying.setSingleShot(True)
        self._greying.setInterval(GREY_AFTER_MS)
        self._greying.timeout.connect(self._grey)
        self.setAccessibleName(self.tr("Lesson plan"))
        self._build()
        self.setFocusProxy(self.strip)
        self.SHORTCUTS = self._keys_told()
        self._connect()
        self._follow_project(state.project)
        if state.lesson is not None:
            self._take_lesson(state.lesson)

    def _keys_told(self) -> tuple[tuple[str, str], ...]:
        """Keys of the strip, for the list of keys."""
        return (
            ("Left, Right", self.tr("Lesson plan: to the stretch or hold before or after")),
            ("Home, End", self.tr("Lesson plan: to the first or last stretch of the breakdown")),
            ("Up, Down", self.tr("Lesson plan: pin the stretch faster or slower, the hold longer or shorter")),
            ("Return", self.tr("Lesson plan: pin the stretch or hold as it is")),
            ("Del", self.tr("Lesson plan: leave the stretch or hold to the plan again")),
            ("+, -, 0", self.tr("Lesson plan: zoom, or show the whole lesson")),
        )

    def _build(self) -> None:
        self.strip = Strip()
        self.detail = Detail()
        self.choices = ChoicesForm()
        self.preview = QPushButton(self.tr("Preview"))
        self.preview.setToolTip(self.tr("Play the lesson from the playhead without making it (P)"))
        self.stop = QPushButton(self.tr("Stop"))
        self.stop.setToolTip(self.tr("Stop the preview (P or Esc)"))
        self.stop.hide()
        self.length = QLabel()
        self.length.setToolTip(self.tr("Length of the lesson"))
        self.show_choices = QToolButton()
        self.show_choices.setText(self.tr("Choices"))
        self.show_choices.setToolTip(self.tr("Slowest speed, captions, shape, sound and other choices for the lesson"))
        self.show_choices.setCheckable(True)
        bar = QHBoxLayout()
        bar.setContentsMargins(6, 4, 6, 2)
        for part in (self.preview, self.stop):
            bar.addWidget(part)
        bar.addSpacing(4)
        bar.addWidget(self.length)
        bar.addSpacing(12)
        bar.addWidget(self.detail, 1)
        for button in self._zoom_buttons():
            bar.addWidget(button)
        bar.addWidget(self.show_choices)
        self.trouble = Trouble()
        self.empty = QLabel()
        self.empty.setObjectName("quiet")
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty.setWordWrap(True)
        left = QVBoxLayout()
        left.setSpacing(2)
        left.addLayout(bar)
        left.addWidget(self.trouble)
        left.addWidget(self.empty, 1)
        left.addWidget(self.strip, 1)
        self.choices_area = QScrollArea()
        self.choices_area.setWidget(self.choices)
        self.choices_area.setWidgetResizable(True)
        self.choices_area.setFrameShape(QFrame.Shape.NoFrame)
        self.choices_area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.choices_area.setFixedWidth(self.choices.sizeHint().width() + 20)
        self.choices_area.hide()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addLayout(left, 1)
        row.addWidget(self.choices_area)

    def _zoom_buttons(self) -> list[QToolButton]:
        buttons = []
        for sign, words, act in (
            ("−", self.tr("Show more of the lesson (- or wheel)"), lambda: self.strip.zoom(1.5)),
            ("+", self.tr("Show less of it, larger (+ or wheel)"), lambda: self.strip.zoom(1 / 1.5)),
            ("↔", self.tr("Show the whole lesson (0)"), self.strip.fit),
        ):
            button = QToolButton()
            button.setText(sign)
            button.setToolTip(words)
            button.setAccessibleName(words)
            button.clicked.connect(lambda _checked=False, act=act: act())
            buttons.append(button)
        return buttons

    def _connect(self) -> None:
        state, strip = self._state, self.strip
        state.projectChanged.connect(self._follow_project)
        state.lessonReady.connect(self._take_lesson)
        state.lessonFailed.connect(self._no_lesson)
        state.playheadMoved.connect(self._follow_playhead)
        state.playingChanged.connect(self._give_way)
        strip.sought.connect(self.go_to)
        strip.noteAsked.connect(state.select_note)
        strip.pinAsked.connect(self._pin)
        strip.freeAsked.connect(self._free)
        strip.selected.connect(self._show_chosen)
        self.detail.pinAsked.connect(self._pin_chosen)
        self.detail.freeAsked.connect(self._free_chosen)
        self.detail.faulty.connect(self._tell)
        self.choices.changed.connect(self._choose)
        self._preview.moved.connect(self._run_on)
        self._preview.changed.connect(self._show_running)
        self.trouble.undo.clicked.connect(state.history.undo)
        self.trouble.free_all.clicked.connect(self._free_all)
        self.preview.clicked.connect(self.start_preview)
        self.stop.clicked.connect(self.stop_preview)
        self.show_choices.toggled.connect(self.choices_area.setVisible)
        bind(self, "P", self.tr("Lesson plan: preview, or stop it"), self.toggle_preview, anywhere=False)
        bind(self, "Esc", self.tr("Lesson plan: stop the preview"), self.stop_preview, anywhere=False)

    # What is shown

    @property
    def _contents(self) -> Contents | None:
        return self.strip.contents

    @property
    def _plan(self) -> LessonPlan | None:
        return None if self._contents is None else self._contents.plan

    def _follow_project(self, project: Project | None) -> None:
        self.stop_preview()
        if project is None:
            self.strip.show_contents(None)
            self._show_trouble("")
        else:
            self.choices.show_choices(project.lesson)
        self.choices.setEnabled(project is not None)
        self._greying.start()
        self._show_whether_empty()

    def _grey(self) -> None:
        self.strip.show_stale(True)

    def _show_chosen(self, _number: object) -> None:
        self.detail.show_piece(self.strip.chosen_piece)

    def _take_lesson(self, lesson: ReadyLesson) -> None:
        project = self._state.project
        if project is None:
            return
        self._show_trouble("")
        self._greying.stop()
        self.strip.show_stale(False)
        self.strip.show_contents(contents_of(lesson, project, self._state.lap_distance_m))
        count = len(lesson.remarks)
        told = " · " + (self.tr("1 remark") if count == 1 else self.tr("%d remarks") % count) if count else ""
        self.length.setText(clock_text(lesson.plan.length_s) + told)
        about = "\n".join([self._length_words(lesson.plan), *lesson.remarks])
        self.length.setToolTip(about)
        self.length.setAccessibleDescription(about)
        self._follow_playhead(self._state.playhead_s)
        self._show_whether_empty()

    def _length_words(self, plan: LessonPlan) -> str:
        each = [f"{one.title}: {clock_text(one.length_s)}" for one in plan.sections]
        return "\n".join([self.tr("Length of the lesson: %s") % clock_text(plan.length_s), *each])

    def _no_lesson(self, reason: str) -> None:
        self._show_trouble(reason)
        self._greying.stop()
        self.strip.show_stale(True)
        self._show_whether_empty()

    def _show_trouble(self, reason: str) -> None:
        project = self._state.project
        has_pins = project is not None and pins.all_freed(project) != project
        self.trouble.tell(reason, can_undo=self._state.history.canUndo(), has_pins=has_pins)

    def _show_whether_empty(self) -> None:
        has = self._contents is not None
        self.strip.setVisible(has)
        self.empty.setVisible(not has)
        self.detail.setVisible(has)
        self.preview.setEnabled(has)
        if not has:
            self.length.setText("")
        if self._state.project is None:
            self.empty.setText(self.tr("Open a project to plan its lesson."))
        elif self.trouble.isHidden():
            self.empty.setText(self.tr("The lesson is planned as soon as picture, data and their clock are there."))
        else:
            self.empty.setText(self.tr("There is no plan to show yet."))

    # The playhead

    def go_to(self, lesson_s: Fraction) -> None:
        """Show a moment of the lesson; on a card the picture stays."""
        if self._preview.is_running and self._plan is not None:
            self._preview.start(lesson_s, self._plan.length_s)
        self._show_moment(lesson_s)

    def _show_moment(self, lesson_s: Fraction) -> None:
        plan = self._plan
        if plan is None:
            return
        self._lesson_s = min(max(lesson_s, Fraction(0)), plan.length_s)
        media_s = media_at(plan, self._lesson_s)
        if media_s is not None:
            self._moving = True
            self._state.move_playhead(media_s, by=self)
            self._moving = False
        self._show_playhead()

    def _follow_playhead(self, media_s: Fraction) -> None:
        """The playhead was moved by someone else: the breakdown shows it."""
        if self._moving or self._plan is None:
            return
        self.stop_preview()
        if self._state.moved_by is not self or media_at(self._plan, self._lesson_s) != media_s:
            found = lesson_at(self._plan, media_s)
            if found is None:
                self.strip.show_playhead(None)
                return
            self._lesson_s = found
        self._show_playhead()

    def _show_playhead(self) -> None:
        plan = self._plan
        if plan is None:
            return
        media_s, also = media_at(plan, self._lesson_s), []
        for section in plan.sections:
            pace = section.pace
            if media_s is None or pace is None or section.begin_s <= self._lesson_s < section.end_s:
                continue
            if pace.begin_media_s <= media_s <= pace.end_media_s:
                also.append(float(section.begin_s + pace.to_lesson_s(media_s)))
        self.strip.show_playhead(float(self._lesson_s), also)

    # Preview

    @property
    def is_previewing(self) -> bool:
        """Whether the lesson is played."""
        return self._preview.is_running

    @property
    def lesson_s(self) -> Fraction:
        """The moment of the lesson that is shown."""
        return self._lesson_s

    @property
    def preview_speed(self) -> Fraction | None:
        """Speed of the picture in a preview, 0 in holds and on cards; None without one."""
        plan = self._plan
        if not self._preview.is_running or plan is None or self._lesson_s >= plan.length_s:
            return None
        section = plan.section_at(self._lesson_s)
        return Fraction(0) if section.pace is None else section.pace.span_at(self._lesson_s - section.begin_s).speed

    def toggle_preview(self) -> None:
        """Start or stop."""
        if self.is_previewing:
            self.stop_preview()
        else:
            self.start_preview()

    def start_preview(self) -> None:
        """Play the lesson from the moment that is shown, or from its begin when that is its end."""
        plan = self._plan
        if plan is None:
            return
        self._state.set_playing(False)
        self._preview.start(self._lesson_s if self._lesson_s < plan.length_s else Fraction(0), plan.length_s)

    def _run_on(self, lesson_s: Fraction) -> None:
        self._show_moment(lesson_s)
        self.strip.keep_in_view(float(self._lesson_s))

    def stop_preview(self) -> None:
        """Stay where it is."""
        self._preview.stop()

    def _give_way(self, playing: bool) -> None:
        if playing:
            self.stop_preview()

    def _show_running(self, running: bool) -> None:
        self.preview.setVisible(not running)
        self.stop.setVisible(running)
        self.previewing.emit(running)

    # Changes

    def _pin(self, number: int, value: Fraction) -> None:
        project, contents = self._state.project, self._contents
        if project is None or contents is None:
            return
        piece = contents.pieces[number]
        try:
            changed = pins.pinned(project, piece, value)
        except SyncviewError as error:
            self._tell(error)
            return
        self._state.edit(self._pin_words(piece, value), changed, merge=_merge_key(piece))

    def _pin_words(self, piece: Piece, value: Fraction) -> str:
        if piece.kind == "hold":
            return self.tr("hold %s at %s") % (seconds_text(value), piece.note_key)
        return self.tr("pin the speed %s") % speed_text(value)

    def _free(self, number: int) -> None:
        project, contents = self._state.project, self._contents
        if project is None or contents is None:
            return
        piece = contents.pieces[number]
        words = self.tr("free the hold at %s") % piece.note_key if piece.kind == "hold" else self.tr("free the speed")
        self._state.edit(words, pins.freed(project, piece))

    def _pin_chosen(self, value: Fraction) -> None:
        if self.strip.chosen is not None:
            self._pin(self.strip.chosen, value)

    def _free_chosen(self) -> None:
        if self.strip.chosen is not None:
            self._free(self.strip.chosen)

    def _free_all(self) -> None:
        if self._state.project is not None:
            self._state.edit(self.tr("free all pins"), pins.all_freed(self._state.project))

    def _choose(self, words: str, choices: LessonChoices) -> None:
        if self._state.project is not None:
            self._state.edit(words, replace(self._state.project, lesson=choices))

    def _tell(self, error: SyncviewError) -> None:
        """A change that cannot be: said here; the plan stays as it is."""
        self._show_trouble(str(error))

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Stop."""
        self.stop_preview()
        self._greying.stop()
        super().closeEvent(event)


def _merge_key(piece: Piece) -> str:
    """Pinning the same piece again at once is one step of undo."""
    return f"pin {piece.note_key}" if piece.kind == "hold" else f"pin {piece.begin_m} {piece.end_m}"
