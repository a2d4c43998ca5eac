"""The window: panels in their places, menus, the bar for faults, and what happens when things are dropped on it."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from PyQt6.QtCore import QByteArray, QCoreApplication, Qt, QTimer
from PyQt6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent
from PyQt6.QtWidgets import QApplication, QDockWidget, QMainWindow, QSizePolicy, QStackedWidget, QVBoxLayout, QWidget

from syncview.desk import settings, theme
from syncview.desk.autosave import Autosave
from syncview.desk.collecting import QuietCollector
from syncview.desk.fault_bar import Fault, FaultBar
from syncview.desk.kept import tidy
from syncview.desk.opening.welcome import WelcomePage
from syncview.desk.panel_head import PanelHead
from syncview.desk.panels import DOCKED, PICTURE, PanelMaker, PanelRow, import_panel, title_of
from syncview.desk.status_line import StatusLine
from syncview.desk.troubles import Troubles
from syncview.desk.window_menus import WindowMenus
from syncview.desk.work import as_fault
from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from syncview.desk.opening.setup_page import SetupPage
    from syncview.desk.state import DeskState
    from syncview.progress import Progress
    from syncview.project import Project

LOW_WINDOW = 950
"""In a window less high than this the lesson plan lies behind the traces instead of below them."""


BETWEEN_PANELS_MS = 10
"""Time for one panel to be painted before the next."""


class MainWindow(QMainWindow):
    """The desk."""

    def __init__(self, state: DeskState) -> None:
        super().__init__()
        self.state = state
        self.autosave = Autosave(state)
        self._collector = QuietCollector(self)
        self.setWindowTitle("syncview")
        self.setAcceptDrops(True)
        self.setDockNestingEnabled(True)
        self.setCorner(Qt.Corner.BottomRightCorner, Qt.DockWidgetArea.RightDockWidgetArea)
        self.resize(1280, 720)
        self.faults = FaultBar()
        self.panels: dict[str, QWidget] = {}
        self.docks: dict[str, QDockWidget] = {}
        self.setup: SetupPage | None = None
        self.welcome = WelcomePage()
        self.pages = _Pages()
        self.pages.addWidget(self.welcome)
        self._desk_page = QWidget()
        QVBoxLayout(self._desk_page).setContentsMargins(0, 0, 0, 0)
        self.pages.addWidget(self._desk_page)
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.faults)
        column.addWidget(self.pages, 1)
        self.setCentralWidget(middle)
        self.status_line = StatusLine(state)
        self.setStatusBar(self.status_line)
        self._make_docks()
        self.menus = WindowMenus(self)
        self._troubles = Troubles(self)
        self._connect()
        self._arranged = False
        self._panels_before: QByteArray | None = None
        self._to_make = [PICTURE, *DOCKED]
        self._project_path: Path | None = None
        geometry = settings.geometry()
        if geometry is not None:
            self.restoreGeometry(geometry)
        self.show_welcome()

    # Building

    def _make_docks(self) -> None:
        for row in DOCKED:
            dock = QDockWidget(title_of(row), self)
            dock.setObjectName(row.name)
            dock.setTitleBarWidget(PanelHead(dock))
            dock.setAccessibleName(title_of(row))
            dock.hide()
            self.addDockWidget(row.area, dock)
            self.docks[row.name] = dock

    def _connect(self) -> None:
        state = self.state
        state.projectChanged.connect(self._follow_project)
        state.unitsChanged.connect(settings.remember_units)
        self.autosave.saved.connect(self.status_line.show_saved)
        self.welcome.opened.connect(self.open_project)
        self.welcome.dropped.connect(self.take_paths)
        self.welcome.new_wanted.connect(lambda: self.begin_setup())
        self.welcome.open_wanted.connect(self.menus.ask_project)

    def showEvent(self, event: QShowEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Once the window is there, the panels are made, one at a time."""
        super().showEvent(event)
        QTimer.singleShot(0, self._make_next_panel)

    def _make_next_panel(self) -> None:
        """Import the next panel in a thread, then make it here."""
        if not self._to_make:
            return
        row = self._to_make.pop(0)

        def take(maker: PanelMaker) -> None:
            try:
                panel = maker(self.state, self)
            except Exception as error:  # noqa: BLE001 (one broken panel must not take the others with it)
                failed(as_fault(error))
            else:
                placed(panel)

        def failed(error: SyncviewError) -> None:
            self.state.tell(error, where=title_of(row))
            placed(QWidget(self))

        def placed(panel: QWidget) -> None:
            self._place(row, panel)
            QTimer.singleShot(0, self._make_next_panel)

        self.state.work.run(lambda _progress: import_panel(row), done=take, failed=failed)

    def _place(self, row: PanelRow, panel: QWidget) -> None:
        self.panels[row.name] = panel
        for part in panel.findChildren(QWidget):
            part.ensurePolished()  # now, panel by panel, instead of all together when they are first shown
        if row is PICTURE:
            layout = self._desk_page.layout()
            assert layout is not None
            layout.addWidget(panel)
        else:
            self.docks[row.name].setWidget(panel)

    # Pages

    def show_welcome(self) -> None:
        """The first page: drop things here, or take up an earlier project."""
        self._leave_desk()
        self.welcome.show_recent(settings.recent_projects())
        self.pages.setCurrentWidget(self.welcome)

    def show_desk(self) -> None:
        """The page to work on."""
        if self.pages.currentWidget() is self._desk_page:
            return
        self.pages.setCurrentWidget(self._desk_page)
        for widget in (self.pages, self.centralWidget(), self):
            # The page before may have needed more space: forget that before the panels ask for theirs.
            layout = None if widget is None else widget.layout()
            if layout is not None:
                layout.activate()
        self._hold_painting()
        self._arrange()

    def _hold_painting(self) -> None:
        """Let the panels paint one after the other: all at once would keep the window for too long."""
        waiting = list(self.panels.values())
        for panel in waiting:
            panel.setUpdatesEnabled(False)

        def next_one() -> None:
            if waiting:
                waiting.pop(0).setUpdatesEnabled(True)
                QTimer.singleShot(BETWEEN_PANELS_MS, next_one)

        QTimer.singleShot(0, next_one)

    def begin_setup(self, *, recording: Path | None = None, log: Path | None = None) -> None:
        """Lead through the three steps for a new project."""
        page = self._setup_page()
        page.begin(recording=recording, log=log)
        self._show_setup(page)

    def step_of_setup(self, name: str) -> None:
        """Take up one step for the open project: `files`, `match` or `lap`."""
        page = self._setup_page()
        page.take_up(name)
        self._show_setup(page)

    def _show_setup(self, page: SetupPage) -> None:
        self._leave_desk()
        self.pages.setCurrentWidget(page)
        page.setFocus()

    def _setup_page(self) -> SetupPage:
        if self.setup is None:
            from syncview.desk.opening.setup_page import SetupPage

            self.setup = SetupPage(self.state)
            self.setup.finished.connect(self.show_desk)
            self.setup.left.connect(self._back_from_setup)
            self.pages.addWidget(self.setup)
        return self.setup

    @property
    def is_setting_up(self) -> bool:
        """Whether one of the three steps is shown."""
        return self.setup is not None and self.pages.currentIndex() == self.pages.indexOf(self.setup)

    def _back_from_setup(self) -> None:
        if self.state.project is None:
            self.show_welcome()
        else:
            self.show_desk()
            self._troubles.ask_for_match()

    # Arrangement

    def _arrange(self) -> None:
        """The remembered arrangement, or our own."""
        panels = settings.arrangement(low=self._is_low)
        if self._arranged and self._panels_before is not None:
            panels = self._panels_before
        if panels is None or not self.restoreState(panels, settings.ARRANGEMENT):
            self.arrange_afresh()
        self._arranged = True

    def arrange_afresh(self) -> None:
        """Map over notes on the right, export behind the notes; traces below the picture, then the lesson plan."""
        docks = self.docks
        for row in DOCKED:
            docks[row.name].setFloating(False)
            self.removeDockWidget(docks[row.name])
        for row in DOCKED:
            self.addDockWidget(row.area, docks[row.name])
            docks[row.name].show()
        self.splitDockWidget(docks["map"], docks["notes"], Qt.Orientation.Vertical)
        self.tabifyDockWidget(docks["notes"], docks["export"])
        docks["notes"].raise_()
        low = self._is_low
        if low:
            self.tabifyDockWidget(docks["traces"], docks["plan"])
            docks["traces"].raise_()
        else:
            self.splitDockWidget(docks["traces"], docks["plan"], Qt.Orientation.Vertical)
        QTimer.singleShot(0, self._share_out)

    @property
    def _is_low(self) -> bool:
        return self.height() < LOW_WINDOW

    def _share_out(self) -> None:
        """Sizes of the panels, once they have their places."""
        docks, low = self.docks, self._is_low
        width, height = self.width(), self.height()
        self.resizeDocks([docks["map"]], [max(340, width * 28 // 100)], Qt.Orientation.Horizontal)
        self.resizeDocks([docks["map"], docks["notes"]], [height * 38 // 100, height * 62 // 100],
                         Qt.Orientation.Vertical)  # fmt: skip
        below = [height * 36 // 100] if low else [height * 28 // 100, height * 16 // 100]
        self.resizeDocks([docks["traces"], docks["plan"]][: len(below)], below, Qt.Orientation.Vertical)

    def _leave_desk(self) -> None:
        if self.pages.currentWidget() is self._desk_page and self._arranged:
            self._panels_before = self.saveState(settings.ARRANGEMENT)
        for dock in self.docks.values():
            dock.hide()

    def go_to_panel(self, name: str) -> None:
        """Show a panel and give it the keyboard."""
        if self.state.project is None:
            return
        self.show_desk()
        if name in self.docks:
            self.docks[name].show()
            self.docks[name].raise_()
        panel = self.panels.get(name)
        if panel is not None:
            panel.setFocus(Qt.FocusReason.ShortcutFocusReason)
            if panel.focusPolicy() == Qt.FocusPolicy.NoFocus:
                panel.focusNextChild()

    # Opening

    def open_project(self, path: Path) -> None:
        """Open a project."""
        with contextlib.suppress(OSError):
            tidy(path, self.autosave.folder)
        self.state.open(path)

    def take_paths(self, paths: list[Path]) -> None:
        """What was dropped on the window: a project, or a recording and a log."""

        def look(_progress: Progress) -> object:
            from syncview.desk.opening.dropped import sorted_out

            return sorted_out(paths)

        self.state.work.run(look, done=self._take_dropped, failed=self.state.tell, what="")

    def _take_dropped(self, found: object) -> None:
        from syncview.desk.opening.dropped import Dropped

        assert isinstance(found, Dropped)
        for sentence in found.remarks:
            self.faults.tell(Fault("", sentence, self.tr("Drop one project, or one recording and one log.")))
        if found.project is not None:
            self.open_project(found.project)
        elif self.is_setting_up and self.setup is not None and self.setup.takes_files:
            self.setup.take_files(recording=found.recording, log=found.log)
        elif found.recording is not None or found.log is not None:
            self.begin_setup(recording=found.recording, log=found.log)

    def _follow_project(self, project: Project | None) -> None:
        path = self.state.path
        self.menus.follow(project)
        if path == self._project_path:
            self.status_line.show_unsaved()
            return
        self._project_path = path
        self._troubles.forget(keep={title_of(row) for row in (PICTURE, *DOCKED)})  # a panel's are not the project's
        self.status_line.clear_saved()
        if path is None or project is None:
            self.setWindowTitle("syncview")
            return
        self.setWindowTitle(f"{path.name.removesuffix('.syncview.json').removesuffix('.json')} – syncview")
        settings.remember_project(path)
        self.menus.show_recent()
        if not self.is_setting_up:
            self.show_desk()
        self._troubles.offer_newer_copy(project, path)

    # Dropping and closing

    def dragEnterEvent(self, event: QDragEnterEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Files are welcome."""
        if event is not None and _files_of(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Take the files."""
        if event is not None and (paths := _files_of(event)):
            event.acceptProposedAction()
            self.take_paths(paths)

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Save, remember, stop all work, and only then go."""
        self.state.set_playing(False)
        on_desk = self.pages.currentWidget() is self._desk_page
        panels = self.saveState(settings.ARRANGEMENT) if on_desk and self._arranged else self._panels_before
        settings.remember_arrangement(self.saveGeometry(), panels, low=self._is_low)
        self._to_make.clear()
        saved = self.autosave.close()
        for panel in self.panels.values():
            panel.close()
        self.state.close()
        self._collector.release()
        if not saved:
            self.state.tell(SyncviewError(self.tr("saving takes longer than ten seconds"), self.tr("Close again.")))
        super().closeEvent(event)

    def toggle_theme(self) -> None:
        """Dark to light and back."""
        app = QCoreApplication.instance()
        assert isinstance(app, QApplication)
        name: theme.ThemeName = "light" if theme.current().name == "dark" else "dark"
        theme.apply(app, name)
        settings.remember_theme(name)


class _Pages(QStackedWidget):
    """Only the page that is shown says how much space is needed: the others must not make the window larger."""

    def __init__(self) -> None:
        super().__init__()
        self.currentChanged.connect(self._measure)

    def addWidget(self, page: QWidget | None) -> int:  # noqa: N802 (Qt's name)
        """Add a page."""
        number = super().addWidget(page)
        self._measure()
        return number

    def _measure(self) -> None:
        for number in range(self.count()):
            page, policy = self.widget(number), QSizePolicy.Policy.Ignored
            if number == self.currentIndex():
                policy = QSizePolicy.Policy.Preferred
            if page is not None:
                page.setSizePolicy(policy, policy)


def _files_of(event: QDropEvent) -> list[Path]:
    data = event.mimeData()
    if data is None:
        return []
    return [Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile()]
