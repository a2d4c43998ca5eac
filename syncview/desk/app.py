"""Starting the desk: the window first, everything heavy afterwards."""

from __future__ import annotations

import os
import sys
import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType

from PyQt6.QtCore import QLibraryInfo, QObject, QTimer, QTranslator, pyqtSignal
from PyQt6.QtWidgets import QApplication

from syncview import __version__
from syncview.desk import settings, theme
from syncview.desk.main_window import MainWindow
from syncview.desk.sound_library import load_sound
from syncview.desk.state import DeskState


class FaultCatcher(QObject):
    """Faults that nothing else caught: told in the window's bar, with the traceback on standard error."""

    _caught = pyqtSignal(object)

    def __init__(self, state: DeskState) -> None:
        super().__init__(state)
        self._state = state
        self._caught.connect(self._tell)
        self._before = (sys.excepthook, threading.excepthook)
        sys.excepthook = self._of_main
        threading.excepthook = self._of_thread

    def _of_main(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        traceback.print_exception(kind, error, trace)
        if isinstance(error, KeyboardInterrupt):
            QApplication.quit()
        else:
            self._caught.emit(error)

    def _of_thread(self, caught: threading.ExceptHookArgs) -> None:
        if caught.exc_value is not None:
            self._of_main(caught.exc_type, caught.exc_value, caught.exc_traceback)

    def _tell(self, error: BaseException) -> None:
        self._state.tell(error)

    def release(self) -> None:
        """Give the hooks back."""
        sys.excepthook, threading.excepthook = self._before


def make_app(words: Sequence[str] = ()) -> QApplication:
    """The application, named, translated and in the person's theme."""
    existing = QApplication.instance()
    app = existing if isinstance(existing, QApplication) else QApplication(["syncview", *words])
    app.setApplicationName("syncview")
    app.setOrganizationName("syncview")
    app.setApplicationDisplayName("syncview")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("syncview")
    _translate(app)
    theme.apply(app, settings.theme_name())
    return app


def _translate(app: QApplication) -> None:
    """Qt's own words, and ours where a translation lies beside this file, in the language of the system."""
    from PyQt6.QtCore import QLocale

    for name, folder in (
        ("qtbase", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath)),
        ("desk", str(Path(__file__).parent / "translations")),
    ):
        translator = QTranslator(app)
        if translator.load(QLocale(), name, "_", folder):
            app.installTranslator(translator)


def run(project: Path | None = None, *, when_shown: Callable[[MainWindow], None] | None = None) -> int:
    """Open the window, with a project where one is given, and stay until it is closed; returns the exit code."""
    app = make_app()
    load_sound()
    state = DeskState()
    catcher = FaultCatcher(state)
    window = MainWindow(state)
    window.show()
    if project is not None:
        window.open_project(project)
    QTimer.singleShot(0, lambda: _interruptible(app))
    if when_shown is not None:
        QTimer.singleShot(0, lambda: when_shown(window))
    try:
        return app.exec()
    finally:
        catcher.release()
        window.close()  # again, when the program was ended in another way than by closing it: threads must end


def _interruptible(app: QApplication) -> None:
    """Ctrl+C in the terminal closes the window, which saves: Python looks at signals only when it runs."""
    import signal

    signal.signal(signal.SIGINT, lambda _number, _frame: app.closeAllWindows())
    if hasattr(signal, "SIGTERM"):
        signal.signal(signal.SIGTERM, lambda _number, _frame: app.closeAllWindows())
    beat = QTimer(app)
    beat.timeout.connect(lambda: None)
    beat.start(500)


def display_fault() -> str | None:
    """Why no window can be shown here, before Qt would abort the program; None when nothing speaks against it."""
    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM"):
        return None
    if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        return None
    return "there is no display"
