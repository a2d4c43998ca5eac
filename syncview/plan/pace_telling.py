"""The times of a plan told as spans, each with its reason."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from syncview.plan.pace_pieces import Piece
from syncview.plan.pace_plan import PaceSpan
from syncview.plan.pace_rules import PaceRules, SaidNote
from syncview.plan.pace_speeds import Played, play_pieces
from syncview.plan.pace_times import PaceTimes, Station
from syncview.plan.pace_words import Hearing, hold_why, pinned_hold_why, played_why, speed_words


def told_spans(
    stations: Sequence[Station], passages: Sequence[tuple[Piece, ...]], times: PaceTimes, rules: PaceRules
) -> tuple[PaceSpan, ...]:
    """The spans of the plan that takes those times."""
    notes = [note for station in stations for note in station.notes]
    ends_s = [begin_s + note.need_s for note, begin_s in zip(notes, times.begins_s, strict=True)]
    telling = _Telling(stations, notes, times.begins_s, ends_s, rules)
    for index, held_s in enumerate(times.holds_s):
        last = index == len(passages)
        played = () if last else play_pieces(passages[index], times.passages_s[index], speeds=rules.speeds)
        telling.hold(index, held_s, played)
        if not last:
            telling.play(index, played)
    return tuple(telling.spans)


@dataclass(slots=True)
class _Telling:
    """Spans so far, and where they end."""

    stations: Sequence[Station]
    notes: Sequence[SaidNote]
    begins_s: Sequence[Fraction]
    ends_s: Sequence[Fraction]
    """When each note is over; one ends before the next begins."""
    rules: PaceRules
    spans: list[PaceSpan] = field(default_factory=list)
    lesson_s: Fraction = Fraction(0)

    def hold(self, index: int, held_s: Fraction, played: Sequence[Played]) -> None:
        """A hold at a station, before what plays from there on."""
        station = self.stations[index]
        if station.pinned_hold_s is not None:
            why = pinned_hold_why(held_s)
        else:
            why = hold_why(held_s, station.notes, self._heard(station, held_s), room=self._room(played))
        self._add(station.media_s, station.media_s, held_s, why)

    def _room(self, played: Sequence[Played]) -> str:
        """What notes are longer than when the picture must stand for them; what plays next is given."""
        if not played:
            return "the section goes on"
        able = {part.speed for part in played if part.piece.slowest < part.piece.fastest}
        return f"{speed_words(self.rules.floor)} allows" if able == {self.rules.floor} else "what plays next"

    def play(self, index: int, played: Sequence[Played]) -> None:
        """What plays from a station to the next."""
        lasts_s = sum((part.lesson_s for part in played), Fraction(0))
        following = self.stations[index + 1]
        hearing = Hearing(
            self._heard(self.stations[index], lasts_s),
            self._coming(following, lasts_s),
            f"the place of {following.notes[0].key}" if following.notes else "the end",
            self.rules.floor,
        )
        slowed = False
        for part in played:
            if part.piece.hold_s:
                why = pinned_hold_why(part.lesson_s)
            else:
                why = played_why(part.piece, part.speed, hearing, slowed=slowed)
                slowed = slowed or part.speed < part.piece.fastest
            self._add(part.begin_media_s, part.end_media_s, part.lesson_s, why)

    def _heard(self, station: Station, lasts_s: Fraction) -> list[SaidNote]:
        """The notes of this place and those before it that are heard in the coming time."""
        first, after = bisect_right(self.ends_s, self.lesson_s), bisect_left(self.begins_s, self.lesson_s + lasts_s)
        return [note for note in self.notes[first:after] if note.media_s <= station.media_s]

    def _coming(self, station: Station, lasts_s: Fraction) -> SaidNote | None:
        """The note of the next place when it begins in the coming time."""
        after = bisect_left(self.begins_s, self.lesson_s + lasts_s)
        begun = [note for note in self.notes[:after][-1:] if note.media_s == station.media_s]
        return station.notes[0] if begun else None

    def _add(self, begin_media_s: Fraction, end_media_s: Fraction, lesson_s: Fraction, why: str) -> None:
        """Append a span, or lengthen the last one when nothing changes."""
        if not lesson_s:
            return
        self.lesson_s += lesson_s
        span = PaceSpan(begin_media_s, end_media_s, lesson_s, why)
        last = self.spans[-1] if self.spans else None
        if last is not None and not span.is_hold and (last.speed, last.why) == (span.speed, why):
            span = PaceSpan(last.begin_media_s, end_media_s, last.lesson_s + lesson_s, why)
            self.spans.pop()
        self.spans.append(span)
