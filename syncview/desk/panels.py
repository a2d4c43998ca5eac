"""The panels of the desk: one row each. They are imported when the window is already there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from PyQt6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, Qt
from PyQt6.QtWidgets import QWidget

if TYPE_CHECKING:
    from syncview.desk.state import DeskState


@dataclass(frozen=True, slots=True)
class PanelRow:
    """One panel."""

    name: str
    """Under which its place is remembered."""
    title: str
    class_name: str
    area: Qt.DockWidgetArea
    key: str
    """Goes to the panel, and shows it when it is hidden."""


_RIGHT, _BELOW = Qt.DockWidgetArea.RightDockWidgetArea, Qt.DockWidgetArea.BottomDockWidgetArea

PICTURE = PanelRow(
    "picture", QT_TRANSLATE_NOOP("panels", "Picture"), "PicturePanel", Qt.DockWidgetArea.NoDockWidgetArea, "Ctrl+1"
)
"""In the middle of the window; always there."""
DOCKED: tuple[PanelRow, ...] = (
    PanelRow("traces", QT_TRANSLATE_NOOP("panels", "Traces"), "TracesPanel", _BELOW, "Ctrl+2"),
    PanelRow("map", QT_TRANSLATE_NOOP("panels", "Map"), "MapPanel", _RIGHT, "Ctrl+3"),
    PanelRow("notes", QT_TRANSLATE_NOOP("panels", "Notes"), "NotesPanel", _RIGHT, "Ctrl+4"),
    PanelRow("plan", QT_TRANSLATE_NOOP("panels", "Lesson plan"), "PlanPanel", _BELOW, "Ctrl+5"),
    PanelRow("export", QT_TRANSLATE_NOOP("panels", "Export"), "ExportPanel", _RIGHT, "Ctrl+6"),
)
"""In the order in which they are placed."""


def title_of(row: PanelRow) -> str:
    """The panel's title in the person's language."""
    return QCoreApplication.translate("panels", row.title)


PanelMaker = Callable[["DeskState", QWidget], QWidget]


def import_panel(row: PanelRow) -> PanelMaker:
    """The panel's class. Slow the first time: meant for a thread."""
    maker: PanelMaker = getattr(import_module(f"syncview.desk.{row.name}.panel"), row.class_name)
    return maker
