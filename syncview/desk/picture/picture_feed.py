"""Brings the pictures of the playhead to the main thread: the newest asked for, never one that is out of date."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, QStandardPaths, QTimer, pyqtSignal

from syncview.desk.picture.stepping import number_at
from syncview.media.scrub.pictures import SMALL_PIXELS, ScrubPicture

if TYPE_CHECKING:
    from pathlib import Path

    from syncview.media.recording import Recording
    from syncview.media.scrub.scrub_source import ScrubSource

_AT_REST_MS = 120
"""When the playhead has stood for so long, the picture is wanted in its full size."""


class PictureFeed(QObject):
    """Pictures of one recording after the other."""

    pictured = pyqtSignal(object)
    """A `ScrubPicture` to show now."""
    faulted = pyqtSignal(object)
    """A `SyncviewError`."""
    _arrived = pyqtSignal(object)

    def __init__(self, *, with_proxies: bool = True, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._with_proxies = with_proxies
        self._source: ScrubSource | None = None
        self._recording: Recording | None = None
        self._asked = 0
        self._wanted_s = Fraction(0)
        self._wants_full = False
        self._shown: ScrubPicture | None = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_AT_REST_MS)
        self._rest.timeout.connect(self._ask_full)
        self._arrived.connect(self._take)

    @property
    def source(self) -> ScrubSource | None:
        """Where pictures come from."""
        return self._source

    def open(self, recording: Recording | None) -> None:
        """Take pictures from this recording from now on."""
        self.close()
        if recording is None:
            return
        from syncview.media.scrub.scrub_source import ScrubSource

        self._recording = recording
        self._source = ScrubSource(
            recording,
            on_picture=self._arrived.emit,
            on_fault=self.faulted.emit,
            proxy_folder=self._proxy_folder(recording),
        )

    def _proxy_folder(self, recording: Recording) -> Path | None:
        """Recordings that are small themselves need no small copies."""
        from pathlib import Path

        if not self._with_proxies or recording.display_width * recording.display_height <= SMALL_PIXELS:
            return None
        where = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.CacheLocation)
        return Path(where) / "small pictures" if where else None

    def show_width(self, width_px: int) -> None:
        """How wide the picture is on screen: beyond the small pictures' width, full ones follow."""
        recording = self._recording
        if recording is None:
            return
        from syncview.media.scrub.pictures import small_size

        small_width, _height = small_size(recording.display_width, recording.display_height)
        self._wants_full = width_px > small_width and recording.display_width > small_width
        if self._wants_full:
            self._rest.start()

    def ask(self, media_s: Fraction) -> None:
        """Show that moment: at once when it is in memory."""
        source = self._source
        if source is None:
            return
        self._wanted_s = media_s
        now = source.picture_now(media_s)
        self._asked = source.ask(media_s)
        if now is not None:
            self._show(now)
        self._rest.start()

    def note_shown(self, picture: ScrubPicture) -> None:
        """Another one was shown meanwhile, by playing."""
        self._shown = picture

    def _ask_full(self) -> None:
        if self._source is not None and (self._wants_full or not self._is_right()):
            self._asked = self._source.ask(self._wanted_s, full=self._wants_full)

    def _is_right(self) -> bool:
        """True when the frame that is shown is the one under the playhead."""
        return (
            self._shown is not None
            and self._recording is not None
            and self._shown.number == number_at(self._recording.frames, self._wanted_s)
        )

    def _take(self, picture: ScrubPicture) -> None:
        if picture.asked != self._asked or self._source is None:
            return  # asked before the newest
        shown = self._shown
        if not picture.is_exact and self._is_right():
            return
        if picture.is_exact and self._is_right() and shown is not None and not _is_better(picture, shown):
            return
        self._show(picture)

    def _show(self, picture: ScrubPicture) -> None:
        self._shown = picture
        self.pictured.emit(picture)

    def close(self) -> None:
        """End all threads."""
        self._rest.stop()
        source, self._source, self._recording, self._shown = self._source, None, None, None
        if source is not None:
            source.close()


def _is_better(picture: ScrubPicture, shown: ScrubPicture) -> bool:
    """Of the same frame: larger, or as large without the loss of the small copies."""
    if picture.is_full != shown.is_full:
        return picture.is_full
    return shown.is_proxy and not picture.is_proxy
