"""Where sound comes from and goes to: the system's microphone and loudspeaker, or what a test puts in their place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QTimer, pyqtSignal

from syncview.desk.notes.sound_blocks import SampleFormat, one_channel
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PyQt6.QtMultimedia import QAudioDevice, QAudioFormat

VOICE_RATE_HZ = 48_000
DEVICE_HOLDS_MS = 250
"""What a device may still have to play when everything was handed over (common practice, no source)."""


class DeviceError(SyncviewError):
    """There is no microphone or loudspeaker, or it does not work."""

    exit_code = 3


class SoundSource(QObject):
    """Gives blocks of sound from `start` to `stop`."""

    heard = pyqtSignal(object)
    """A block, int16 of shape (n,)."""
    failed = pyqtSignal(object)
    """`DeviceError`: it gives no more."""

    rate_hz = VOICE_RATE_HZ

    def start(self) -> None:
        """Begin; raises `DeviceError` when there is nothing to hear with."""
        raise NotImplementedError

    def stop(self) -> None:
        """End; what was heard until now has been given."""
        raise NotImplementedError


class Microphone(SoundSource):
    """The microphone that the system has chosen."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._source: object | None = None
        self._stream: QIODevice | None = None
        self._kind: SampleFormat = "i2"
        self._channels = 1

    def start(self) -> None:
        """Begin; looks for the microphone each time, as it may have been plugged in meanwhile."""
        from PyQt6.QtMultimedia import QAudio, QAudioSource, QMediaDevices

        device = QMediaDevices.defaultAudioInput()
        if device.isNull():
            raise DeviceError(
                self.tr("there is no microphone"),
                self.tr("Plug one in, or allow it in the system's settings, and press the button again."),
            )
        form = self._usable_format(device)
        source = QAudioSource(device, form, self)
        self._stream = source.start()
        if self._stream is None or source.error() != QAudio.Error.NoError:
            source.deleteLater()
            raise DeviceError(
                self.tr("the microphone “%s” does not start") % device.description(),
                self.tr("Close other programs that record, or choose another in the system's settings of sound."),
            )
        self._source = source
        self._stream.readyRead.connect(self._read)
        source.stateChanged.connect(self._watch)

    def _usable_format(self, device: QAudioDevice) -> QAudioFormat:
        """One channel of 16 bit at 48 kHz where the device can; else what it likes best."""
        from PyQt6.QtMultimedia import QAudioFormat

        form = QAudioFormat()
        form.setSampleRate(VOICE_RATE_HZ)
        form.setChannelCount(1)
        form.setSampleFormat(QAudioFormat.SampleFormat.Int16)
        if not device.isFormatSupported(form):
            form = device.preferredFormat()
        sample = QAudioFormat.SampleFormat
        kinds: dict[QAudioFormat.SampleFormat, SampleFormat] = {
            sample.UInt8: "u1", sample.Int16: "i2", sample.Int32: "i4", sample.Float: "f4",
        }  # fmt: skip
        if form.sampleFormat() not in kinds:
            raise DeviceError(
                self.tr("the microphone gives sound in a way that is not known here"),
                self.tr("Choose another in the system's settings of sound."),
            )
        self._kind, self._channels, self.rate_hz = kinds[form.sampleFormat()], form.channelCount(), form.sampleRate()
        return form

    def _read(self) -> None:
        if self._stream is not None:
            data = self._stream.readAll().data()
            if data:
                self.heard.emit(one_channel(data, self._kind, self._channels))

    def _watch(self, _state: object) -> None:
        from PyQt6.QtMultimedia import QAudio, QAudioSource

        source = self._source
        if isinstance(source, QAudioSource) and source.error() not in (
            QAudio.Error.NoError,
            QAudio.Error.UnderrunError,
        ):
            self.failed.emit(
                DeviceError(
                    self.tr("the microphone stopped giving sound"), self.tr("Plug it in again and record once more.")
                )
            )

    def stop(self) -> None:
        """End."""
        from PyQt6.QtMultimedia import QAudioSource

        source, self._source = self._source, None
        if isinstance(source, QAudioSource):
            self._read()
            self._stream = None
            source.stop()
            source.deleteLater()


class SoundSink(QObject):
    """Plays samples once."""

    ended = pyqtSignal()
    """All of it was played, or it was stopped."""

    def play(self, samples: NDArray[np.int16], rate_hz: int) -> None:
        """Begin; raises `DeviceError` when there is nothing to play with."""
        raise NotImplementedError

    def stop(self) -> None:
        """Fall silent."""
        raise NotImplementedError


class Loudspeaker(SoundSink):
    """The loudspeaker or headphones that the system has chosen."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._sink: object | None = None
        self._buffer = QBuffer(self)

    def play(self, samples: NDArray[np.int16], rate_hz: int) -> None:
        """Begin."""
        from PyQt6.QtMultimedia import QAudio, QAudioFormat, QAudioSink, QMediaDevices

        self.stop()
        device = QMediaDevices.defaultAudioOutput()
        if device.isNull():
            raise DeviceError(
                self.tr("there is nothing to play sound with"), self.tr("Plug in headphones or a loudspeaker.")
            )
        form = QAudioFormat()
        form.setSampleRate(rate_hz)
        form.setChannelCount(1)
        form.setSampleFormat(QAudioFormat.SampleFormat.Int16)
        if not device.isFormatSupported(form):
            form.setChannelCount(2)
            samples = samples.repeat(2)
        self._buffer.close()
        self._buffer.setData(QByteArray(samples.tobytes()))
        self._buffer.open(QIODevice.OpenModeFlag.ReadOnly)
        sink = QAudioSink(device, form, self)
        sink.start(self._buffer)
        if sink.error() != QAudio.Error.NoError:
            sink.deleteLater()
            raise DeviceError(
                self.tr("“%s” does not play") % device.description(),
                self.tr("Choose another device in the system's settings of sound."),
            )
        self._sink = sink
        sink.stateChanged.connect(self._watch)

    def _watch(self, state: object) -> None:
        from PyQt6.QtMultimedia import QAudio

        if state == QAudio.State.IdleState:  # all was handed over; the device may still have some of it to play
            sink = self._sink
            QTimer.singleShot(DEVICE_HOLDS_MS, lambda: self.stop() if self._sink is sink else None)

    def stop(self) -> None:
        """Fall silent."""
        from PyQt6.QtMultimedia import QAudioSink

        sink, self._sink = self._sink, None
        if isinstance(sink, QAudioSink):
            sink.stop()
            sink.deleteLater()
            self._buffer.close()
            self.ended.emit()
