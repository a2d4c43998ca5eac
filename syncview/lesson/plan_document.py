"""A lesson's plan as plain values: for scripts, and to find one's way back from an earlier film to the recording."""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from syncview.errors import SyncviewError, describe_os_error
from syncview.lesson.lesson_plan import LessonPlan, Section

FORMAT = "syncview lesson plan"
_MOST_BYTES = 10_000_000


class PlanFileError(SyncviewError):
    """A file is no lesson plan."""

    exit_code = 8


def plan_document(plan: LessonPlan) -> dict[str, Any]:
    """The plan; times in seconds, of the lesson unless named otherwise."""
    return {
        "format": FORMAT,
        "length_s": float(plan.length_s),
        "frames_per_s": float(plan.rate),
        "sections": [_section(section) for section in plan.sections],
        "notes": [
            {
                "key": item.note.key,
                "begin_s": float(item.begin_s),
                "end_s": float(item.end_s),
                "speaking_s": float(item.speaking_s),
                "estimated": item.is_estimate,
            }
            for item in plan.said
        ],
        "remarks": list(plan.remarks),
    }


def _section(section: Section) -> dict[str, Any]:
    return {
        "kind": section.kind,
        "title": section.title,
        "begin_s": float(section.begin_s),
        "end_s": float(section.end_s),
        "spans": [
            {
                "begin_media_s": float(span.begin_media_s),
                "end_media_s": float(span.end_media_s),
                "lesson_s": float(span.lesson_s),
                "speed": float(span.speed),
                "why": span.why,
            }
            for span in (section.pace.spans if section.pace is not None else ())
        ],
    }


def media_time_in(plan: LessonPlan) -> Callable[[float], float | None]:
    """A function from a time of the lesson to that of the recording; None on cards and outside the lesson."""
    return media_time_of(plan_document(plan), "the lesson")


def read_media_time(path: Path) -> Callable[[float], float | None]:
    """The same for a plan that was saved with `lesson plan --json`; raises `PlanFileError`."""
    try:
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)
    except OSError as error:
        raise PlanFileError(f"it cannot be read ({describe_os_error(error)})", "Check the path.", where=path) from error
    remedy = "Save one with: syncview lesson plan PROJECT --json > plan.json"
    if len(data) > _MOST_BYTES:
        raise PlanFileError("it is too large for a lesson plan", remedy, where=path)
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        raise PlanFileError("it is not JSON", remedy, where=path) from None
    return media_time_of(document, path)


def media_time_of(document: Any, where: Path | str) -> Callable[[float], float | None]:
    """A function from lesson time to media time by a plan's document; raises `PlanFileError` where it is none."""
    try:
        if document["format"] != FORMAT:
            raise KeyError("format")
        pieces = [piece for section in document["sections"] for piece in _pieces(section)]
    except (KeyError, TypeError, ValueError, OverflowError):
        remedy = "Save one with: syncview lesson plan PROJECT --json > plan.json"
        raise PlanFileError("it is not a lesson plan", remedy, where=where) from None
    for (_, before, *_rest), (after, *_others) in pairwise(pieces):
        if after < before - 1e-6:
            raise PlanFileError("its sections overlap", "Save the plan again.", where=where)

    def media_s(lesson_s: float) -> float | None:
        for begin_s, end_s, begin_media_s, end_media_s in pieces:
            if begin_s <= lesson_s < end_s:
                share = (lesson_s - begin_s) / (end_s - begin_s)
                return begin_media_s + share * (end_media_s - begin_media_s)
        return None

    return media_s


def _pieces(section: Any) -> list[tuple[float, float, float, float]]:
    """Begin and end in the lesson, begin and end in the recording, of each span of a section."""
    at_s, pieces = Fraction(section["begin_s"]), []
    for span in section["spans"]:
        length_s = Fraction(span["lesson_s"])
        begin, end = float(span["begin_media_s"]), float(span["end_media_s"])
        if length_s <= 0 or end < begin:
            raise ValueError("a span runs backwards")
        pieces.append((float(at_s), float(at_s + length_s), begin, end))
        at_s += length_s
    return pieces
