"""How the desk looks, dark and light: colours of its own, akin to those of the gauges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from PyQt6.QtGui import QColor, QGuiApplication, QPalette

from syncview.gauges.palette import AHEAD, BEHIND, BRAKE, DOT, PLATE, THROTTLE, Colour

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QApplication

ThemeName = Literal["dark", "light"]


@dataclass(frozen=True, slots=True)
class Theme:
    """All colours of the desk. Text colours keep 4.5:1 on `ground`, `panel` and `raised`; data colours 3:1 (tested)."""

    name: ThemeName
    ground: Colour
    """Behind everything."""
    panel: Colour
    """Lists, traces, map."""
    raised: Colour
    """Buttons, headings of panels."""
    line: Colour
    """Borders and grid."""
    ink: Colour
    quiet: Colour
    """Labels and remarks."""
    accent: Colour
    """Selection and focus."""
    on_accent: Colour
    warning: Colour
    """The bar for faults; never alone, always with words."""
    on_warning: Colour
    throttle: Colour
    brake: Colour
    ahead: Colour
    behind: Colour
    playhead: Colour


DARK = Theme(
    name="dark", ground=PLATE, panel=(22, 27, 34), raised=(34, 41, 51), line=(64, 74, 88), ink=(238, 241, 245),
    quiet=(168, 178, 190), accent=(58, 160, 222), on_accent=(8, 12, 18), warning=(84, 47, 14),
    on_warning=(255, 226, 196), throttle=THROTTLE, brake=BRAKE, ahead=AHEAD, behind=BEHIND, playhead=DOT,
)  # fmt: skip
LIGHT = Theme(
    name="light", ground=(236, 239, 243), panel=(252, 253, 254), raised=(222, 228, 235), line=(176, 186, 198),
    ink=(20, 26, 34), quiet=(74, 84, 97), accent=(0, 98, 158), on_accent=(255, 255, 255), warning=(255, 231, 205),
    on_warning=(92, 42, 0), throttle=(0, 98, 158), brake=(190, 78, 0), ahead=(0, 120, 86), behind=(160, 72, 122),
    playhead=(28, 34, 42),
)  # fmt: skip
THEMES: dict[ThemeName, Theme] = {theme.name: theme for theme in (DARK, LIGHT)}

_PROPERTY = "syncview theme"


def current() -> Theme:
    """The theme that is on; panels that paint ask for it in `paintEvent`, or on `QEvent.Type.PaletteChange`."""
    app = QGuiApplication.instance()
    name = None if app is None else app.property(_PROPERTY)
    return LIGHT if name == "light" else DARK


def apply(app: QApplication, name: ThemeName) -> None:
    """Give the whole program a theme."""
    theme = THEMES[name]
    app.setProperty(_PROPERTY, name)
    if app.style() is None or app.style().name() != "fusion":  # type: ignore[union-attr]
        app.setStyle("Fusion")
    app.setPalette(palette_of(theme))
    app.setStyleSheet(style_sheet(theme))


def palette_of(theme: Theme) -> QPalette:
    """Qt's roles in the theme's colours."""
    role = QPalette.ColorRole
    palette = QPalette()
    for one, colour in (
        (role.Window, theme.ground), (role.WindowText, theme.ink), (role.Base, theme.panel),
        (role.AlternateBase, theme.ground), (role.Text, theme.ink), (role.Button, theme.raised),
        (role.ButtonText, theme.ink), (role.BrightText, theme.ink), (role.ToolTipBase, theme.raised),
        (role.ToolTipText, theme.ink), (role.Highlight, theme.accent), (role.HighlightedText, theme.on_accent),
        (role.Link, theme.accent), (role.PlaceholderText, theme.quiet), (role.Mid, theme.line),
        (role.Dark, theme.line), (role.Light, theme.raised), (role.Midlight, theme.raised),
    ):  # fmt: skip
        palette.setColor(one, QColor(*colour))
    for one in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, one, QColor(*mixed(theme.quiet, theme.panel, 0.35)))
    palette.setColor(QPalette.ColorGroup.Disabled, role.Highlight, QColor(*theme.line))
    return palette


def mixed(one: Colour, other: Colour, share: float) -> Colour:
    """A colour between two; `share` of the other."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(one, other, strict=True))
    return red, green, blue


def css(colour: Colour) -> str:
    """The colour as style sheets write it."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def style_sheet(theme: Theme) -> str:
    """What the palette cannot say: borders, spacing, headings."""
    names = {
        "ground": theme.ground, "panel": theme.panel, "raised": theme.raised, "line": theme.line, "ink": theme.ink,
        "quiet": theme.quiet, "accent": theme.accent, "on_accent": theme.on_accent, "warning": theme.warning,
        "on_warning": theme.on_warning, "hover": mixed(theme.raised, theme.accent, 0.25),
        "brake": theme.brake, "off": mixed(theme.quiet, theme.panel, 0.35),
    }  # fmt: skip
    sheet = _SHEET
    for name, colour in names.items():
        sheet = sheet.replace(f"@{name};", f"{css(colour)};")
    return sheet


_SHEET = """
QMainWindow::separator { background: @ground; width: 5px; height: 5px; }
QMainWindow::separator:hover { background: @accent; }
QWidget#panelHead { background: @raised; }
QWidget#panelHead QLabel { color: @quiet; background: transparent; }
QWidget#panelHead QToolButton { border: 0px; background: transparent; color: @quiet; padding: 0px 5px; }
QWidget#panelHead QToolButton:hover, QWidget#panelHead QToolButton:focus { background: @hover; color: @ink; }
QTabWidget::pane { background: @panel; border: 1px solid @line; }
QTabWidget > QWidget > QWidget { background: @panel; }
QFrame#card { background: @panel; border: 1px solid @line; border-radius: 10px; }
QLabel#title { color: @ink; }
QLabel#quiet { color: @quiet; }
QFrame#faultBar { background: @warning; border: 0px; border-left: 6px solid @brake; }
QFrame#faultBar QLabel { color: @on_warning; background: transparent; }
QPushButton, QToolButton { background: @raised; color: @ink; border: 1px solid @line; border-radius: 5px;
  padding: 4px 10px; min-height: 18px; }
QToolButton { padding: 3px 6px; }
QPushButton:hover, QToolButton:hover { background: @hover; }
QPushButton:focus, QToolButton:focus { border: 2px solid @accent; padding: 3px 9px; }
QToolButton:focus { padding: 2px 5px; }
QPushButton:pressed, QToolButton:pressed, QToolButton:checked, QPushButton:checked { background: @accent;
  color: @on_accent; }
QPushButton:default { background: @accent; color: @on_accent; border: 1px solid @accent; }
QPushButton:default:hover { border: 2px solid @ink; padding: 3px 9px; }
QPushButton:disabled, QToolButton:disabled { color: @off; background: @panel; border: 1px solid @line; }
QMenuBar { background: @ground; color: @ink; }
QMenuBar::item { padding: 4px 9px; background: transparent; }
QMenuBar::item:selected, QMenu::item:selected { background: @accent; color: @on_accent; }
QMenu { background: @panel; color: @ink; border: 1px solid @line; }
QMenu::item { padding: 5px 26px 5px 22px; }
QMenu::item:disabled { color: @off; }
QMenu::separator { height: 1px; background: @line; margin: 4px 8px; }
QStatusBar { background: @ground; color: @quiet; }
QStatusBar::item { border: 0px; }
QStatusBar QLabel { color: @quiet; }
QProgressBar { background: @raised; color: @ink; border: 1px solid @line; border-radius: 4px; text-align: center;
  max-height: 14px; }
QProgressBar::chunk { background: @accent; border-radius: 3px; }
QTabBar { qproperty-drawBase: 0; }
QTabBar::tab { background: @ground; color: @quiet; padding: 5px 12px; border: 0px;
  border-top: 3px solid transparent; }
QTabBar::tab:selected { color: @ink; background: @raised; border-top: 3px solid @accent; }
QToolTip { background: @raised; color: @ink; border: 1px solid @line; padding: 3px; }
QCheckBox::indicator { width: 14px; height: 14px; border: 1px solid @quiet; border-radius: 3px; background: @ground; }
QCheckBox::indicator:focus, QCheckBox::indicator:hover { border: 2px solid @accent; }
QCheckBox::indicator:checked { background: @accent; border: 3px solid @ink; }
QScrollBar:vertical { background: transparent; width: 11px; margin: 0px; }
QScrollBar:horizontal { background: transparent; height: 11px; margin: 0px; }
QScrollBar::handle { background: @line; border-radius: 4px; min-height: 24px; min-width: 24px; margin: 2px; }
QScrollBar::handle:hover { background: @quiet; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0px; height: 0px; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
"""
