"""Plays the recording: pictures follow the clock of the sound, or the computer's where nothing is heard."""

from __future__ import annotations

import time
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, Qt, QTimer, pyqtSignal

from syncview.desk.picture.play_clock import PlayClock
from syncview.desk.picture.play_run import Loop, PlayRun, begin_of, next_speed
from syncview.desk.picture.sound_out import SoundOut

if TYPE_CHECKING:
    from syncview.desk.state import DeskState
    from syncview.media.scrub.playing import Playing
    from syncview.media.scrub.scrub_source import ScrubSource

TICK_MS = 8
"""Twice as often as most screens show a picture."""
_ENOUGH = 3
"""Pictures decoded ahead before the clock starts."""
_PATIENCE_S = 1.0
_AFTER_SEEK_MS = 200
"""Playing goes on when the playhead has not been moved by hand for so long."""


class Player(QObject):
    """Runs the state's playhead while the state is playing."""

    pictured = pyqtSignal(object)
    """A `ScrubPicture` to show now."""
    changed = pyqtSignal()
    """Speed, loop or sound was chosen."""
    faulted = pyqtSignal(object)

    def __init__(self, state: DeskState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._state = state
        self._source: ScrubSource | None = None
        self._sound = SoundOut(self)
        self._speed = Fraction(1)
        self._loop: Loop | None = None
        self._with_sound = True
        self._playing: Playing | None = None
        self._run: PlayRun | None = None
        self._clock: PlayClock | None = None
        self._turn = 0
        self._begun_s = 0.0
        self._is_begun = False
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(TICK_MS)
        self._timer.timeout.connect(self._tick)
        self._again = QTimer(self)
        self._again.setSingleShot(True)
        self._again.setInterval(_AFTER_SEEK_MS)
        self._again.timeout.connect(self._begin)
        state.playingChanged.connect(self._follow)
        state.playheadMoved.connect(self._follow_playhead)

    # What is chosen

    @property
    def speed(self) -> Fraction:
        """Media seconds a second."""
        return self._speed

    @property
    def loop(self) -> Loop | None:
        """What is played again and again."""
        return self._loop

    @property
    def with_sound(self) -> bool:
        """Whether the recording is heard."""
        return self._with_sound

    @property
    def is_running(self) -> bool:
        """True from the moment that pictures move."""
        return self._clock is not None

    def set_speed(self, speed: Fraction) -> None:
        """Play at one of `SPEEDS`; at once when it is playing."""
        if speed != self._speed:
            self._speed = speed
            self._choose()

    def change_speed(self, by: int) -> None:
        """Faster or slower by steps."""
        self.set_speed(next_speed(self._speed, by))

    def set_loop(self, loop: Loop | None) -> None:
        """Play that stretch again and again; None plays on."""
        if loop != self._loop:
            self._loop = loop
            self._choose()

    def set_sound(self, with_sound: bool) -> None:
        """Let the recording be heard or not."""
        if with_sound != self._with_sound:
            self._with_sound = with_sound
            self._choose()

    def _choose(self) -> None:
        self.changed.emit()
        if self._state.playing:
            self._begin()

    # Playing

    def set_source(self, source: ScrubSource | None) -> None:
        """Where pictures come from; what was playing stops."""
        self._halt()
        self._source = source
        self._loop = None
        self.changed.emit()
        if source is None:
            self._state.set_playing(False)

    def toggle(self) -> None:
        """Play or stop."""
        self._state.set_playing(not self._state.playing)

    def close(self) -> None:
        """End all threads."""
        self._halt()

    def _follow(self, playing: bool) -> None:
        if playing:
            self._begin()
        else:
            self._halt()

    def _follow_playhead(self, _media_s: Fraction) -> None:
        """Moved by someone else while it plays: the hand comes first."""
        if self._state.playing and self._state.moved_by is not self:
            self._halt()
            self._again.start()

    def _begin(self) -> None:
        self._halt()
        source, recording, film = self._source, self._state.recording, self._state.film
        if source is None or recording is None:
            self._state.set_playing(False)
            return
        frames = recording.frames
        home_s = Fraction(0) if film is None else film.span.begin_s
        last_s = frames.media_s(len(frames) - 1)
        begin_s = begin_of(self._state.playhead_s, last_s=last_s, home_s=home_s, loop=self._loop)
        self._run = PlayRun(begin_s, frames.end_s, self._speed, self._loop)
        self._turn, self._is_begun = 0, False
        self._playing = source.play(begin_s, speed=float(self._speed))
        if self._with_sound:
            self._sound.prepare(recording, self._run, on_fault=self.faulted.emit)
        self._begun_s = time.monotonic()
        self._timer.start()

    def _halt(self) -> None:
        self._again.stop()
        self._timer.stop()
        self._clock = self._run = None
        self._sound.stop()
        if self._playing is not None and self._source is not None:
            self._source.stop()
        self._playing = None

    def _tick(self) -> None:
        now_s = time.monotonic()
        run, playing = self._run, self._playing
        if run is None or playing is None:
            return
        heard = self._sound.heard()
        if self._clock is None:
            if not self._is_begun:
                if not self._is_ready(playing, now_s):
                    return
                self._is_begun, self._begun_s = True, now_s
                self._sound.begin()
            if heard is None and self._sound.is_loud and now_s - self._begun_s < _PATIENCE_S:
                return  # a card takes a while before it is heard: the picture waits for it
            self._clock = PlayClock(now_s)
        if heard is not None:
            self._clock.correct(*heard)
        place = run.at(self._clock.read(now_s))
        if place.turn != self._turn:
            self._turn = place.turn
            assert self._source is not None
            assert self._loop is not None
            self._playing = playing = self._source.play(self._loop.begin_s, speed=float(self._speed))
        self._show(playing, place.media_s)
        if place.is_over:
            self._state.set_playing(False)

    def _is_ready(self, playing: Playing, now_s: float) -> bool:
        is_sound_ready = self._sound.is_ready  # asking also starts the reading
        has_pictures = playing.ready_count >= _ENOUGH or playing.is_filled
        return (has_pictures and is_sound_ready) or now_s - self._begun_s > _PATIENCE_S

    def _show(self, playing: Playing, media_s: Fraction) -> None:
        """The newest picture that is due; the playhead goes to the frame that is really shown."""
        picture = playing.picture(media_s)
        if picture is not None:
            self.pictured.emit(picture)
            self._state.move_playhead(picture.media_s, by=self)
