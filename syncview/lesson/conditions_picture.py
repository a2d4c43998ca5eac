"""The conditions card: what is known of the day as tiles, in the coach's units and below them in the others."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from syncview.gauges.title_card import CardTile, TitleCard, draw_card
from syncview.lesson.conditions import ConditionRow
from syncview.lesson.quantities import quantities_in
from syncview.output_file import whole_file
from syncview.shown_units import Units

WIDTH, HEIGHT = 1920, 1080
CAUTION = "Figures hold for this car, these tyres, this surface and weather only: build up to them with margin."


def conditions_card(rows: Sequence[ConditionRow], *, units: Units, heading: str = "Conditions") -> TitleCard:
    """The card's words."""
    return TitleCard(
        heading, tuple(_tile(row, units) for row in rows), (CAUTION,), empty="Nothing was said of the day."
    )


def write_card(rows: Sequence[ConditionRow], path: Path, *, units: Units, overwrite: bool = False) -> list[str]:
    """Write the card as a PNG of 1920 x 1080; returns what a person should know. Raises `OutputError`."""
    from PIL import Image

    from syncview.errors import OutputError

    if path.suffix.lower() != ".png":
        raise OutputError("the card is drawn as a PNG", "End the name with .png.", where=path)
    sheet, remarks = draw_card(conditions_card(rows, units=units), WIDTH, HEIGHT)
    with whole_file(path, overwrite=overwrite) as part:
        Image.fromarray(sheet.rgba()[..., :3].copy()).save(part, format="PNG")
    return remarks


def _tile(row: ConditionRow, units: Units) -> CardTile:
    """What is written large, below it only the quantities in the other units; what the log measured says so."""
    main, other = (row.metric, row.imperial) if units == "metric" else (row.imperial, row.metric)
    converted = "" if main == other else ", ".join(other[said.begin : said.end] for said in quantities_in(other))
    return CardTile(row.label, main, converted, "measured" if row.source.startswith("log") else "")
