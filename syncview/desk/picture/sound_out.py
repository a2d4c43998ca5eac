"""The sound card: it is fed a little ahead, tells what it has played, and is not needed."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QTimer

from syncview.desk.picture.played_sound import PlayedSound, SoundForm
from syncview.desk.sound_library import load_sound

if TYPE_CHECKING:
    from collections.abc import Callable

    from PyQt6.QtCore import QIODevice
    from PyQt6.QtMultimedia import QAudioDevice, QAudioFormat, QAudioSink

    from syncview.desk.picture.play_run import PlayRun
    from syncview.errors import SyncviewError
    from syncview.media.recording import Recording

FEED_EVERY_MS = 15
BUFFERED_S = 0.2
"""What the card holds: four times as long as the window may ever be busy."""


class SoundOut(QObject):
    """Plays a recording's sound; silent where there is no card or no sound.

    The card is looked for when sound is first wanted. Qt does that on the main thread wherever it is asked from, and a
    thread that waits for it while the main one waits for that thread would stand for ever: so all of this runs on the
    main thread, in two short steps. Reading and stretching have their own thread (`PlayedSound`).
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.form: SoundForm | None = None
        """What the card takes; None: there is none, or it is not found yet."""
        self._device: QAudioDevice | None = None
        self._is_searched = self._is_searching = False
        self._wanted: Callable[[SoundForm], PlayedSound] | None = None
        self._sound: PlayedSound | None = None
        self._sink: QAudioSink | None = None
        self._port: QIODevice | None = None
        self._rest = b""
        self._written = 0
        self._heard: tuple[float, float] | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(FEED_EVERY_MS)
        self._timer.timeout.connect(self._feed)

    def prepare(self, recording: Recording, run: PlayRun, *, on_fault: Callable[[SyncviewError], None]) -> None:
        """Begin to read; nothing is heard before `begin`."""
        self.stop()
        if recording.audio is None:
            return
        self._wanted = lambda form: PlayedSound(recording, run, form, on_fault=on_fault)
        if not self._is_searched and not self._is_searching:
            self._is_searching = True
            QTimer.singleShot(0, self._find)

    def _find(self) -> None:
        if load_sound():
            from PyQt6.QtMultimedia import QMediaDevices

            device = QMediaDevices.defaultAudioOutput()
            self._device = None if device.isNull() else device
        self.form = None if self._device is None else _form_of(self._device)
        self._is_searched, self._is_searching = True, False

    @property
    def is_ready(self) -> bool:
        """True when `begin` would be heard at once, or never. Ask again and again until then."""
        if self._wanted is not None:
            if not self._is_searched:
                return False
            wanted, self._wanted = self._wanted, None
            self._sound = None if self.form is None else wanted(self.form)
        return self._sound is None or self._sound.is_ready

    @property
    def is_loud(self) -> bool:
        """True when there is something to be heard, on a card that takes it."""
        return self._sound is not None and self._port is not None

    def begin(self) -> None:
        """Let it be heard."""
        if self._sound is None or self._device is None:
            return
        from PyQt6.QtMultimedia import QAudioSink

        form = self._sound.form
        self._sink = QAudioSink(self._device, _format(form), self)
        self._sink.setBufferSize(round(BUFFERED_S * form.rate_hz) * form.frame_bytes)
        self._port = self._sink.start()
        if self._port is None:
            self.stop()  # it went away since: play on without sound, and look again the next time
            self._is_searched, self.form = False, None
            return
        self._timer.start()
        self._feed()

    def _feed(self) -> None:
        """Give the card what it has room for, and note what it has played."""
        sink, sound, port = self._sink, self._sound, self._port
        if sink is None or sound is None or port is None:
            return
        room = sink.bytesFree()
        # Counted here: what the card itself calls processed has meant different things over Qt's versions.
        heard_bytes = self._written - (sink.bufferSize() - room)
        if heard_bytes > 0:
            self._heard = heard_bytes / (sound.form.frame_bytes * sound.form.rate_hz), time.monotonic()
        if room > len(self._rest):
            self._rest += sound.take(room - len(self._rest))
        written = port.write(self._rest) if self._rest else 0
        if written > 0:
            self._rest = self._rest[written:]
            self._written += written

    def heard(self) -> tuple[float, float] | None:
        """Seconds heard and the moment of `time.monotonic` at which that was so, if new since this was asked last."""
        heard, self._heard = self._heard, None
        return heard

    def stop(self) -> None:
        """Silence at once."""
        self._wanted = None
        self._timer.stop()
        if self._sink is not None:
            self._sink.reset()
            self._sink.stop()
            self._sink.deleteLater()
        if self._sound is not None:
            self._sound.close()
        self._sink = self._port = self._sound = self._heard = None
        self._rest, self._written = b"", 0


def _form_of(device: QAudioDevice) -> SoundForm:
    """How a card takes sound best."""
    from PyQt6.QtMultimedia import QAudioFormat

    usual = device.preferredFormat()
    for is_float in (True, False):
        form = SoundForm(usual.sampleRate(), is_float, min(usual.channelCount(), 2))
        if device.isFormatSupported(_format(form)):
            return form
    return SoundForm(usual.sampleRate(), usual.sampleFormat() == QAudioFormat.SampleFormat.Float)


def _format(form: SoundForm) -> QAudioFormat:
    from PyQt6.QtMultimedia import QAudioFormat

    made = QAudioFormat()
    made.setSampleRate(form.rate_hz)
    made.setChannelCount(form.channels)
    made.setSampleFormat(QAudioFormat.SampleFormat.Float if form.is_float else QAudioFormat.SampleFormat.Int16)
    return made
