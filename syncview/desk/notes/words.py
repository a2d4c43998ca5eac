"""The words of the notes panel in the person's language."""

from __future__ import annotations

from PyQt6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from syncview.desk.notes.changes import written
from syncview.desk.notes.listing import ListedNote, SaidBy, Speaking
from syncview.desk.notes.verdict_lines import Measure, NoteCheck, OffBy, VerdictLine
from syncview.lesson.chapters import corner_title
from syncview.notes.check import Outcome
from syncview.shown_units import LENGTH, Units
from syncview.track.corners import Corner

_OUTCOMES: dict[Outcome, str] = {
    "agree": QT_TRANSLATE_NOOP("notes", "agrees"),
    "disagree": QT_TRANSLATE_NOOP("notes", "disagrees"),
    "cannot tell": QT_TRANSLATE_NOOP("notes", "cannot tell"),
}
_SAID_BY: dict[SaidBy, str] = {
    "estimate": QT_TRANSLATE_NOOP("notes", "spoken ≈ %s s"),
    "voice": QT_TRANSLATE_NOOP("notes", "your voice %s s"),
    "draft voice": QT_TRANSLATE_NOOP("notes", "draft voice %s s"),
    "not measured": QT_TRANSLATE_NOOP("notes", "your voice"),
}


def tr(text: str) -> str:
    """The text in the person's language."""
    return QCoreApplication.translate("notes", text)


def heading(corner: Corner | None, *, known: bool) -> str:
    """Above the notes of one corner; `known` says whether there are corners at all."""
    if corner is not None:
        return corner_title(corner)
    return tr("Between corners") if known else tr("Corners are known once the log is read")


def place(row: ListedNote, units: Units) -> str:
    """Where a note stands: `412 m · 86 m before the apex`."""
    unit = LENGTH[units]
    words = f"{unit.of(row.note.lap_distance_m):.0f} {unit.label}"
    if row.to_apex_m is None:
        return words
    off = unit.of(abs(row.to_apex_m))
    if round(off) == 0:
        return f"{words} · {tr('at the apex')}"
    side = tr("%s before the apex") if row.to_apex_m > 0 else tr("%s past the apex")
    return f"{words} · {side % f'{off:.0f} {unit.label}'}"


def speaking(said: Speaking) -> str:
    """How long a note is spoken, and how that is known; nothing where there are no words."""
    if said.said_by == "estimate" and not said.seconds:
        return ""
    words = tr(_SAID_BY[said.said_by])
    return words % f"{float(said.seconds):.1f}" if said.seconds is not None else words


def origin(row: ListedNote) -> str:
    """Whose words they are, where they are not the coach's own."""
    return {"draft": tr("draft"), "import": tr("imported")}.get(row.note.origin, "")


def outcome(line: VerdictLine) -> str:
    """`disagrees by 12 km/h`."""
    words = tr(_OUTCOMES[line.outcome])
    return words if line.off_by is None else tr("%s by %s") % (words, amount(line.off_by))


def amount(off: OffBy) -> str:
    """How much, without its direction."""
    value = abs(off.value)
    small: dict[Measure, int] = {"time": 2, "pressure": 0 if off.label == "psi" else 1}
    if off.measure == "gears":
        return tr("1 gear") if round(value) == 1 else tr("%s gears") % f"{value:.0f}"
    if off.measure == "times":
        return f"{value:.0f}"
    return f"{value:.{small.get(off.measure, 0)}f} {off.label}"


def verdict(line: VerdictLine) -> str:
    """One claim in full: `“third” disagrees by 1 gear: second is the lowest`."""
    return f"“{line.said}” {outcome(line)}: {line.why}"


def counts(check: NoteCheck) -> str:
    """The claims that are not wrong, counted."""
    agree, unsure = check.count("agree"), check.count("cannot tell")
    parts = []
    if agree:
        parts.append(tr("1 claim agrees") if agree == 1 else tr("%s claims agree") % agree)
    if unsure:
        parts.append(tr("1 cannot be told") if unsure == 1 else tr("%s cannot be told") % unsure)
    return " · ".join(parts)


def row_in_words(row: ListedNote, check: NoteCheck | None, units: Units) -> str:
    """Everything that the list shows of a note, for those who hear it."""
    title = "" if row.corner is None else corner_title(row.corner)
    parts = [row.note.key, title, place(row, units), origin(row), written(row.note) or tr("no words yet")]
    parts.append(speaking(row.speaking))
    if row.note.hold_s is not None:
        parts.append(stop(row.note.hold_s))
    if check is not None:
        parts += [verdict(line) for line in check.wrong] + [counts(check)]
    return ". ".join(part for part in parts if part)


def stop(hold_s: float) -> str:
    """A hold that the coach set."""
    return tr("no stop") if hold_s == 0 else tr("stops %s s") % f"{hold_s:g}"


def sentence(fault: Exception) -> str:
    """A fault as a text of its own: with a capital, unless it begins with the name of a file."""
    text = str(fault)
    return text if getattr(fault, "where", "") else text[:1].upper() + text[1:]


def summary(rows: tuple[ListedNote, ...], checks: dict[str, NoteCheck]) -> str:
    """All notes in a line."""
    if not rows:
        return tr("no notes yet")
    parts = [tr("1 note") if len(rows) == 1 else tr("%s notes") % len(rows)]
    empty = sum(not written(row.note) for row in rows)
    if empty:
        parts.append(tr("%s without words") % empty)
    wrong = sum(bool(checks[row.note.key].wrong) for row in rows if row.note.key in checks)
    if wrong:
        parts.append(tr("1 disagrees with the data") if wrong == 1 else tr("%s disagree with the data") % wrong)
    return " · ".join(parts)
