"""The picture panel: the frame under the playhead with its gauges, transport, and drawings on stills."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtGui import QCloseEvent
from PyQt6.QtWidgets import QAbstractButton, QApplication, QVBoxLayout, QWidget

from syncview.desk.picture.drawing_tools import DrawingTools
from syncview.desk.picture.full_screen import FullScreen
from syncview.desk.picture.live_gauges import LiveGauges
from syncview.desk.picture.loops import loop_at
from syncview.desk.picture.picture_feed import PictureFeed
from syncview.desk.picture.player import Player
from syncview.desk.picture.readout import place_words
from syncview.desk.picture.stepping import Jog, last_before, number_at, stepped
from syncview.desk.picture.time_strip import TimeStrip
from syncview.desk.picture.transport import Transport
from syncview.desk.picture.view import PictureView
from syncview.desk.shortcuts import bind

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.errors import SyncviewError
    from syncview.media.recording import Recording
    from syncview.media.scrub.pictures import ScrubPicture


class PicturePanel(QWidget):
    """Shows and plays the recording at the desk's playhead."""

    def __init__(self, state: DeskState, parent: QWidget | None = None, *, with_proxies: bool = True) -> None:
        super().__init__(parent)
        self._state = state
        self._jog: Jog | None = None
        self._full: FullScreen | None = None
        self._is_closed = False
        self.gauges = LiveGauges(state, self)
        self.tools = DrawingTools(state, self)
        self.feed = PictureFeed(with_proxies=with_proxies, parent=self)
        self.player = Player(state, self)
        self.stage = QWidget(self)
        self.view = PictureView(self.gauges, self.tools)
        self.strip = TimeStrip()
        self.transport = Transport()
        self._arrange()
        self.setFocusProxy(self.view)
        self.SHORTCUTS = self._keys_told()
        self._bind_keys()
        self._connect()
        self._take_recording(state.recording)
        self._follow_project()

    def _arrange(self) -> None:
        inner = QVBoxLayout(self.stage)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(0)
        inner.addWidget(self.view, 1)
        inner.addWidget(self.strip)
        inner.addWidget(self.transport)
        self._outer = QVBoxLayout(self)
        self._outer.setContentsMargins(0, 0, 0, 0)
        self._outer.addWidget(self.stage)

    def _keys_told(self) -> tuple[tuple[str, str], ...]:
        tr = self.tr
        return (
            (tr("Left  Right"), tr("Picture: one frame back or on")),
            (tr("Down  Up"), tr("Picture: ten frames back or on")),
            (tr("Page Up  Page Down"), tr("Picture: the corner before or behind")),
            (tr("Home  End"), tr("Picture: the lap's begin or end")),
            (tr("Drag  Wheel"), tr("Picture: frame by frame; with Ctrl, the wheel goes ten")),
            (tr("Double click"), tr("Picture: full screen; on a drawing, its label")),
            (tr("Enter"), tr("Drawing: put the tool's shape in the middle; on a chosen drawing, its label")),
            (tr("Arrow keys"), tr("Drawing: move the chosen one; with Shift, its end")),
            (tr("Delete"), tr("Drawing: remove the chosen one")),
        )

    def _bind_keys(self) -> None:
        tr, stage, tools = self.tr, self.stage, self.tools
        once = [
            bind(stage, "Space", tr("Play or pause"), self._space),
            bind(stage, "Q", tr("Slower"), lambda: self.player.change_speed(-1)),
            bind(stage, "W", tr("Faster"), lambda: self.player.change_speed(1)),
            bind(stage, "R", tr("Real speed"), lambda: self.player.set_speed(Fraction(1))),
            bind(stage, "L", tr("Loop the corner at the playhead, or not"), self.toggle_loop),
            bind(stage, "G", tr("Gauges on or off"), self.toggle_gauges),
            bind(stage, "M", tr("Sound on or off"), self.toggle_sound),
            bind(stage, "F11", tr("Picture in full screen"), self.toggle_full_screen),
        ]
        for shortcut in once:
            shortcut.setAutoRepeat(False)
        bind(stage, ",", tr("One frame back"), lambda: self.step(-1))
        bind(stage, ".", tr("One frame on"), lambda: self.step(1))
        bind(stage, "Ctrl+,", tr("Ten frames back"), lambda: self.step(-10))
        bind(stage, "Ctrl+.", tr("Ten frames on"), lambda: self.step(10))
        bind(self.view, "A", tr("Draw an arrow"), lambda: tools.take("arrow"), anywhere=False)
        bind(self.view, "I", tr("Draw a line"), lambda: tools.take("line"), anywhere=False)
        bind(self.view, "E", tr("Draw an ellipse"), lambda: tools.take("ellipse"), anywhere=False)
        bind(self.view, "S", tr("Light a part of the still"), lambda: tools.take("spotlight"), anywhere=False)
        bind(self.view, "D", tr("Choose the next drawing"), tools.choose_next, anywhere=False)

    def _connect(self) -> None:
        state, view, row = self._state, self.view, self.transport
        state.recordingReady.connect(self._take_recording)
        state.projectChanged.connect(self._follow_project)
        state.filmChanged.connect(self._follow_project)
        state.sourceFailed.connect(self._tell_source)
        state.playheadMoved.connect(self._follow_playhead)
        state.playingChanged.connect(self._follow_playing)
        state.unitsChanged.connect(self._tell_place)
        self.feed.pictured.connect(self._show)
        self.feed.faulted.connect(self._fault)
        self.player.pictured.connect(self._show_played)
        self.player.faulted.connect(self._fault)
        self.player.changed.connect(self._show_choices)
        self.gauges.changed.connect(self._show_loops)
        self.tools.toolChanged.connect(row.show_tool)
        self.tools.hinted.connect(self._hint)
        view.step_asked.connect(self.step)
        view.corner_asked.connect(self.go_to_corner)
        view.end_asked.connect(self._go_to_end)
        view.jog_begun.connect(self._begin_jog)
        view.jogged.connect(self._jog_to)
        view.full_screen_asked.connect(self.toggle_full_screen)
        self.strip.sought.connect(lambda media_s: state.move_playhead(media_s, by=self.strip))
        row.play_pressed.connect(self.player.toggle)
        row.step_pressed.connect(self.step)
        row.speed_chosen.connect(self.player.set_speed)
        row.loop_chosen.connect(self.player.set_loop)
        row.gauges_pressed.connect(self.toggle_gauges)
        row.sound_pressed.connect(self.toggle_sound)
        row.tool_pressed.connect(self._take_tool)
        row.full_pressed.connect(self.toggle_full_screen)

    # The recording

    def _take_recording(self, recording: Recording | None) -> None:
        if self._is_closed:
            return
        self.player.set_source(None)
        self.view.show_picture(None)
        self.feed.open(recording)
        self.player.set_source(self.feed.source)
        if recording is None:
            self.strip.show_spans(None, None)
            self.view.say("" if self._state.project is None else self.tr("The recording is being read…"))
            self.transport.readout.show_parts(())
        else:
            self.view.say("")
            self.view.set_shape(recording.display_width, recording.display_height)
            self._tell_width()
            self._follow_project()
            self.feed.ask(self._state.playhead_s)
        self._show_choices()

    def _tell_source(self, name: str, error: SyncviewError) -> None:
        if name == "recording":
            self.view.say(str(error))

    def _tell_width(self) -> None:
        place = self.view.fit
        if place is not None:
            self.feed.show_width(place.width)

    def _follow_project(self, _changed: object = None) -> None:
        recording, film, project = self._state.recording, self._state.film, self._state.project
        if recording is None:
            return
        lap = None if film is None else (film.span.begin_s, film.span.end_s)
        self.strip.show_spans((Fraction(0), recording.frames.end_s), lap)
        places = (self._state.media_s_at(note.lap_distance_m) for note in (() if project is None else project.notes))
        self.strip.show_notes([float(media_s) for media_s in places if media_s is not None])
        self._tell_place()

    # Pictures

    def _follow_playhead(self, media_s: Fraction) -> None:
        self.strip.show_playhead(media_s)
        if self._state.moved_by is not self.player:
            self._tell_width()
            self.feed.ask(media_s)
        self._tell_place()

    def _show(self, picture: ScrubPicture) -> None:
        if not self.player.is_running:
            self.view.say("")
            self.view.show_picture(picture)
            self._tell_place()

    def _show_played(self, picture: ScrubPicture) -> None:
        self.feed.note_shown(picture)
        self.view.show_picture(picture)

    def _fault(self, error: SyncviewError) -> None:
        self._state.tell(error, where=self.tr("Picture"))
        if self.view.picture is None:
            self.view.say(str(error))

    @property
    def is_exact(self) -> bool:
        """True when the frame that is shown is the one under the playhead."""
        recording, picture = self._state.recording, self.view.picture
        if recording is None or picture is None:
            return False
        return picture.number == number_at(recording.frames, self._state.playhead_s)

    def _tell_place(self, _units: object = None) -> None:
        recording = self._state.recording
        if recording is None:
            return
        words = place_words(
            self._state.playhead_s,
            number=number_at(recording.frames, self._state.playhead_s),
            film=self._state.film,
            lap_distance_m=self._state.lap_distance_m(self._state.playhead_s),
            units=self._state.units,
        )
        state = self.tr("● exact") if self.is_exact else self.tr("○ near")
        self.transport.readout.show_parts((words[0], words[1], state, *words[2:]))
        self.transport.readout.setAccessibleDescription(
            self.tr("The frame shown is the one asked for") if self.is_exact else self.tr("The exact frame is coming")
        )

    # What keys and buttons do

    def step(self, by: int) -> None:
        """Go `by` frames on."""
        recording = self._state.recording
        if recording is not None:
            self._state.set_playing(False)
            self._state.move_playhead(stepped(recording.frames, self._state.playhead_s, by), by=self)

    def go_to_corner(self, by: int) -> None:
        """To the run-up of the next corner, or of the one before."""
        here_s = self._state.playhead_s
        begins = [loop.begin_s for loop in self.gauges.loops]
        there = (
            [begin for begin in begins if begin > here_s] if by > 0 else [begin for begin in begins if begin < here_s]
        )
        if there:
            self._state.move_playhead(min(there) if by > 0 else max(there), by=self)

    def _go_to_end(self, side: int) -> None:
        recording, film = self._state.recording, self._state.film
        if recording is None:
            return
        begin_s, end_s = (Fraction(0), recording.frames.end_s) if film is None else (film.span.begin_s, film.span.end_s)
        self._state.move_playhead(begin_s if side < 0 else last_before(recording.frames, end_s), by=self)

    def toggle_loop(self) -> None:
        """Loop the corner at the playhead, or no longer."""
        if self.player.loop is not None:
            self.player.set_loop(None)
            return
        distance_m = self._state.lap_distance_m(self._state.playhead_s)
        corner = None if distance_m is None else self._state.corner_at(distance_m)
        number = None if corner is None else corner.number
        self.player.set_loop(loop_at(self.gauges.loops, self._state.playhead_s, corner=number))

    def toggle_gauges(self) -> None:
        """Draw gauges, or not."""
        self.view.show_gauges(not self.view.with_gauges)
        self._show_choices()

    def toggle_sound(self) -> None:
        """Let the recording be heard, or not."""
        self.player.set_sound(not self.player.with_sound)
        self._show_choices()

    def toggle_full_screen(self) -> None:
        """Over the whole screen, or back."""
        if self._full is not None:
            self._leave_full_screen()
            return
        window = self.window()
        assert window is not None
        self._full = FullScreen(self.stage, window)
        self._full.left.connect(self._leave_full_screen)
        self._full.showFullScreen()
        self._full.activateWindow()
        self.view.setFocus()

    def _leave_full_screen(self) -> None:
        full, self._full = self._full, None
        if full is not None:
            self._outer.addWidget(self.stage)
            self.stage.show()
            full.hide()
            full.deleteLater()
            self.activateWindow()
            self.view.setFocus()

    def _space(self) -> None:
        """A button that has the keyboard is pressed by Space, as everywhere; else play or pause."""
        focused = QApplication.focusWidget()
        if isinstance(focused, QAbstractButton) and focused is not self.transport.play:
            focused.click()
        else:
            self.player.toggle()

    def _begin_jog(self) -> None:
        recording = self._state.recording
        if recording is not None:
            self._state.set_playing(False)
            self._jog = Jog(recording.frames, self._state.playhead_s)

    def _jog_to(self, moved_px: float) -> None:
        if self._jog is not None:
            self._state.move_playhead(self._jog.media_s(moved_px), by=self.view)

    def _take_tool(self, kind: object) -> None:
        self.tools.take(kind)  # type: ignore[arg-type]  # the row sends kinds
        self.transport.show_tool(self.tools.tool)
        self.view.setFocus()

    def _hint(self, sentence: str) -> None:
        from syncview.errors import SyncviewError

        problem, _dot, remedy = sentence.partition(": ")
        self._state.tell(SyncviewError(problem, remedy or sentence), where=self.tr("Drawing"))

    # What is shown below

    def _follow_playing(self, playing: bool) -> None:
        self.transport.show_playing(playing)
        if not playing:
            self.feed.ask(self._state.playhead_s)

    def _show_loops(self) -> None:
        self.transport.show_loops(self.gauges.loops, self.player.loop)
        self.strip.show_corners(self.gauges.corners)

    def _show_choices(self) -> None:
        recording = self._state.recording
        self.transport.show_speed(self.player.speed)
        self.transport.show_loop(self.player.loop)
        self.strip.show_loop(self.player.loop)
        has_sound = recording is not None and recording.audio is not None
        self.transport.show_sound(self.player.with_sound, has_sound=has_sound)
        self.transport.gauges.setChecked(self.view.with_gauges)

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """End all threads."""
        self._is_closed = True
        self._leave_full_screen()
        self.gauges.close()
        self.tools.close()
        self.player.close()
        self.feed.close()
        super().closeEvent(event)
