"""The notes of the desk: dropped while the lap plays, written in place, held against the data, spoken."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PyQt6.QtCore import QEvent, Qt
from PyQt6.QtGui import QFocusEvent
from PyQt6.QtWidgets import (
    QApplication,
    QDockWidget,
    QHBoxLayout,
    QLabel,
    QMainWindow,
    QMenu,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from syncview.desk.notes import changes, words
from syncview.desk.notes.checker import NoteChecker
from syncview.desk.notes.drafter import Drafter
from syncview.desk.notes.editor import NoteEditor
from syncview.desk.notes.listing import ListedNote, key_after, listed, neighbour
from syncview.desk.notes.note_list import NoteList
from syncview.desk.notes.places import playhead_corner, playhead_place_m
from syncview.desk.notes.recorder import Recorder
from syncview.desk.notes.sound_devices import Loudspeaker, Microphone, SoundSink, SoundSource
from syncview.desk.notes.voice_box import VoiceBox
from syncview.desk.shortcuts import bind
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from collections.abc import Callable

    from syncview.desk.state import DeskState
    from syncview.project import Project


class NotesPanel(QWidget):
    """All edits go through the state: one step of undo each; typing without a pause is one."""

    def __init__(
        self, state: DeskState, parent: QWidget | None = None, *, source: SoundSource | None = None,
        sink: SoundSink | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._state = state
        self._rows: tuple[ListedNote, ...] = ()
        self._back_to: QWidget | None = None
        self.checker = NoteChecker(state, self)
        self.drafter = Drafter(state, self)
        self.recorder = Recorder(state, source or Microphone(self), self)
        self.voice = VoiceBox(state, self.recorder, sink or Loudspeaker(self))
        self.editor = NoteEditor(self.voice)
        self.list = NoteList(self.editor, self)
        self.setAccessibleName(self.tr("Notes"))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._head()
        self._connect()
        self._refresh()

    def _head(self) -> None:
        self.add = self._button(self.tr("+ Note"), self.tr("Drop a note at the playhead and write (N)"))
        self.draft = self._button(self.tr("Draft"), self.tr("Have notes written from the data"))
        self.draft.setStyleSheet("padding-right: 16px;")  # room for the arrow
        self.draft.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(self.draft)
        self.draft_all = menu.addAction(self.tr("All corners without a note of yours"), self.drafter.draft_all)
        self.draft_one = menu.addAction("", self._draft_corner)
        menu.aboutToShow.connect(self._name_corner)
        self.draft.setMenu(menu)
        self.summary = QLabel(self)
        self.summary.setObjectName("quiet")
        self.summary.setWordWrap(True)
        self.remark = QLabel(self)
        self.remark.setWordWrap(True)
        self.remark.setContentsMargins(10, 2, 10, 4)
        self.remark.hide()
        row = QHBoxLayout()
        row.setContentsMargins(8, 5, 8, 5)
        row.setSpacing(5)
        for part in (self.add, self.draft):
            row.addWidget(part)
        row.addWidget(self.summary, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self.remark)
        column.addWidget(self.list, 1)

    def _button(self, text: str, tip: str) -> QToolButton:
        button = QToolButton(self)
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(tip)
        return button

    def _connect(self) -> None:
        state = self._state
        state.projectChanged.connect(self._follow_project)
        state.sessionReady.connect(lambda _session: self._refresh())
        state.lessonReady.connect(lambda _lesson: self._refresh())
        state.lapChanged.connect(lambda _number: self._refresh())
        state.filmChanged.connect(lambda _film: self._refresh())
        state.noteSelected.connect(self._follow_selection)
        self.checker.checked.connect(self._refresh)
        self.drafter.drafted.connect(self._drafted)
        self.drafter.failed.connect(lambda error: self._remark(words.sentence(error)))
        self.add.clicked.connect(lambda: self.drop_note())
        self.list.picked.connect(self._pick)
        self.list.stepped.connect(self.step)
        self.list.write_wanted.connect(self._write_selected)
        self.list.remove_wanted.connect(self.remove_selected)
        self.editor.written.connect(self._write)
        self.voice.measured.connect(self._refresh)
        self.voice.troubled.connect(self.list.bring_voice_into_view)
        self.editor.left.connect(self._leave_text)
        self.editor.move_wanted.connect(self.move_selected)
        self.editor.remove_wanted.connect(self.remove_selected)
        self.editor.stop_wanted.connect(self._stop)
        self._bind_keys()
        app = QApplication.instance()
        assert app is not None
        app.aboutToQuit.connect(self.recorder.close)

    def _bind_keys(self) -> None:
        """In the whole window, even while this panel is closed or behind another."""
        parent = self.parentWidget()
        owner = parent if isinstance(parent, QMainWindow) else self
        keys: tuple[tuple[str, str, Callable[[], object]], ...] = (
            ("N", self.tr("Drop a note at the playhead and write in it"), self.drop_note),
            ("Alt+Down", self.tr("To the next note"), lambda: self.step(1)),
            ("Alt+Up", self.tr("To the last note"), lambda: self.step(-1)),
            ("Alt+N", self.tr("Write in the note that is selected"), self._write_selected),
            ("Alt+M", self.tr("Move the selected note to the playhead"), self.move_selected),
            ("Alt+R", self.tr("Record the voice of the selected note, or end it"), self._record),
            ("Alt+L", self.tr("Replay the voice of the selected note"), self.voice.play),
        )
        for key, told, slot in keys:
            bind(owner, key, told, partial(self._by_key, slot))

    def _by_key(self, slot: Callable[[], object]) -> None:
        """Not on the pages where no lap is worked on: all panels are closed there."""
        window = self.window()
        docks = [] if window is None else window.findChildren(QDockWidget)
        if docks and not any(dock.isVisible() for dock in docks):
            return
        slot()

    def _come_forward(self) -> None:
        """Show the panel's dock, in front of those behind which it may lie."""
        dock = self.parentWidget()
        while dock is not None and not isinstance(dock, QDockWidget):
            dock = dock.parentWidget()
        if dock is not None:
            dock.show()
            dock.raise_()

    @property
    def SHORTCUTS(self) -> tuple[tuple[str, str], ...]:  # noqa: N802 (the name that the list of keys looks for)
        """Keys that the list and the text handle themselves."""
        return (
            (self.tr("Up, Down"), self.tr("To the last or the next note, in the list")),
            (self.tr("Enter"), self.tr("Write in the note, in the list")),
            (self.tr("Esc, Ctrl+Enter"), self.tr("Done with writing")),
            (self.tr("Del"), self.tr("Remove the note, in the list")),
        )

    # What is shown

    def _follow_project(self, project: Project | None) -> None:
        if project is None:
            self.voice.forget()
            self._remark("")
        selected = self._state.selected_note
        if selected is not None and (project is None or not any(note.key == selected for note in project.notes)):
            self._state.select_note(None)
        self._refresh()

    def _refresh(self) -> None:
        state = self._state
        project = state.project
        checks = self.checker.checks()
        self._rows = (
            () if project is None else listed(project, state.session, state.lesson, measured_s=self.voice.length_s)
        )
        self.list.show_notes(
            self._rows,
            checks,
            state.units,
            selected=state.selected_note,
            corners_known=state.session is not None,
            why_not=self.checker.why_not or self.tr("checking…"),
            can_move=state.film is not None,
        )
        self.summary.setText(words.summary(self._rows, checks))
        self.draft.setEnabled(state.session is not None)
        self.add.setEnabled(project is not None)

    def _remark(self, sentence: str) -> None:
        self.remark.setText(sentence)
        self.remark.setAccessibleName(self.remark.text())
        self.remark.setVisible(bool(sentence))

    # Selection

    def _follow_selection(self, key: str | None) -> None:
        self._refresh()
        if key is not None:
            self.list.bring_into_view()

    def _pick(self, key: str, write: bool) -> None:
        """A click: work on the note and show its place."""
        self.select(key)
        if write:
            self._write_selected()
        else:
            self.editor.setFocus(Qt.FocusReason.MouseFocusReason)

    def select(self, key: str) -> None:
        """Work on a note and move the playhead to its place."""
        self._state.select_note(key)
        note = next((row.note for row in self._rows if row.note.key == key), None)
        media_s = None if note is None else self._state.media_s_at(note.lap_distance_m)
        if media_s is not None:
            self._state.move_playhead(media_s, by=self)

    def step(self, by: int) -> None:
        """To the next or the last note."""
        key = neighbour([row.note for row in self._rows], self._state.selected_note, by)
        if key is not None:
            had_keyboard = self.list.hasFocus() or self.editor.hasFocus() or self.hasFocus()
            self.select(key)
            if had_keyboard:
                self.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def focusInEvent(self, event: QFocusEvent | None) -> None:  # noqa: N802 (Qt's name)
        """The keyboard goes to the open note, else to the list."""
        super().focusInEvent(event)
        target: QWidget = self.editor if self.editor.key is not None and self.editor.isVisible() else self.list
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    def changeEvent(self, event: QEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Another theme: the underlines take its colours."""
        super().changeEvent(event)
        if event is not None and event.type() == QEvent.Type.PaletteChange and hasattr(self, "list"):
            self._refresh()

    # Changes

    def drop_note(self) -> None:
        """A note at the playhead, ready to be written in; the lap goes on playing."""
        project = self._state.project
        if project is None:
            return
        try:
            place_m = playhead_place_m(self._state)
            changed, key = changes.drop(project, place_m)
        except SyncviewError as error:
            self._remark(words.sentence(error))
            return
        self._remark("")
        focus = QApplication.focusWidget()
        self._back_to = None if focus is None or self.isAncestorOf(focus) else focus
        self._state.edit(self.tr("drop %s") % key, changed)
        self._state.select_note(key)
        self._write_selected()

    def _write_selected(self) -> None:
        if self._state.selected_note is not None:
            self._come_forward()
            self.editor.write()
            self.list.bring_into_view()

    def _leave_text(self) -> None:
        """Back to where the keyboard was when the note was dropped, else to the list."""
        back, self._back_to = self._back_to, None
        target = back if back is not None and back.isVisible() else self.editor
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    def _selected(self) -> tuple[Project, str] | None:
        project, key = self._state.project, self._state.selected_note
        if project is None or key is None or not any(note.key == key for note in project.notes):
            return None
        return project, key

    def _write(self, text: str) -> None:
        at = self._selected()
        if at is None:
            return
        project, key = at
        try:
            changed = changes.write(project, key, text)
        except SyncviewError as error:
            self.editor.show_fault(self.tr("These words are not kept: %s") % error)
            return
        self.editor.show_fault("")
        self._state.edit(self.tr("write in %s") % key, changed, merge=f"{key} text")

    def move_selected(self) -> None:
        """The selected note to the playhead."""
        at = self._selected()
        if at is None:
            return
        project, key = at
        try:
            changed = changes.move(project, key, playhead_place_m(self._state))
        except SyncviewError as error:
            self._remark(words.sentence(error))
            return
        self._remark("")
        self._state.edit(self.tr("move %s") % key, changed)
        self.list.bring_into_view()

    def remove_selected(self) -> None:
        """The selected note goes; the one after it is worked on."""
        at = self._selected()
        if at is None:
            return
        project, key = at
        following = key_after(project.notes, key)
        self._state.edit(self.tr("remove %s") % key, changes.leave_out(project, key))
        self._state.select_note(following)
        (self.list if following is None else self.editor).setFocus(Qt.FocusReason.OtherFocusReason)

    def _stop(self, hold_s: float | None) -> None:
        at = self._selected()
        if at is not None:
            project, key = at
            self._state.edit(self.tr("stop at %s") % key, changes.stop_here(project, key, hold_s), merge=f"{key} stop")

    def _record(self) -> None:
        if self._selected() is not None:
            self._come_forward()
            self.voice.record.click()

    # Drafts

    def corner_meant(self) -> int | None:
        """The corner of the selected note, else the one at the playhead."""
        selected = next((row for row in self._rows if row.note.key == self._state.selected_note), None)
        if selected is not None and selected.corner is not None:
            return selected.corner.number
        return playhead_corner(self._state)

    def _name_corner(self) -> None:
        number = self.corner_meant()
        assert self.draft_one is not None
        self.draft_one.setEnabled(number is not None)
        name = self.tr("Only this corner") if number is None else self.tr("Only corner %s") % number
        self.draft_one.setText(name)

    def _draft_corner(self) -> None:
        number = self.corner_meant()
        if number is not None:
            self.drafter.draft_corner(number)

    def _drafted(self, key: str | None, remarks: tuple[str, ...]) -> None:
        self._remark("\n".join(remarks))
        if key is not None:
            self._state.select_note(key)
