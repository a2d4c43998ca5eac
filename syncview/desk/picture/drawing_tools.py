"""Drawing on the still at a note: tools, hands on shapes, labels in place. Every change is one step of undo."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, Qt, pyqtSignal

from syncview.desk.picture.drawing_hands import drawing_under, drawn, moved
from syncview.desk.picture.drawing_pictures import DrawingPictures, paint_handles, paint_rough
from syncview.desk.picture.label_editor import LabelEditor
from syncview.desk.picture.stepping import number_at
from syncview.errors import SyncviewError
from syncview.gauges.drawing import Drawing, Kind
from syncview.notes.note import Note, draw

if TYPE_CHECKING:
    from PyQt6.QtGui import QKeyEvent, QPainter

    from syncview.desk.picture.fit import Fit, Place
    from syncview.desk.picture.view import PictureView
    from syncview.desk.state import DeskState

_NUDGE = 0.005
"""An arrow key moves a drawing by this share of the picture."""
_IN_THE_MIDDLE: tuple[Place, Place] = ((0.42, 0.42), (0.58, 0.58))
"""What a tool draws from the keyboard; arrow keys then bring it to its place."""


class DrawingTools(QObject):
    """What is drawn on the picture, and how hands change it."""

    changed = pyqtSignal()
    toolChanged = pyqtSignal(object)  # noqa: N815 (Qt's way of naming signals)
    """The tool in hand, a `Kind`, or None."""
    hinted = pyqtSignal(str)
    """What to do first, as a sentence."""

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._view: PictureView | None = None
        self._fit: Fit | None = None
        self._tool: Kind | None = None
        self._chosen: int | None = None
        self._begin: Place | None = None
        self._rough: Drawing | None = None
        """What the hand is drawing or moving just now."""
        self._held_from: Place | None = None
        self._pictures = DrawingPictures(state, self)
        self._pictures.changed.connect(self.changed)
        self._editor: LabelEditor | None = None
        self._labels = "", 0
        """Note and number of the drawing whose label is edited."""
        state.projectChanged.connect(self._follow_project)
        state.noteSelected.connect(self._follow_note)
        state.playheadMoved.connect(self._follow_playhead)

    def attach(self, view: PictureView) -> None:
        """Where labels are edited."""
        self._view = view
        self._editor = LabelEditor(view)
        self._editor.labelled.connect(self._label)

    def close(self) -> None:
        """Ask for nothing any more."""
        self._pictures.close()

    # Which note

    def note_at(self, number: int) -> Note | None:
        """The note whose still is frame `number`: the selected one, else one with drawings, else any."""
        notes = () if self._state.project is None else self._state.project.notes
        here = [note for note in notes if self.still_of(note) == number]
        here.sort(key=lambda note: (note.key != self._state.selected_note, not note.drawings))
        return here[0] if here else None

    def still_of(self, note: Note) -> int | None:
        """Number of the frame on which the lesson would stop for a note; None when the lap does not pass there."""
        recording, media_s = self._state.recording, self._state.media_s_at(note.lap_distance_m)
        return None if recording is None or media_s is None else number_at(recording.frames, media_s)

    def _selected(self) -> Note | None:
        project, key = self._state.project, self._state.selected_note
        return None if project is None else next((note for note in project.notes if note.key == key), None)

    def _here(self) -> Note | None:
        """The note that is drawn on: its still is under the playhead."""
        recording = self._state.recording
        return None if recording is None else self.note_at(number_at(recording.frames, self._state.playhead_s))

    # Tools

    @property
    def tool(self) -> Kind | None:
        """The tool in hand."""
        return self._tool

    @property
    def chosen(self) -> int | None:
        """Which of the still's drawings is chosen."""
        return self._chosen

    def take(self, kind: Kind | None) -> None:
        """Take a tool in hand and go to the still of the selected note; the same tool again, or None: put it away."""
        if kind is not None and kind == self._tool:
            kind = None
        if kind is not None and not self._go_to_still():
            kind = None
            self.hinted.emit(self.tr("Select a note first, or drop one here: drawings belong to the still at a note."))
        self._tool, self._chosen = kind, None
        self.toolChanged.emit(kind)
        self.changed.emit()

    def _go_to_still(self) -> bool:
        note = self._selected() or self._here()
        number = None if note is None else self.still_of(note)
        if note is None or number is None or self._state.recording is None:
            return False
        self._state.set_playing(False)
        self._state.select_note(note.key)
        self._state.move_playhead(self._state.recording.frames.media_s(number), by=self)
        return True

    def _follow_project(self, _project: object) -> None:
        note = self._here()
        if self._chosen is not None and (note is None or self._chosen >= len(note.drawings)):
            self._chosen = None
        self.changed.emit()

    def _follow_note(self, _key: str | None) -> None:
        self._chosen = None
        self.changed.emit()

    def _follow_playhead(self, _media_s: object) -> None:
        """A tool is for the still: it is put away when the playhead leaves it."""
        self._chosen = None
        if self._editor is not None:
            self._editor.finish()
        if self._tool is not None and self._here() is None:
            self._tool = None
            self.toolChanged.emit(None)

    # Hands, in device pixels of the view

    def set_fit(self, fit: Fit) -> None:
        """Where the picture lies."""
        self._fit = fit

    def press(self, x: float, y: float) -> bool:
        """Begin to draw or to move; False when the press means the picture."""
        note, fit = self._here(), self._fit
        if self._editor is not None:
            self._editor.finish()
        if note is None or fit is None:
            return False
        if self._tool is not None:
            if fit.holds(x, y):
                self._begin = fit.share_of(x, y)
            return True
        self._chosen = drawing_under(note.drawings, fit, x, y)
        self.changed.emit()
        if self._chosen is None:
            return False
        self._held_from = fit.share_of(x, y)
        return True

    def move(self, x: float, y: float) -> bool:
        """Go on with it; False when nothing is being drawn or moved."""
        if self._fit is None or (self._begin is None and self._held_from is None):
            return False
        at = self._fit.share_of(x, y)
        if self._begin is not None and self._tool is not None:
            self._rough = drawn(self._tool, self._begin, at)
        elif (old := self._chosen_drawing()) is not None and self._held_from is not None:
            self._rough = moved(old, at[0] - self._held_from[0], at[1] - self._held_from[1])
        self.changed.emit()
        return True

    def release(self, x: float, y: float) -> bool:
        """Keep what was drawn or moved; False when there was nothing."""
        if not self.move(x, y):
            return False
        rough, was_new = self._rough, self._begin is not None
        self._rough = self._begin = self._held_from = None
        note = self._here()
        if rough is not None and note is not None:
            if was_new:
                self._add(note, rough)
            elif self._chosen is not None and rough != note.drawings[self._chosen]:
                self._change(note, self._chosen, rough, self.tr("move a drawing"))
        self.changed.emit()
        return True

    def relabel_at(self, x: float, y: float) -> bool:
        """Edit the label of the drawing under the pointer; False when there is none."""
        note, fit = self._here(), self._fit
        if note is None or fit is None or self._tool is not None:
            return False
        self._chosen = drawing_under(note.drawings, fit, x, y)
        self._held_from = None
        if self._chosen is None:
            return False
        self._edit_label(note.drawings[self._chosen])
        return True

    def cursor_at(self, x: float, y: float) -> Qt.CursorShape:
        """What a press there would do."""
        if self._tool is not None:
            return Qt.CursorShape.CrossCursor
        note = self._here()
        if note is not None and self._fit is not None and drawing_under(note.drawings, self._fit, x, y) is not None:
            return Qt.CursorShape.SizeAllCursor
        return Qt.CursorShape.ArrowCursor

    def key(self, event: QKeyEvent) -> bool:
        """Keys for the tool in hand or the chosen drawing; False for all others."""
        key, note = Qt.Key(event.key()), self._here()
        if key == Qt.Key.Key_Escape and (self._tool is not None or self._chosen is not None):
            self.take(None)
            return True
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and note is not None:
            if self._tool is not None and (made := drawn(self._tool, *_IN_THE_MIDDLE)) is not None:
                self._add(note, made)
                return True
            if (old := self._chosen_drawing()) is not None:
                self._edit_label(old)
                return True
        old = self._chosen_drawing()
        if note is None or old is None or self._chosen is None:
            return False
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove_chosen()
            return True
        step = _STEPS.get(key)
        if step is None:
            return False
        with_shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        changed = moved(old, step[0], step[1], end="end" if with_shift else "both")
        self._change(note, self._chosen, changed, self.tr("move a drawing"), merge=f"{note.key} nudge {self._chosen}")
        return True

    def choose_next(self) -> None:
        """Choose the next drawing of the still, for hands on the keyboard."""
        note = self._here()
        if note is not None and note.drawings:
            self._chosen = 0 if self._chosen is None else (self._chosen + 1) % len(note.drawings)
            self.changed.emit()

    def remove_chosen(self) -> None:
        """Take the chosen drawing away; without one, the last."""
        note = self._here()
        if note is None or not note.drawings:
            return
        gone = len(note.drawings) - 1 if self._chosen is None else self._chosen
        left = tuple(one for number, one in enumerate(note.drawings) if number != gone)
        self._chosen = None
        self._put(note, left, self.tr("remove a drawing"))

    # Changes

    def _chosen_drawing(self) -> Drawing | None:
        note = self._here()
        if note is None or self._chosen is None or self._chosen >= len(note.drawings):
            return None
        return note.drawings[self._chosen]

    def _add(self, note: Note, made: Drawing) -> None:
        words = {
            "arrow": self.tr("draw an arrow"), "line": self.tr("draw a line"),
            "ellipse": self.tr("draw an ellipse"), "spotlight": self.tr("draw a spotlight"),
        }[made.kind]  # fmt: skip
        self._tool, self._chosen = None, len(note.drawings)
        self._put(note, (*note.drawings, made), words)
        self.toolChanged.emit(None)
        self._edit_label(made)

    def _change(self, note: Note, number: int, changed: Drawing, words: str, *, merge: str = "") -> None:
        self._put(note, (*note.drawings[:number], changed, *note.drawings[number + 1 :]), words, merge=merge)

    def _put(self, note: Note, drawings: tuple[Drawing, ...], words: str, *, merge: str = "") -> None:
        project = self._state.project
        if project is None:
            return
        try:
            changed = replace(project, notes=draw(project.notes, note.key, drawings))
        except SyncviewError as error:
            self._state.tell(error, where=self.tr("Drawing"))
            return
        self._state.edit(words, changed, merge=merge)

    def _edit_label(self, drawing: Drawing) -> None:
        note = self._here()
        if self._view is not None and self._editor is not None and self._fit is not None and note is not None:
            self._labels = note.key, note.drawings.index(drawing)
            x, y = self._fit.point_of(drawing.begin if drawing.kind == "arrow" else _below(drawing))
            self._editor.begin(drawing.label, self._view.from_device(x, y))

    def _label(self, text: str) -> None:
        """Where the playhead or the choice is by now does not matter."""
        key, number = self._labels
        notes = () if self._state.project is None else self._state.project.notes
        for note in notes:
            if note.key == key and number < len(note.drawings) and text != note.drawings[number].label:
                changed = replace(note.drawings[number], label=text)
                self._change(note, number, changed, self.tr("label a drawing"))

    # Painting, in device pixels

    def paint(self, painter: QPainter, fit: Fit, number: int) -> None:
        """The drawings of the still, as the lesson will show them; roughly while a hand is on one."""
        note = self.note_at(number)
        drawings = () if note is None else note.drawings
        if self._rough is not None and self._held_from is not None and self._chosen is not None:
            drawings = (*drawings[: self._chosen], *drawings[self._chosen + 1 :])
        if drawings and not self._pictures.paint(painter, fit, drawings):
            for drawing in drawings:
                paint_rough(painter, fit, drawing)
        if self._rough is not None:
            paint_rough(painter, fit, self._rough)

    def paint_handles(self, painter: QPainter, fit: Fit, number: int) -> None:
        """Mark the chosen drawing."""
        old = self._chosen_drawing()
        if old is not None and self._rough is None and self.note_at(number) is self._here():
            paint_handles(painter, fit, old)


def _below(drawing: Drawing) -> Place:
    (x0, y0), (x1, y1) = drawing.begin, drawing.end
    return min(x0, x1), max(y0, y1)


_STEPS = {
    Qt.Key.Key_Left: (-_NUDGE, 0.0), Qt.Key.Key_Right: (_NUDGE, 0.0),
    Qt.Key.Key_Up: (0.0, -_NUDGE), Qt.Key.Key_Down: (0.0, _NUDGE),
}  # fmt: skip
