"""First step: which recording and log, and what each column of the log is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QSize, Qt, pyqtSignal
from PyQt6.QtWidgets import QFileDialog, QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from syncview.desk import settings
from syncview.desk.opening.role_table import RoleTable
from syncview.desk.opening.small_widgets import PictureBox, image_of
from syncview.desk.work import Newest
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.opening.looks import FramePicture, LogLook
    from syncview.desk.state import DeskState
    from syncview.media.recording import Recording
    from syncview.progress import Progress
    from syncview.project import Project
    from syncview_codecs.logs import LogTable


class FilesStep(QWidget):
    """Two files on the left with what they are; the columns of the log on the right."""

    readyChanged = pyqtSignal()  # noqa: N815 (Qt's way of naming signals)
    made = pyqtSignal()
    """The project is there (made, or its columns changed)."""

    def __init__(self, state: DeskState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self.is_new = True
        self._recording_path: Path | None = None
        self._log_path: Path | None = None
        self._recording: Recording | None = None
        self._table: LogTable | None = None
        self._look: LogLook | None = None
        self._asks_recording = Newest(state.work, self._no_recording)
        self._asks_log = Newest(state.work, self._no_log)
        self._asks_look = Newest(state.work, self._no_log)
        self.roles = RoleTable()
        self.roles.changed.connect(self._match)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(16)
        row.addWidget(self._left_side())
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(self.roles)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        row.addWidget(scroll, 1)

    def _left_side(self) -> QWidget:
        side = QFrame()
        side.setObjectName("card")
        side.setFixedWidth(350)
        column = QVBoxLayout(side)
        column.setContentsMargins(14, 14, 14, 14)
        self.picture = PictureBox(self.tr("Drop the onboard recording here"), least=QSize(300, 169))
        self.picture.setMaximumHeight(190)
        self._recording_words = _words()
        self._recording_button = QPushButton(self.tr("Choose the recording…"))
        self._recording_button.clicked.connect(self._ask_recording)
        self._log_words = _words()
        self._log_button = QPushButton(self.tr("Choose the log…"))
        self._log_button.clicked.connect(self._ask_log)
        self._project_words = _words()
        self._project_button = QPushButton(self.tr("Save the project elsewhere…"))
        self._project_button.clicked.connect(self._ask_project)
        self._project_path: Path | None = None
        for part in (self.picture, self._recording_words, self._recording_button):
            column.addWidget(part)
        column.addSpacing(10)
        for part in (self._log_words, self._log_button):
            column.addWidget(part)
        column.addStretch(1)
        for part in (self._project_words, self._project_button):
            column.addWidget(part)
        return side

    # What is asked of it

    @property
    def ready(self) -> bool:
        """Whether the next step can begin."""
        return self._recording is not None and self._look is not None and self._look.fault is None

    @property
    def waiting_for(self) -> str:
        """Why it cannot."""
        if self._recording is None:
            return self.tr("The recording is missing") if self._recording_path is None else self.tr("Reading…")
        if self._look is None:
            return self.tr("The log is missing") if self._log_path is None else self.tr("Reading…")
        return self.tr("A column of the log does not fit its role")

    def begin_new(self) -> None:
        """Empty, for a new project."""
        self.is_new = True
        self._recording_path = self._log_path = self._project_path = None
        self._recording = self._table = self._look = None
        self.picture.show_picture(None, self.tr("Drop the onboard recording here"))
        self._recording_words.setText(self.tr("No recording yet"))
        self._log_words.setText(self.tr("No log yet"))
        self._project_words.clear()
        self.roles.clear_all()
        for button in (self._recording_button, self._log_button, self._project_button):
            button.show()
        self._project_button.setEnabled(False)
        self.readyChanged.emit()

    def show_open(self) -> None:
        """The files of the open project; its columns may be changed."""
        project, path = self._state.project, self._state.path
        if project is None or path is None:
            return
        self.begin_new()
        self.is_new = False
        self._project_path = path
        for button in (self._recording_button, self._log_button, self._project_button):
            button.hide()
        self._project_words.setText(self.tr("Project: %s") % path.name)
        self.roles.start_with(project.roles, project.column_units)
        self._log_path, self._recording_path = path.parent / project.log.path, path.parent / project.recording.path
        self._recording_words.setText(self._recording_path.name)
        if self._state.recording is not None:
            self._take_recording(self._state.recording)
        self._asks_log.ask(
            lambda _progress: _table_of(project, path), self._take_table, what=self.tr("reading the log")
        )

    def set_recording(self, path: Path) -> None:
        """Take this recording."""
        self._recording_path, self._recording = path, None
        self.picture.show_picture(None, self.tr("Reading…"))
        self._recording_words.setText(path.name)
        if self._project_path is None:
            from syncview.desk.opening.looks import free_project_path

            self._project_path = free_project_path(path)
        self._show_project_path()

        def read(progress: Progress) -> Recording:
            from syncview.media.recording import open_recording

            return open_recording(path, progress=progress)

        self._asks_recording.ask(read, self._take_recording, what=self.tr("indexing the recording"))
        self.readyChanged.emit()

    def set_log(self, path: Path) -> None:
        """Take this log."""
        self._log_path, self._table, self._look = path, None, None
        self._log_words.setText(path.name)
        self.roles.start_with({}, {})

        def read(_progress: Progress) -> LogTable:
            from syncview.desk.opening.looks import read_table

            return read_table(path)

        self._asks_log.ask(read, self._take_table, what=self.tr("reading the log"))
        self.readyChanged.emit()

    # Choosing

    def _ask_recording(self) -> None:
        name, _kind = QFileDialog.getOpenFileName(self, self.tr("The onboard recording"), self._folder())
        if name:
            self.set_recording(Path(name))

    def _ask_log(self) -> None:
        name, _kind = QFileDialog.getOpenFileName(self, self.tr("The car's log"), self._folder())
        if name:
            self.set_log(Path(name))

    def _ask_project(self) -> None:
        name, _kind = QFileDialog.getSaveFileName(
            self, self.tr("Where the project is saved"), str(self._project_path or ""), "*.syncview.json",
            options=QFileDialog.Option.DontConfirmOverwrite,
        )  # fmt: skip
        if name:
            path = Path(name)
            self._project_path = path if path.suffix == ".json" else path.with_name(f"{path.name}.syncview.json")
            self._show_project_path()

    def _folder(self) -> str:
        near = self._recording_path or self._log_path
        return str(Path.home() if near is None else near.parent)

    def _show_project_path(self) -> None:
        path = self._project_path
        self._project_button.setEnabled(path is not None)
        if path is not None:
            self._project_words.setText(self.tr("The project will be saved as %s") % path.name)
            self._project_words.setToolTip(str(path))

    # What arrives

    def _take_recording(self, recording: Recording) -> None:
        self._recording = recording
        rate = f"{float(recording.nominal_rate):.4g}"
        facts = [
            recording.path.name,
            self.tr("%(w)s × %(h)s, %(rate)s frames/s%(vary)s, %(length)s")
            % {
                "w": recording.display_width, "h": recording.display_height, "rate": rate,
                "vary": self.tr(" (variable)") if recording.is_variable_rate else "",
                "length": clock_words(recording.duration_s),
            },
            self.tr("with sound") if recording.audio else self.tr("no sound: the match rests on the picture"),
            *recording.notes,
        ]  # fmt: skip
        self._recording_words.setText("\n".join(facts))
        self.readyChanged.emit()

        def look(_progress: Progress) -> list[FramePicture | None]:
            from syncview.desk.opening.looks import frames_at

            return frames_at(recording, [recording.duration_s / 2], width=640)

        self._asks_recording.ask(look, self._take_picture)

    def _take_picture(self, frames: list[FramePicture | None]) -> None:
        frame = frames[0]
        self.picture.show_picture(None if frame is None else image_of(frame.rgb), self.tr("A damaged frame"))

    def _take_table(self, table: LogTable) -> None:
        self._table = table
        self._match()

    def _match(self) -> None:
        table = self._table
        if table is None:
            return
        roles, units = self.roles.roles, self.roles.units

        def look(_progress: Progress) -> LogLook:
            from syncview.desk.opening.looks import look_at_log

            return look_at_log(table, roles, units)

        self._asks_look.ask(look, self._take_look)

    def _take_look(self, look: LogLook) -> None:
        self._look = look
        self.roles.show_look(look)
        time_s = look.table.time_s
        facts = [
            look.table.name,
            self.tr("%(count)s samples over %(length)s, %(columns)s columns")
            % {"count": time_s.size, "length": clock_words(float(time_s[-1] - time_s[0])),
               "columns": len(look.table.channels)},
        ]  # fmt: skip
        if look.table.skipped:
            facts.append(self.tr("%n line(s) or cell(s) were passed over", "", len(look.table.skipped)))
            self._log_words.setToolTip("\n".join(item.reason for item in look.table.skipped[:12]))
        self._log_words.setText("\n".join(facts))
        self.readyChanged.emit()

    def _no_recording(self, error: SyncviewError) -> None:
        self.picture.show_picture(None, f"{error.problem}. {error.remedy}")
        self.readyChanged.emit()

    def _no_log(self, error: SyncviewError) -> None:
        self._log_words.setText(str(error))
        self.roles.show_fault(error)
        self.readyChanged.emit()

    # Making the project

    def commit(self) -> None:
        """Make the project, or give the open one its columns; `made` follows."""
        if not self.ready:
            return
        roles, units = dict(self.roles.roles), dict(self.roles.units)
        if not self.is_new:
            project = self._state.project
            assert project is not None
            from dataclasses import replace

            self._state.edit(self.tr("say what the columns are"), replace(project, roles=roles, column_units=units))
            self.made.emit()
            return
        recording_path, log_path, path = self._recording_path, self._log_path, self._project_path
        assert recording_path is not None
        assert log_path is not None
        assert path is not None
        shown = settings.units_for_new()

        def make(_progress: Progress) -> Project:
            from syncview.desk.opening.looks import new_project

            return new_project(recording_path, log_path, path, roles=roles, column_units=units, units=shown)

        def take(project: Project) -> None:
            self.is_new = False
            self._state.open_loaded(project, path, recording=self._recording)
            self.show_open()
            self.made.emit()

        self._state.work.run(make, done=take, failed=self._state.tell, what=self.tr("making the project"))


def clock_words(seconds: float) -> str:
    """Minutes and seconds, as on a clock."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def _table_of(project: Project, path: Path) -> LogTable:
    from syncview.desk.opening.looks import read_table
    from syncview.media_file import locate

    return read_table(locate(project.log, path.parent, what="log"))


def _words() -> QLabel:
    label = QLabel()
    label.setWordWrap(True)
    label.setObjectName("quiet")
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label
