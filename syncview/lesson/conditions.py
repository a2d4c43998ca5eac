"""The conditions card: what the day was like, from the log where it holds it, else as the coach says."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from syncview.errors import SyncviewError
from syncview.lesson.quantities import from_si, in_system, quantities_in
from syncview.lesson.session import Session
from syncview.project import Project
from syncview.track.laps import Lap


class ConditionError(SyncviewError):
    """An entry of the conditions card cannot be as asked."""

    exit_code = 8


@dataclass(frozen=True, slots=True)
class Entry:
    """A usual entry of the card."""

    name: str
    label: str
    kinds: tuple[str, ...] = ()
    """SI units that a number in it may be of; empty for words."""
    example: str = ""
    others: tuple[str, ...] = ()
    """Other names by which it may be set."""


ENTRIES = (
    Entry("track_temperature", "Track", ("K",), "31 °C", ("track", "track_temp")),
    Entry("air_temperature", "Air", ("K",), "19 °C", ("air", "air_temp")),
    Entry("time", "Time of day", (), "14:30", ("time_of_day",)),
    Entry("weather", "Weather", (), "dry, light wind"),
    Entry("rubber", "Rubber", (), "second session, line cleaned", ("track_state",)),
    Entry("fuel", "Fuel", ("m³", "kg"), "12 L"),
    Entry("tyres", "Tyres", (), "semi-slicks, 1.9 bar hot", ("tires",)),
    Entry("setup", "Set-up", (), "soft front bar", ("set_up",)),
)
"""In the order of the card; whatever else the coach adds comes behind them."""
MOST_ENTRIES = 20
LONGEST_NAME, LONGEST_TEXT = 40, 300


@dataclass(frozen=True, slots=True)
class ConditionRow:
    """One line of the card."""

    name: str
    label: str
    metric: str
    imperial: str
    """Equal to `metric` where there is nothing to convert."""
    source: str
    """Where it comes from."""


def condition_rows(session: Session, lap: Lap) -> tuple[ConditionRow, ...]:
    """The card's lines in order; entries that are neither in the log nor said are left out.

    What the log holds is the median over the lap. Where the coach said something else, their word stands and the
    source tells what the log has.
    """
    given = dict(session.project.conditions)
    rows = []
    for entry in ENTRIES:
        logged = _logged(session, lap, entry)
        text = given.pop(entry.name, None)
        if text is not None:
            source = "said" if logged is None else f"said; the log has {logged.metric} ({logged.imperial})"
            rows.append(_said(entry.name, entry.label, text, source))
        elif logged is not None:
            rows.append(logged)
    return (*rows, *(_said(name, _label(name), text, "said") for name, text in given.items()))


def _said(name: str, label: str, text: str, source: str) -> ConditionRow:
    return ConditionRow(name, label, in_system(text, "metric"), in_system(text, "imperial"), source)


def _label(name: str) -> str:
    words = name.replace("_", " ")
    return words[:1].upper() + words[1:]


def _logged(session: Session, lap: Lap, entry: Entry) -> ConditionRow | None:
    import numpy as np

    signal = session.log.signals.get(entry.name)
    if signal is None:
        return None
    time_s = session.log.time_s
    values = signal.values[(time_s >= lap.start_s) & (time_s < lap.end_s)]
    values = values[np.isfinite(values)]
    if not values.size:
        return None
    median = float(np.median(values))
    source = f"log: “{signal.source}”, median of lap {lap.number}"
    return ConditionRow(
        entry.name,
        entry.label,
        from_si(median, signal.unit, "metric"),
        from_si(median, signal.unit, "imperial"),
        source,
    )


def with_condition(project: Project, name: str, text: str) -> Project:
    """The project with an entry said; raises `ConditionError`."""
    key, words = entry_name(name), _checked(text, name)
    entry = next((entry for entry in ENTRIES if entry.name == key), None)
    if entry is not None and entry.kinds and re.match(r"[-−+.\d]", words):
        _refuse_unknown_quantity(entry, words)
    conditions = {**project.conditions, key: words}
    if len(conditions) > MOST_ENTRIES:
        raise ConditionError(f"a card of more than {MOST_ENTRIES} entries cannot be read", "Unset one first.")
    return replace(project, conditions=conditions)


def without_condition(project: Project, name: str) -> Project:
    """The project without an entry; raises `ConditionError` when nothing was said of it."""
    key = entry_name(name)
    if key not in project.conditions:
        known = ", ".join(project.conditions) or "nothing yet"
        raise ConditionError(f"nothing was said of “{name}”", f"Said was: {known}.")
    left: Mapping[str, str] = {other: text for other, text in project.conditions.items() if other != key}
    return replace(project, conditions=left)


def entry_name(name: str) -> str:
    """The name under which an entry is kept: `Set-up` is `setup`; raises `ConditionError`."""
    key = re.sub(r"[\s\-_]+", "_", name.strip().lower())
    if not key or len(key) > LONGEST_NAME or not re.fullmatch(r"[^\W_][\w ./()]*", key):
        problem = f"“{name[:50]}” cannot be the name of an entry"
        raise ConditionError(problem, f"Use letters, digits and blanks, up to {LONGEST_NAME}.")
    for entry in ENTRIES:
        if key == entry.name or key in entry.others:
            return entry.name
    return key


def _checked(text: str, name: str) -> str:
    words = " ".join(text.split())
    if not words:
        raise ConditionError(f"“{name}” needs words", "Say what it is, or use --unset.")
    if len(words) > LONGEST_TEXT:
        raise ConditionError(f"{len(words)} characters do not fit the card", f"Say it in {LONGEST_TEXT}.")
    if re.search(r"[\x00-\x1f\x7f]", words):
        raise ConditionError(f"“{name}” holds a control character", "Remove it.")
    return words


def _refuse_unknown_quantity(entry: Entry, words: str) -> None:
    """A number in an entry that is a quantity must be one, of a unit that fits."""
    found = quantities_in(words)
    example = f"Write it as {entry.example}."
    if not found or found[0].begin > 1:
        unit = re.sub(r"^[-−+.,\d\s]+", "", words)
        problem = f"“{unit[:30]}” is not a unit that is known" if unit else f"“{words}” has no unit"
        raise ConditionError(f"{entry.label.lower()}: {problem}", example)
    if found[0].si_unit not in entry.kinds:
        raise ConditionError(f"{entry.label.lower()} cannot be in {found[0].label}", example)
