"""What stands on the conditions card."""

from __future__ import annotations

from syncview.gauges.title_card import CardTile
from syncview.lesson.conditions import ConditionRow
from syncview.lesson.conditions_picture import conditions_card


def test_the_other_units_are_given_without_the_words() -> None:
    rows = [
        ConditionRow("tyres", "Tyres", "slicks, 1.9 bar hot", "slicks, 27.6 psi hot", "said"),
        ConditionRow("air_temperature", "Air", "26.1 °C", "79 °F", "log: “tAir”, median of lap 2"),
        ConditionRow("weather", "Weather", "dry", "dry", "said"),
    ]
    assert conditions_card(rows, units="metric").tiles == (
        CardTile("Tyres", "slicks, 1.9 bar hot", "27.6 psi"),
        CardTile("Air", "26.1 °C", "79 °F", "measured"),
        CardTile("Weather", "dry"),
    )
    assert conditions_card(rows, units="imperial").tiles[0] == CardTile("Tyres", "slicks, 27.6 psi hot", "1.9 bar")
