"""First drafts of notes, made only from facts: what is not known is not mentioned."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from syncview.notes.draft_values import NEARLY_STRAIGHT, ORDINALS, STILL_TURNED, draft_filters, draft_values
from syncview.notes.templates import default_template, render
from syncview.shown_units import Units
from syncview.track.corner_facts import CornerFacts
from syncview.track.corners import Corner

__all__ = ["NEARLY_STRAIGHT", "ORDINALS", "STILL_TURNED", "Draft", "draft_note", "fitting_draft"]

DETAILS = (3, 2, 1)
"""From everything to the least."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A draft, and whether it is short enough."""

    text: str
    detail: int
    fits: bool


def draft_note(
    facts: CornerFacts, corner: Corner, *, units: Units, template: str | None = None, detail: int = 3
) -> str:
    """Plain sentences on how a corner was driven on one lap. Raises `TemplateError`."""
    values = draft_values(facts, corner, units=units, detail=detail)
    text = default_template() if template is None else template
    return render(text, values, draft_filters(facts, units=units)) or f"Corner {corner.number}, {corner.side}."


def fitting_draft(
    facts: CornerFacts, corner: Corner, fits: Callable[[str], bool], *, units: Units, template: str | None = None
) -> Draft:
    """The fullest draft that fits; the shortest, told as not fitting, when none does."""
    for detail in DETAILS:
        text = draft_note(facts, corner, units=units, template=template, detail=detail)
        if fits(text):
            return Draft(text, detail, True)
    return Draft(text, detail, False)
