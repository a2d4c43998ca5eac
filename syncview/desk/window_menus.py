"""The menus of the window, and the keys that belong to it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QObject, Qt
from PyQt6.QtGui import QAction, QActionGroup, QKeySequence
from PyQt6.QtWidgets import QFileDialog, QMenu, QMessageBox

from syncview import __version__
from syncview.desk import settings
from syncview.desk.panels import DOCKED, PICTURE, title_of
from syncview.desk.shortcuts import Key, KeysDialog, keys_of

if TYPE_CHECKING:
    from syncview.desk.main_window import MainWindow
    from syncview.project import Project
    from syncview.shown_units import Units


class WindowMenus(QObject):
    """Project, Edit, View, Help."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._needs_project: list[QAction] = []
        self._project_menu()
        self._edit_menu()
        self._view_menu()
        self._help_menu()
        self.follow(None)
        self.show_recent()

    def _menu(self, words: str) -> QMenu:
        bar = self._window.menuBar()
        assert bar is not None
        menu = bar.addMenu(words)
        assert menu is not None
        menu.setToolTipsVisible(True)
        return menu

    def _add(
        self, menu: QMenu, words: str, slot: Callable[[], object], *, keys: str = "", tip: str = "",
        needs_project: bool = False,
    ) -> QAction:  # fmt: skip
        action = QAction(words, self._window)
        if keys:
            action.setShortcuts([QKeySequence(key) for key in keys.split(" | ")])
        if tip:
            action.setToolTip(tip)
            action.setStatusTip(tip)
        action.triggered.connect(lambda _checked=False: slot())
        menu.addAction(action)
        if needs_project:
            self._needs_project.append(action)
        return action

    def _project_menu(self) -> None:
        window, menu = self._window, self._menu(self.tr("&Project"))
        self._add(menu, self.tr("&New…"), lambda: window.begin_setup(), keys="Ctrl+N",
                  tip=self.tr("Make a project from a recording and a log"))  # fmt: skip
        self._add(menu, self.tr("&Open…"), self.ask_project, keys="Ctrl+O")
        self._recent = menu.addMenu(self.tr("Open &recent"))
        menu.addSeparator()
        for words, step, tip in (
            (self.tr("&Columns of the log…"), "files", self.tr("Say what each column is, and its unit")),
            (self.tr("&Match picture and data…"), "match", self.tr("Put both on one clock, or nudge the clock")),
            (self.tr("Choose the &lap…"), "lap", self.tr("Which lap is taught")),
        ):
            self._add(menu, words, partial(window.step_of_setup, step), tip=tip, needs_project=True)
        menu.addSeparator()
        self._add(menu, self.tr("&Save now"), window.autosave.save_now, keys="Ctrl+S", needs_project=True,
                  tip=self.tr("Changes are saved within a second by themselves"))  # fmt: skip
        self._add(menu, self.tr("C&lose the project"), self._close_project, keys="Ctrl+W", needs_project=True)
        self._add(menu, self.tr("&Quit"), window.close, keys="Ctrl+Q")

    def _edit_menu(self) -> None:
        menu, history = self._menu(self.tr("&Edit")), self._window.state.history
        # Kept here: Qt hands these actions over to whoever asked for them, and a menu does not hold on to them.
        self._history = (
            history.createUndoAction(self._window, self.tr("&Undo")),
            history.createRedoAction(self._window, self.tr("&Redo")),
        )
        for action, keys in zip(self._history, ("Ctrl+Z", "Ctrl+Shift+Z | Ctrl+Y"), strict=True):
            assert action is not None
            action.setShortcuts([QKeySequence(key) for key in keys.split(" | ")])
            menu.addAction(action)

    def _view_menu(self) -> None:
        window, menu = self._window, self._menu(self.tr("&View"))
        for row in (PICTURE, *DOCKED):
            self._add(menu, self.tr("Go to: %s") % title_of(row), partial(window.go_to_panel, row.name),
                      keys=row.key, needs_project=True)  # fmt: skip
        menu.addSeparator()
        for row in DOCKED:
            shown = window.docks[row.name].toggleViewAction()
            assert shown is not None
            shown.setText(self.tr("Show: %s") % title_of(row))
            menu.addAction(shown)
            self._needs_project.append(shown)
        self._add(menu, self.tr("&Arrange afresh"), window.arrange_afresh, needs_project=True,
                  tip=self.tr("All panels back to their places"))  # fmt: skip
        menu.addSeparator()
        self._add(menu, self.tr("Dismiss the message"), window.faults.dismiss, keys="Ctrl+Backspace")
        self._add(menu, self.tr("Dark or light"), window.toggle_theme, keys="Ctrl+T")
        self._units = QActionGroup(self)
        choices: tuple[tuple[Units, str], ...] = (
            ("metric", self.tr("Metric units")), ("imperial", self.tr("Imperial units"))
        )  # fmt: skip
        for units, words in choices:
            action = self._add(menu, words, partial(window.state.set_units, units))
            action.setCheckable(True)
            action.setData(units)
            self._units.addAction(action)
        window.state.unitsChanged.connect(self._check_units)
        self._check_units(window.state.units)

    def _help_menu(self) -> None:
        menu = self._menu(self.tr("&Help"))
        self._add(menu, self.tr("&Keys…"), self.show_keys, keys="F1 | ?")
        self._add(menu, self.tr("&About syncview"), self._about)

    # What the menus do

    def ask_project(self) -> None:
        """Let the person choose a project."""
        name, _kind = QFileDialog.getOpenFileName(
            self._window, self.tr("Open a project"), self._folder(), self.tr("Projects (*.json);;All files (*)")
        )
        if name:
            self._window.open_project(Path(name))

    def _folder(self) -> str:
        recent = settings.recent_projects()
        return str(recent[0].parent) if recent else str(Path.home())

    def _close_project(self) -> None:
        self._window.state.close_project()
        self._window.show_welcome()

    def show_recent(self) -> None:
        """List the recent projects anew."""
        assert self._recent is not None
        self._recent.clear()
        paths = settings.recent_projects()
        self._recent.setEnabled(bool(paths))
        for path in paths:
            action = QAction(path.name.replace("&", "&&"), self._recent)
            action.setToolTip(str(path))
            action.triggered.connect(lambda _checked=False, path=path: self._window.open_project(path))
            self._recent.addAction(action)

    def follow(self, project: Project | None) -> None:
        """Actions that need a project are off without one."""
        for action in self._needs_project:
            action.setEnabled(project is not None)

    def _check_units(self, units: str) -> None:
        for action in self._units.actions():
            action.setChecked(action.data() == units)

    def keys(self) -> list[Key]:
        """All keys that are bound now."""
        window = self._window
        found: list[Key] = []
        for row in (PICTURE, *DOCKED):
            if row.name in window.panels:
                found += keys_of(window.panels[row.name], title_of(row))
        of_panels = {(key.keys, key.words) for key in found}
        everywhere = [key for key in keys_of(window, self.tr("Everywhere")) if (key.keys, key.words) not in of_panels]
        return [*everywhere, *found]

    def show_keys(self) -> None:
        """The list of keys, beside the window: work can go on while it is read."""
        dialog = KeysDialog(self.keys(), self._window)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.show()

    def _about(self) -> None:
        box = QMessageBox(self._window)
        box.setWindowTitle(self.tr("About syncview"))
        box.setText(self.tr("syncview %s: onboard picture and car log on one clock.") % __version__)
        box.setInformativeText(
            self.tr(
                "Free software under the GNU General Public License, version 3 or later.\n\n"
                "Driving figures hold for that car, tyres, surface and weather only: build up to them with margin, on "
                "closed circuits; the circuit's rules, flags, marshals and a qualified instructor come first."
            )
        )
        box.open()
