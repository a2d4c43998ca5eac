"""The sound card, in a thread of its own: neither it nor its search for devices ever holds up the window."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING, Any

from PyQt6.QtCore import QObject, QThread, QTimer, pyqtSignal

from syncview.desk.picture.played_sound import PlayedSound, SoundForm

if TYPE_CHECKING:
    from collections.abc import Callable

    from PyQt6.QtMultimedia import QAudioFormat, QAudioSink

    from syncview.desk.picture.play_run import PlayRun
    from syncview.errors import SyncviewError
    from syncview.media.recording import Recording

FEED_EVERY_MS = 15
BUFFERED_S = 0.12
"""What the card holds: enough for a busy computer, little enough to stop at once (no source)."""


class _Card(QObject):
    """Lives in the sound thread."""

    opened = pyqtSignal()
    wanted = pyqtSignal(object)
    stopped = pyqtSignal()
    ended = pyqtSignal()

    def __init__(self, out: SoundOut) -> None:
        super().__init__()
        self._out = out
        self._sink: QAudioSink | None = None
        self._device: Any = None
        self._sound: PlayedSound | None = None
        self._rest = b""
        self._timer: QTimer | None = None
        self.opened.connect(self.find)
        self.wanted.connect(self.start)
        self.stopped.connect(self.stop)
        self.ended.connect(self.end)

    def find(self) -> None:
        """Look for a card; slow, once."""
        self._out.form = _form_of_card()
        self._out.is_searched = True

    def start(self, sound: PlayedSound) -> None:
        """Play from the sound's begin."""
        self.stop()
        from PyQt6.QtMultimedia import QAudio, QAudioSink, QMediaDevices

        device = QMediaDevices.defaultAudioOutput()
        self._sink = QAudioSink(device, _format(sound.form))
        self._sink.setBufferSize(round(BUFFERED_S * sound.form.rate_hz) * sound.form.frame_bytes)
        self._device = self._sink.start()
        if self._device is None or self._sink.error() not in (QAudio.Error.NoError, QAudio.Error.UnderrunError):
            self._out.form = None  # it went away since: play on without sound
            self.stop()
            return
        self._sound = sound
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.feed)
        self._timer.start(FEED_EVERY_MS)
        self.feed()

    def feed(self) -> None:
        """Give the card what it has room for, and tell what it has played."""
        sink, sound = self._sink, self._sound
        if sink is None or sound is None:
            return
        room = sink.bytesFree()
        if room > len(self._rest):
            self._rest += sound.take(room - len(self._rest))
        if self._rest:
            written = self._device.write(self._rest)
            if written > 0:
                self._rest = self._rest[written:]
        waiting_s = (sink.bufferSize() - sink.bytesFree()) / (sound.form.frame_bytes * sound.form.rate_hz)
        heard_s = max(0.0, sink.processedUSecs() / 1e6 - waiting_s)
        self._out.tell(sound, heard_s, time.monotonic())

    def stop(self) -> None:
        """Silence at once."""
        if self._timer is not None:
            self._timer.stop()
            self._timer = None
        if self._sink is not None:
            self._sink.reset()
            self._sink.stop()
        self._sink = self._device = self._sound = None
        self._rest = b""

    def end(self) -> None:
        """Silence, and the thread's end."""
        self.stop()
        thread = self.thread()
        if thread is not None:
            thread.quit()


def _form_of_card() -> SoundForm | None:
    """How the system's usual card takes sound; None when there is none."""
    from PyQt6.QtMultimedia import QAudioFormat, QMediaDevices

    device = QMediaDevices.defaultAudioOutput()
    if device.isNull():
        return None
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


class SoundOut:
    """Plays a recording's sound; silent where there is no card or no sound. Used from the main thread.

    The card is looked for when sound is first wanted: that takes a tenth of a second.
    """

    def __init__(self) -> None:
        self.form: SoundForm | None = None
        """What the card takes; None: there is none, or it is not found yet."""
        self.is_searched = False
        self._heard: tuple[float, float] | None = None
        self._lock = threading.Lock()
        self._sound: PlayedSound | None = None
        self._wanted: Callable[[SoundForm], PlayedSound] | None = None
        self._thread: QThread | None = None
        self._card: _Card | None = None

    def prepare(self, recording: Recording, run: PlayRun, *, on_fault: Callable[[SyncviewError], None]) -> None:
        """Begin to read; nothing is heard before `begin`."""
        self.stop()
        if recording.audio is None:
            return
        self._wanted = lambda form: PlayedSound(recording, run, form, on_fault=on_fault)
        if self._thread is None:
            self._open()

    def _open(self) -> None:
        self._thread = QThread()
        self._thread.setObjectName("sound card")
        self._card = _Card(self)
        self._card.moveToThread(self._thread)
        self._thread.start()
        self._card.opened.emit()

    @property
    def is_ready(self) -> bool:
        """True when `begin` would be heard at once, or never. Ask again and again until then."""
        if self._wanted is not None:
            if not self.is_searched:
                return False
            wanted, self._wanted = self._wanted, None
            self._sound = None if self.form is None else wanted(self.form)
        return self._sound is None or self._sound.is_ready

    def begin(self) -> None:
        """Let it be heard."""
        if self._sound is not None and self._card is not None:
            self._card.wanted.emit(self._sound)

    def tell(self, sound: PlayedSound, heard_s: float, read_s: float) -> None:
        """From the card: what was heard of a sound at a moment of `time.monotonic`."""
        with self._lock:
            if sound is self._sound:
                self._heard = heard_s, read_s

    def heard(self) -> tuple[float, float] | None:
        """What the card told since this was asked last; nothing before the first sample was heard."""
        with self._lock:
            heard, self._heard = self._heard, None
        return heard if heard is not None and heard[0] > 0 else None

    def stop(self) -> None:
        """Silence."""
        self._wanted = None
        if self._card is not None:
            self._card.stopped.emit()
        with self._lock:
            sound, self._sound, self._heard = self._sound, None, None
        if sound is not None:
            sound.close()

    def close(self) -> None:
        """End all threads and wait for them."""
        self.stop()
        if self._thread is not None and self._card is not None:
            self._card.ended.emit()
            self._thread.wait()
            self._thread = self._card = None
