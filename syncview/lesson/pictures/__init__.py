"""Pictures for paper and screen: the lap as a map, one corner as traces. Drawn with matplotlib, loaded when used."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import OutputError, SyncviewError
from syncview.output_file import refuse_bad_target

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.track.laps import Lap

SUFFIXES = (".png", ".svg", ".pdf")


def refuse_bad_output(output: Path, *, overwrite: bool) -> None:
    """Raise `OutputError` when no picture can be written there."""
    if output.suffix.lower() not in SUFFIXES:
        problem = f"a picture cannot be written as “{output.suffix}”"
        raise OutputError(problem, "Choose a name that ends in .png, .svg or .pdf.", where=output)
    refuse_bad_target(output, overwrite=overwrite)


def draw_map(session: Session, lap: Lap, output: Path, *, overwrite: bool = False) -> None:
    """Draw a lap as a map coloured by speed. Raises `OutputError`."""
    from syncview.lesson.pictures.lap_map import lap_map
    from syncview.lesson.pictures.look import save_picture, styled

    refuse_bad_output(output, overwrite=overwrite)
    with styled():
        save_picture(lap_map(session, lap), output, overwrite=overwrite)


def draw_corner(session: Session, lap: Lap, number: int, output: Path, *, against: Lap | None = None,
                overwrite: bool = False) -> None:  # fmt: skip
    """Draw the traces of one corner of a lap. Raises `OutputError`, or `SyncviewError` without such a corner."""
    from syncview.lesson.pictures.corner_traces import corner_traces
    from syncview.lesson.pictures.look import save_picture, styled

    refuse_bad_output(output, overwrite=overwrite)
    corner = next((corner for corner in session.corners if corner.number == number), None)
    if corner is None:
        known = ", ".join(str(corner.number) for corner in session.corners) or "none"
        raise SyncviewError(f"there is no corner {number}", f"Corners are: {known}.")
    with styled():
        save_picture(corner_traces(session, lap, corner, against=against), output, overwrite=overwrite)
