"""How pictures look: colours after Okabe and Ito, the gauges' font, thin lines, words beside what they mean.

Nothing is told by colour alone: braking is a bar across the track and a hatched area below the line, throttle an
arrowhead along it and a plain area above. The pace ramp grows lighter with speed, so it survives a grey printer.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.gauges.fonts import font_files
from syncview.output_file import whole_file

if TYPE_CHECKING:
    from matplotlib.colors import LinearSegmentedColormap
    from matplotlib.figure import Figure

INK = "#14181f"
QUIET = "#5b6470"
FAINT = "#d5dae0"
PAPER = "#ffffff"
THROTTLE = "#0072B2"
BRAKE = "#D55E00"
BRAKE_WORDS = "#a84800"
"""Darker, for words of the size of a caption."""
OTHER = "#8a929c"
"""The lap compared with."""
PACE = ("#0a1a2c", "#0c4a78", "#2f8fc8", "#8fcbe8", "#f6f0cf")
"""From slow to fast; lightness rises all the way (tested)."""
PAGE_IN = (11.0, 7.6)
DPI = 160


def pace_ramp() -> LinearSegmentedColormap:
    """The colours of speed."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("pace", list(PACE))


@contextmanager
def styled() -> Iterator[None]:
    """Draw and save within this, so that nothing of the look leaks out."""
    import matplotlib as mpl
    from matplotlib import font_manager

    for weight in ("regular", "bold"):
        own = font_files(weight)[0]
        if not any(entry.fname == str(own) for entry in font_manager.fontManager.ttflist):
            font_manager.fontManager.addfont(str(own))
    with mpl.rc_context({
        "font.family": ["B612", "DejaVu Sans"], "font.size": 8.5, "text.color": INK, "axes.edgecolor": FAINT,
        "axes.labelcolor": QUIET, "xtick.color": QUIET, "ytick.color": QUIET, "xtick.labelsize": 8,
        "ytick.labelsize": 8, "axes.linewidth": 0.8, "axes.spines.top": False, "axes.spines.right": False,
        "xtick.major.size": 3, "ytick.major.size": 0, "axes.grid": False, "hatch.linewidth": 0.6,
        "svg.hashsalt": "syncview", "savefig.facecolor": PAPER, "axes.facecolor": PAPER, "figure.facecolor": PAPER,
    }), warnings.catch_warnings():  # fmt: skip
        # A name in a script that neither font writes is drawn as boxes; the picture is not worth refusing for it.
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        yield


def page() -> Figure:
    """An empty page."""
    from matplotlib.figure import Figure

    return Figure(figsize=PAGE_IN, dpi=DPI)


def title(figure: Figure, words: str, below: str) -> None:
    """The heading at the top left, and a quieter line below it."""
    figure.text(0.045, 0.948, words, fontsize=15, fontweight="bold", va="baseline")
    figure.text(0.045, 0.918, below, fontsize=9, color=QUIET, va="baseline")


SAFETY = (
    "Figures hold for this car, tyres, surface and weather only: build up to them with margin. "
    "The circuit's rules and a qualified instructor come first."
)


def footer(figure: Figure, words: str = "") -> None:
    """What the picture was made from, and the warning that every printed product carries."""
    figure.text(0.045, 0.018, SAFETY, fontsize=6.5, color=QUIET)
    figure.text(0.045, 0.036, words, fontsize=6.5, color=QUIET)


def save_picture(figure: Figure, output: Path, *, overwrite: bool) -> None:
    """Write a figure whole or not at all; the suffix says the kind. The same figure gives the same file."""
    kind = output.suffix.lower()[1:]
    metadata = {"png": {"Software": "syncview"}, "svg": {"Date": None}, "pdf": {"CreationDate": None}}[kind]
    with whole_file(output, overwrite=overwrite) as part:
        figure.savefig(part, format=kind, metadata=metadata)
