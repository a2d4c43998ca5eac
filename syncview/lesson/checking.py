"""The notes of a project held against the lap that they are shown over."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from syncview.errors import SyncviewError
from syncview.lesson.chapters import corner_title
from syncview.lesson.corner_span import CornerSpan, corner_spans
from syncview.lesson.drafting import corner_at
from syncview.lesson.session import Session
from syncview.notes.check import SEQUENCE, Board, Corners, ShownOver, Tolerances, Verdict, check_note
from syncview.notes.note import Note
from syncview.track.laps import Lap


class DisagreementError(SyncviewError):
    """A note says what the data contradict, and the work asked for was not to go on then."""

    exit_code = 9


@dataclass(frozen=True, slots=True)
class CheckedNote:
    """A note, where it is shown, and a verdict for each of its claims."""

    note: Note
    corner: str
    """How its corner is called; empty between corners."""
    verdicts: tuple[Verdict, ...]

    @property
    def disagreements(self) -> tuple[Verdict, ...]:
        """Claims that the data contradict."""
        return tuple(verdict for verdict in self.verdicts if verdict.outcome == "disagree")


def check_notes(session: Session, lap: Lap, *, tolerances: Tolerances | None = None) -> tuple[CheckedNote, ...]:
    """Every note of the project against one lap, in lap order."""
    spans = {span.corner.number: span for span in corner_spans(session, lap)}
    length_m = session.track.lap_length_m
    rest = ShownOver(
        None,
        boards=boards_of(session),
        lap_length_m=length_m,
        lap_time_s=lap.time_ms / 1000 if lap.timed else None,
        imperial=session.project.units == "imperial",
        tolerances=tolerances or Tolerances(),
    )
    return tuple(_checked(session, note, spans, rest) for note in session.project.notes)


def _checked(session: Session, note: Note, spans: dict[int, CornerSpan], rest: ShownOver) -> CheckedNote:
    corner = corner_at(session, note.lap_distance_m)
    own = None if corner is None else spans.get(corner.number)
    shown = rest if own is None else replace(rest, own=_at(own), beside=_beside(session, note, own, spans))
    name = "" if corner is None else corner_title(corner)
    return CheckedNote(note, name, check_note(note.text, shown))


def _at(span: CornerSpan) -> Corners:
    return Corners(span.corner, span.facts)


def _beside(session: Session, note: Note, own: CornerSpan, spans: dict[int, CornerSpan]) -> tuple[Corners, ...]:
    """Neighbours that a note may speak of as well.

    The next corner, when the note is anchored past the apex; the last one, when it is anchored before the work for its
    own begins; both, when its words tell of a sequence or it was merged from captions.
    """
    numbers = [corner.number for corner in session.corners]
    i = numbers.index(own.corner.number)
    before, after = spans.get(numbers[i - 1]), spans.get(numbers[(i + 1) % len(numbers)])
    sequence = SEQUENCE.search(note.text) is not None or "\n" in note.original
    length_m = session.track.lap_length_m
    to_apex_m = (own.corner.apex_m - note.lap_distance_m + length_m / 2) % length_m - length_m / 2
    onset_m = own.facts.brake.before_apex_m.value or (own.corner.apex_m - own.corner.entry_m) % length_m
    beside = []
    if before is not None and (sequence or to_apex_m > onset_m + _BEGUN_M):
        beside.append(_at(before))
    if after is not None and (sequence or to_apex_m < 0):
        beside.append(_at(after))
    return tuple(beside)


_BEGUN_M = 30.0
"""A note this far before the braking point may still be about the corner behind. Common practice, no source."""


def boards_of(session: Session) -> tuple[Board, ...]:
    """The markers of the session's circuit, boards by their number and others by their words; empty without any."""
    return tuple(board_of(marker.words, marker.at_m, marker.corner) for marker in session.facts.markers)


def board_of(words: str, at_m: float, corner: int | None) -> Board:
    """A marker as a board: “100 board” and “100 m board” are board 100; “bridge” is a landmark."""
    number = re.match(r"\s*(\d+)\b", words)
    return Board(number[1] if number else words.strip().lower(), at_m, corner)


def disagreement_words(checked: Iterable[CheckedNote]) -> list[str]:
    """A sentence for each claim that the data contradict."""
    return [
        f"{one.note.key}: “{one.note.text[v.claim.begin : v.claim.end]}” but {v.why}"
        for one in checked
        for v in one.disagreements
    ]
