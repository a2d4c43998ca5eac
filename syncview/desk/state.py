"""What the window is about: one project, its data, its picture and its lesson, under one playhead.

Panels get the `DeskState` in their constructor, read its properties, connect to its signals and ask it for changes.
They keep no second copy of anything here. Everything runs on the main thread; heavy work goes through `work`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from PyQt6.QtCore import QObject, QTimer, pyqtSignal

from syncview.desk import reading
from syncview.desk.undo import ProjectEdit, new_stack
from syncview.desk.work import Work, Works, as_fault
from syncview.errors import SyncviewError
from syncview.shown_units import Units

if TYPE_CHECKING:
    from syncview.clock.clock_map import ClockMap
    from syncview.lesson.lap_film import LapFilm
    from syncview.lesson.ready_lesson import ReadyLesson
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording
    from syncview.notes.note import Note
    from syncview.progress import Progress
    from syncview.project import Project
    from syncview.track.corners import Corner
    from syncview.track.laps import Lap

T = TypeVar("T")

REPLAN_AFTER_MS = 150
"""The lesson is planned again when no edit has come for so long."""


class DeskState(QObject):
    """The hub of the window. All its signals are emitted after all its properties have their new values."""

    projectChanged = pyqtSignal(object)  # noqa: N815 (Qt's way of naming signals)
    """The project, after it was opened, edited, undone or redone; None when it was closed."""
    sessionReady = pyqtSignal(object)  # noqa: N815
    """The session: log, laps, corners and facts are new. Not sent when only notes or choices changed. None: gone."""
    recordingReady = pyqtSignal(object)  # noqa: N815
    """The recording is indexed; None: gone."""
    filmChanged = pyqtSignal(object)  # noqa: N815
    """The taught lap on the recording's clock is another (lap, clock, session or recording changed), or None."""
    lapChanged = pyqtSignal(int)  # noqa: N815
    """Number of the taught lap."""
    lessonReady = pyqtSignal(object)  # noqa: N815
    """The lesson, planned for the project as it is now."""
    lessonFailed = pyqtSignal(str)  # noqa: N815
    """Why no lesson can be planned, with the remedy; `lesson` is None then."""
    playheadMoved = pyqtSignal(object)  # noqa: N815
    """Media time as a Fraction."""
    playingChanged = pyqtSignal(bool)  # noqa: N815
    noteSelected = pyqtSignal(object)  # noqa: N815
    """Key of the note that is worked on, or None."""
    unitsChanged = pyqtSignal(str)  # noqa: N815
    faultTold = pyqtSignal(str, str, str)  # noqa: N815
    """Where, what is wrong, and the remedy."""
    openFailed = pyqtSignal(object, object)  # noqa: N815
    """Path and `SyncviewError` of a project that could not be read; what was open stays."""
    sourceFailed = pyqtSignal(str, object)  # noqa: N815
    """`log` or `recording`, and the `SyncviewError`: the open project's cannot be used (gone, changed, unreadable)."""
    busyChanged = pyqtSignal(str, float)  # noqa: N815
    """What is being done and the share done; an empty text when nothing is."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.work = Works(self)
        """Runs tasks in threads: `state.work.run(task, done=…, failed=…, what=…)`."""
        self.history = new_stack()
        self._path: Path | None = None
        self._project: Project | None = None
        self._session: Session | None = None
        self._recording: Recording | None = None
        self._film: LapFilm | None = None
        self._lesson: ReadyLesson | None = None
        self._playhead_s = Fraction(0)
        self._moved_by: object | None = None
        self._playing = False
        self._selected_note: str | None = None
        self._units: Units = "metric"
        self._lap_told: int | None = None
        self._opening: dict[str, Work] = {}
        self._planning: Work | None = None
        self._replan = QTimer(self)
        self._replan.setSingleShot(True)
        self._replan.setInterval(REPLAN_AFTER_MS)
        self._replan.timeout.connect(self._plan)
        self.work.changed.connect(self._tell_busy)

    # What there is

    @property
    def path(self) -> Path | None:
        """Where the project lies."""
        return self._path

    @property
    def project(self) -> Project | None:
        """The project as it is now."""
        return self._project

    @property
    def session(self) -> Session | None:
        """What the data say; its `project` is always the present one. None until the log is read."""
        return self._session

    @property
    def recording(self) -> Recording | None:
        """None until it is indexed."""
        return self._recording

    @property
    def film(self) -> LapFilm | None:
        """The taught lap on the recording's clock; None without a usable clock."""
        return self._film

    @property
    def clock(self) -> ClockMap | None:
        """The clock, when products may rest on it; also of a lap that the recording does not show whole."""
        if self._film is not None:
            return self._film.clock
        try:
            return None if self._session is None else self._session.clock()
        except SyncviewError:
            return None

    @property
    def lesson(self) -> ReadyLesson | None:
        """The lesson as last planned; it may lag an edit by a moment."""
        return self._lesson

    @property
    def lap(self) -> Lap | None:
        """The lap that is taught; None before there are laps, or when none can be called best."""
        if self._session is None:
            return None
        try:
            return self._session.lap()
        except SyncviewError:
            return None

    @property
    def units(self) -> Units:
        """What people are shown."""
        return self._units

    # Changes

    def edit(self, words: str, changed: Project, *, merge: str = "") -> None:
        """Make `changed` the project: one step of undo called `words`, saved and planned again in the background.

        Edits in a row with the same `merge` (such as `n3 text`, sent at every keystroke) become one step.
        """
        if self._project is None:
            raise SyncviewError("there is no project to change", "Open one first.")
        if changed != self._project:
            self.history.push(ProjectEdit(words, self._project, changed, apply=self._take, merge=merge))

    def set_units(self, units: Units) -> None:
        """Show metric or imperial units."""
        if self._project is not None:
            self.edit(self.tr("show %s units") % units, replace(self._project, units=units))
        elif units != self._units:
            self._units = units
            self.unitsChanged.emit(units)

    def choose_lap(self, number: int | None) -> None:
        """Teach that lap; None for the best."""
        if self._project is not None:
            self.edit(self.tr("choose the lap"), replace(self._project, lap=number))

    # The playhead

    @property
    def playhead_s(self) -> Fraction:
        """Media time that picture, traces and map show."""
        return self._playhead_s

    @property
    def moved_by(self) -> object | None:
        """Who moved the playhead last, so that a widget can leave its own moves alone."""
        return self._moved_by

    def move_playhead(self, media_s: Fraction, *, by: object | None = None) -> None:
        """Show another moment; the nearest there is when it lies outside the recording. `by`: the widget that asks."""
        wanted = self._inside(Fraction(media_s))
        self._moved_by = by
        if wanted != self._playhead_s:
            self._playhead_s = wanted
            self.playheadMoved.emit(wanted)

    def _inside(self, media_s: Fraction) -> Fraction:
        if self._recording is None:
            return max(Fraction(0), media_s)
        frames = self._recording.frames
        return min(max(Fraction(0), media_s), frames.media_s(len(frames) - 1))

    @property
    def playing(self) -> bool:
        """Whether the playhead runs by itself."""
        return self._playing

    def set_playing(self, playing: bool) -> None:
        """Told by whoever plays (the picture), or asked for by a key; the picture starts and stops on the signal."""
        if playing != self._playing:
            self._playing = playing
            self.playingChanged.emit(playing)

    @property
    def selected_note(self) -> str | None:
        """Key of the note that is worked on."""
        return self._selected_note

    def select_note(self, key: str | None) -> None:
        """Work on that note."""
        if key != self._selected_note:
            self._selected_note = key
            self.noteSelected.emit(key)

    # Places

    def lap_distance_m(self, media_s: Fraction | float) -> float | None:
        """Lap distance of the taught lap at a media time; None outside that lap or without a film."""
        return None if self._film is None else reading.lap_distance_m(self._film, media_s)

    def media_s_at(self, lap_distance_m: float) -> Fraction | None:
        """Media time at which the taught lap passes that place; None where it does not."""
        return None if self._film is None else reading.media_s_at(self._film, lap_distance_m)

    def corner_at(self, lap_distance_m: float) -> Corner | None:
        """The corner that a place belongs to, as notes are counted to corners; None without a session or corner."""
        if self._session is None:
            return None
        from syncview.lesson.drafting import corner_at

        return corner_at(self._session, lap_distance_m)

    def note_near(self, lap_distance_m: float, *, within_m: float = 15.0) -> Note | None:
        """The note nearest to a place; None when there is none within `within_m`."""
        return None if self._project is None else reading.note_near(self._project, lap_distance_m, within_m)

    # Faults and work

    def tell(self, error: BaseException, *, where: str = "") -> None:
        """Show a fault with its remedy, in the bar of the window."""
        fault = as_fault(error, where)
        self.faultTold.emit(where or fault.where, fault.problem, fault.remedy)

    def _tell_busy(self) -> None:
        told = [work for work in self.work.under_way if work.what]
        if not told:
            self.busyChanged.emit("", 1.0)
        else:
            self.busyChanged.emit(told[0].step or told[0].what, told[0].share)

    # Opening

    def open(self, path: Path) -> None:
        """Open a project; its data, picture and lesson follow one by one. A fault is told and leaves what was open."""

        def load(_progress: Progress) -> Project:
            from syncview.project import load

            return load(path)

        self.work.run(
            load,
            done=lambda project: self.open_loaded(project, path),
            failed=lambda error: self.openFailed.emit(path, error),
            what=self.tr("opening %s") % path.name,
        )

    def open_loaded(self, project: Project, path: Path, *, recording: Recording | None = None) -> None:
        """Begin work on a project that was read or made just now; its recording need not be indexed twice."""
        self._enter(project, path)
        self._open_session()
        if recording is None:
            self._open_recording()
        else:
            self.take_recording(recording)

    def adopt(self, project: Project, path: Path, session: Session, recording: Recording) -> None:
        """Begin work on a project whose data and picture were read just now."""
        self._enter(project, path)
        self._take_session(session)
        self.take_recording(recording)

    def _enter(self, project: Project, path: Path) -> None:
        self.close_project()
        self._path, self._project = path, project
        self._units = project.units
        self.projectChanged.emit(project)
        self.unitsChanged.emit(project.units)

    def close_project(self) -> None:
        """Leave the project; everything that is there goes."""
        for work in self._opening.values():
            work.cancel()
        self._opening.clear()
        self._drop_plan()
        self.set_playing(False)
        self.select_note(None)
        had = (self._project, self._session, self._recording, self._film)
        self._path = self._project = self._session = self._recording = self._film = self._lesson = None
        self._playhead_s, self._moved_by, self._lap_told = Fraction(0), None, None
        self.history.clear()
        signals = (self.projectChanged, self.sessionReady, self.recordingReady, self.filmChanged)
        for value, signal in zip(had, signals, strict=True):
            if value is not None:
                signal.emit(None)

    def close(self) -> bool:
        """Stop all work and wait for it; False when some thread did not end in time."""
        self._replan.stop()
        return self.work.close()

    def _open_session(self) -> None:
        self._begin("log", reading.read_session, self._take_session, self.tr("reading the log"))

    def _open_recording(self) -> None:
        self._begin("recording", reading.read_recording, self.take_recording, self.tr("indexing the recording"))

    def _begin(
        self, name: str, read: Callable[[Project, Path, Progress], T], take: Callable[[T], None], what: str
    ) -> None:  # fmt: skip
        """Read the log or the recording: an earlier reading is stopped and its answer dropped."""
        project, path = self._project, self._path
        assert project is not None
        assert path is not None

        def failed(error: SyncviewError) -> None:
            self._lose(name)
            self.sourceFailed.emit(name, error)

        if name in self._opening:
            self._opening[name].cancel()
        task = self.work.run(lambda progress: read(project, path, progress), done=take, failed=failed, what=what)
        self._opening[name] = task

    def _lose(self, name: str) -> None:
        """The log or the recording of the project as it is now cannot be used: what was made of another one goes."""
        had_film = self._film is not None
        self._film = self._lesson = None
        self._drop_plan()
        if name == "log" and self._session is not None:
            self._session = None
            self.sessionReady.emit(None)
        elif name == "recording" and self._recording is not None:
            self._recording = None
            self.recordingReady.emit(None)
        if had_film:
            self.filmChanged.emit(None)

    # What arrives

    def _take(self, project: Project) -> None:
        """A changed project, by an edit, an undo or a redo."""
        before, self._project = self._project, project
        assert before is not None
        self._units = project.units
        new_data = _data_of(before) != _data_of(project)
        new_recording = before.recording != project.recording
        if self._session is not None:
            self._session = replace(self._session, project=project)
        if new_data:
            self._open_session()
        if new_recording:
            self._open_recording()
        film_before = self._film
        if before.clock != project.clock or before.lap != project.lap:
            self._make_film()
        elif self._film is not None and self._session is not None:
            self._film = film_before = replace(self._film, session=self._session)
        self._drop_plan()
        self.projectChanged.emit(project)
        if before.units != project.units:
            self.unitsChanged.emit(project.units)
        if self._film is not film_before:
            self.filmChanged.emit(self._film)
        self._tell_lap()
        self._replan.start()

    def _take_session(self, session: Session) -> None:
        assert self._project is not None
        assert self._path is not None
        self._session = replace(session, project=self._project, path=self._path)
        self._make_film()
        self.sessionReady.emit(self._session)
        self.filmChanged.emit(self._film)
        self._go_home()
        self._tell_lap()
        self._replan.start()

    def take_recording(self, recording: Recording) -> None:
        """An indexed recording of the present project."""
        self._recording = recording
        self._make_film()
        self.recordingReady.emit(recording)
        self.filmChanged.emit(self._film)
        self._go_home()
        self._replan.start()

    def _go_home(self) -> None:
        """To the taught lap's begin when it is first known, unless the person went elsewhere meanwhile."""
        if self._playhead_s == 0 and self._moved_by is None and self._film is not None:
            self.move_playhead(self._film.span.begin_s, by=self)
        else:
            self.move_playhead(self._playhead_s, by=self._moved_by)

    def _make_film(self) -> None:
        session, recording = self._session, self._recording
        self._film = None if session is None or recording is None else reading.film_of(session, recording)

    def _tell_lap(self) -> None:
        lap = self.lap
        if lap is not None and lap.number != self._lap_told:
            self._lap_told = lap.number
            self.lapChanged.emit(lap.number)

    # The lesson

    def _drop_plan(self) -> None:
        self._replan.stop()
        if self._planning is not None:
            self._planning.cancel()
            self._planning = None

    def _plan(self) -> None:
        """Plan the lesson for the project as it is now; what an earlier planning finds is dropped."""
        self._drop_plan()
        session, recording = self._session, self._recording
        if session is None or recording is None:
            return

        def plan(progress: Progress) -> ReadyLesson:
            from syncview.lesson.ready_lesson import ready_lesson

            return ready_lesson(session, recording, session.lap(), progress=progress)

        self._planning = self.work.run(plan, done=self._take_lesson, failed=self._no_lesson)

    def _take_lesson(self, lesson: ReadyLesson) -> None:
        self._planning, self._lesson = None, lesson
        self.lessonReady.emit(lesson)

    def _no_lesson(self, error: SyncviewError) -> None:
        self._planning, self._lesson = None, None
        self.lessonFailed.emit(str(error))


def _data_of(project: Project) -> tuple[object, ...]:
    """What a session is worked out from."""
    return project.log, project.roles, project.column_units, project.circuit
