"""The cards of the lesson: the day's conditions before it, the lap time and the cautions after it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from syncview.gauges.title_card import CardTile, TitleCard
from syncview.lesson.conditions import condition_rows
from syncview.lesson.conditions_picture import conditions_card
from syncview.lesson.corner_span import CornerSpan
from syncview.lesson.lap_film import LapFilm
from syncview.plan.lesson_choices import LessonChoices
from syncview.shown_units import SPEED
from syncview.track.laps import format_ms

CAUTIONS = (
    "These figures hold for this car, these tyres, this surface and weather only: build up to them with margin.",
    "The circuit's rules, flags, marshals and a qualified instructor come first. Closed circuits only.",
    "Nobody operates this while driving.",
)


def intro_card(film: LapFilm, choices: LessonChoices) -> TitleCard:
    """The conditions of the day under the lesson's title."""
    return conditions_card(
        condition_rows(film.session, film.lap), units=film.session.project.units, heading=lesson_title(film, choices)
    )


def lesson_title(film: LapFilm, choices: LessonChoices) -> str:
    """What the coach called the lesson, else the circuit, else the lap."""
    if choices.title:
        return choices.title
    circuit = film.session.circuit
    return circuit.name if circuit is not None and circuit.name else f"Lap {film.lap.number}"


def closing_card(film: LapFilm, spans: Sequence[CornerSpan]) -> TitleCard:
    """The lap time, the highest and the lowest speed of the lap, and the cautions."""
    unit = SPEED[film.session.project.units]
    tiles = [CardTile(f"Lap {film.lap.number}", format_ms(film.lap.time_ms))]
    top_mps = _top_speed_mps(film)
    if top_mps is not None:
        tiles.append(CardTile("Top speed", f"{unit.of(top_mps):.0f} {unit.label}"))
    known = [(speed, span) for span in spans if (speed := span.facts.slowest.speed_mps.value) is not None]
    if known:
        slowest_mps, span = min(known, key=lambda pair: pair[0])
        tiles.append(CardTile(f"Slowest: {corner_words(span)}", f"{unit.of(slowest_mps):.0f} {unit.label}"))
    return TitleCard("Lap time", tuple(tiles), CAUTIONS)


def corner_words(span: CornerSpan) -> str:
    """How a sentence calls a corner."""
    return span.corner.name or f"corner {span.corner.number}"


def _top_speed_mps(film: LapFilm) -> float | None:
    log = film.session.log
    speed = log.values("speed")
    if speed is None:
        return None
    driven = speed[(log.time_s >= film.lap.start_s) & (log.time_s < film.lap.end_s)]
    return float(np.nanmax(driven)) if np.isfinite(driven).any() else None
