"""What the desk remembers between sessions: theme, units, arrangement, recent projects."""

from __future__ import annotations

from pathlib import Path

from PyQt6.QtCore import QByteArray, QSettings

from syncview.desk.theme import ThemeName
from syncview.shown_units import Units

MOST_RECENT = 10
ARRANGEMENT = 1
"""Raised when panels come or go, so that an arrangement of other panels is not forced on these."""


def open_settings() -> QSettings:
    """The person's settings of this program."""
    return QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "syncview", "desk")


def recent_projects() -> list[Path]:
    """Projects opened lately that are still there, the latest first."""
    texts = open_settings().value("recent", [], type=list)
    return [Path(text) for text in texts if isinstance(text, str) and Path(text).is_file()]


def remember_project(path: Path) -> None:
    """Put a project at the head of the recent ones."""
    head = str(path.resolve())
    rest = [str(old) for old in recent_projects() if str(old) != head]
    open_settings().setValue("recent", [head, *rest][:MOST_RECENT])


def theme_name() -> ThemeName:
    """The chosen theme; dark unless light was chosen."""
    return "light" if open_settings().value("theme", "dark") == "light" else "dark"


def remember_theme(name: ThemeName) -> None:
    """Keep the choice."""
    open_settings().setValue("theme", name)


def units_for_new() -> Units:
    """Units for new projects: those that were shown last."""
    return "imperial" if open_settings().value("units", "metric") == "imperial" else "metric"


def remember_units(units: Units) -> None:
    """Keep the choice."""
    open_settings().setValue("units", units)


def geometry() -> QByteArray | None:
    """Place and size of the window; None where there is none yet."""
    value = open_settings().value("geometry")
    return value if isinstance(value, QByteArray) else None


def arrangement(*, low: bool) -> QByteArray | None:
    """Arrangement of the panels in a low or a high window: on a small screen another one serves than on a large."""
    value = open_settings().value(_arrangement_key(low=low))
    return value if isinstance(value, QByteArray) else None


def remember_arrangement(window: QByteArray, panels: QByteArray | None, *, low: bool) -> None:
    """Keep both; None leaves the panels' as it was."""
    settings = open_settings()
    settings.setValue("geometry", window)
    if panels is not None:
        settings.setValue(_arrangement_key(low=low), panels)


def _arrangement_key(*, low: bool) -> str:
    return f"panels{ARRANGEMENT}{'low' if low else 'high'}"
