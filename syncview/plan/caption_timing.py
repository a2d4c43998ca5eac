"""When each caption of a film comes and goes.

The rule, where the film leaves no room: captions keep their order, never overlap and never leave the film; every other
limit of the crowded stretch is stretched by the same share, the smallest that makes it fit. A share of 20 % means
reading up to 20 % longer than there is time for, and starts up to 20 % farther from their place than the window allows.
Captions outside that stretch keep their limits. Whatever was broken is reported, with numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise

from syncview.errors import OutputError
from syncview.plan.caption_breaks import break_note, split_words
from syncview.plan.caption_limits import (
    CaptionLimits,
    by_chars_ms,
    by_words_ms,
    needed_ms,
    width,
    words_width,
)

_SHARES = 1000
"""Stretches are counted in thousandths."""
_LEAST_WINDOW_MS = 1000
"""A window narrower than this stretches as if it were this wide, so that one of 0 can give way too; own choice."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is said at a place of the film."""

    place_ms: int
    """Film time at which it belongs."""
    text: str
    key: str
    """Names the note in reports and in the cues made from it."""
    lasts_ms: int = 0
    """How long it is heard; its captions stay and follow each other with the voice where there is time."""


@dataclass(frozen=True, slots=True)
class TimedCue:
    """One caption: shown from ``start_ms`` up to but not including ``end_ms``, film time."""

    start_ms: int
    end_ms: int
    text: str
    """The caption's lines, separated by newlines."""
    key: str
    place_ms: int
    """Where its note belongs."""
    continues: bool
    """Whether it goes on with the note of the cue before it."""


@dataclass(frozen=True, slots=True)
class Unmet:
    """A limit that a cue does not keep."""

    key: str
    cue: int
    """Index of the cue in the plan, from 0."""
    limit: str
    """Field of ``CaptionLimits``."""
    allowed: float
    actual: float
    words: str
    """The same in a plain sentence."""


@dataclass(frozen=True, slots=True)
class CaptionPlan:
    """Captions in order of time, and every limit that they do not keep."""

    cues: tuple[TimedCue, ...]
    unmet: tuple[Unmet, ...]


def plan_captions(spoken: Sequence[Spoken], *, film_ms: int, limits: CaptionLimits | None = None) -> CaptionPlan:
    """Break notes into captions and place them in a film, the same way each time.

    A caption starts at its place; later when the one before needs its time; earlier when those after it would
    otherwise come too late. It stays for its reading time, while it is heard (but not past ``most_ms``), and on to the
    next one where a short pause would flicker.
    The parts of a long note follow each other; only the first is held to the place. Notes at one place keep the
    order given; a note without words has no caption.

    Raises:
        OutputError: A place is outside the film, or the film has fewer milliseconds than captions.
    """
    limits = limits or CaptionLimits()
    for note in spoken:
        if not 0 <= note.place_ms <= film_ms:
            raise OutputError(
                f"its place at {note.place_ms / 1000:.3f} s is not in the film (0 to {film_ms / 1000:.3f} s)",
                "Move the note, or plan the film again.",
                where=f"caption {note.key}",
            )
    pieces = _pieces(spoken, limits)
    if len(pieces) > film_ms:
        raise OutputError(
            f"{len(pieces)} captions cannot follow each other in a film of {film_ms} ms",
            "Plan a longer film or fewer notes.",
            where="captions",
        )
    starts_ms = _Placing(pieces, film_ms, limits).starts()
    cues = tuple(_timed(pieces, starts_ms, film_ms, limits))
    return CaptionPlan(cues, tuple(item for at, cue in enumerate(cues) for item in unmet_limits(cue, at, limits)))


@dataclass(frozen=True, slots=True)
class _Piece:
    """One cue before it has a time."""

    note: Spoken
    text: str
    need_ms: int
    """Time to read it."""
    stay_ms: int
    """Time until the voice goes on to the next cue; the reading time where there is none or it is quicker."""
    continues: bool


def _pieces(spoken: Sequence[Spoken], limits: CaptionLimits) -> list[_Piece]:
    pieces = []
    for note in sorted(spoken, key=lambda note: note.place_ms):
        texts = break_note(note.text, limits=limits)
        needs_ms = [needed_ms(split_words(text), limits=limits) for text in texts]
        stays_ms = _stays_ms(texts, needs_ms, note.lasts_ms)
        parts = enumerate(zip(texts, needs_ms, stays_ms, strict=True))
        pieces += [_Piece(note, text, need_ms, stay_ms, at > 0) for at, (text, need_ms, stay_ms) in parts]
    return pieces


def _stays_ms(texts: Sequence[str], needs_ms: list[int], lasts_ms: int) -> list[int]:
    """How long each cue of a note should stay so that all together last as long as the voice, none less than it needs.

    What the voice takes beyond reading goes to the cues whose share of it, by characters, is more than they need.
    """
    over_ms = lasts_ms - sum(needs_ms)
    if not texts or over_ms <= 0:
        return needs_ms
    widths = [words_width(split_words(text)) for text in texts]
    wants = [max(lasts_ms * wide - need * sum(widths), 0) for wide, need in zip(widths, needs_ms, strict=True)]
    upto_ms = [over_ms * part // sum(wants) for part in accumulate(wants, initial=0)]
    return [need + after - before for need, (before, after) in zip(needs_ms, pairwise(upto_ms), strict=True)]


@dataclass(slots=True)
class _Placing:
    """Finds the starts of cues: the smallest share by which limits must stretch, stretch after stretch.

    ``fixed`` holds the starts that a crowded stretch leaves no choice about.
    """

    pieces: list[_Piece]
    film_ms: int
    limits: CaptionLimits
    fixed: dict[int, int] = field(default_factory=dict)

    def starts(self) -> list[int]:
        """Start of each piece, ascending, each at least 1 ms after the one before and before the film's end."""
        starts_ms: dict[int, int] = {}
        waiting = [(0, len(self.pieces), self.film_ms)]
        while waiting:
            first, after, end_ms = waiting.pop()
            if first >= after:
                continue
            share = self._smallest_share(first, after, end_ms)
            if share == 0:
                starts_ms.update(self._place_freely(first, after, end_ms))
                continue
            chain, follower = self._crowded(first, after, end_ms, share - 1)
            earliest = self._earliest(first, after, share)
            self.fixed.update({index: earliest[index - first] for index in range(chain, min(follower + 1, after))})
            starts_ms.update({index: self.fixed[index] for index in range(chain, follower)})
            waiting += [(first, chain, self.fixed[chain]), (follower, after, end_ms)]
        return [starts_ms[index] for index in range(len(self.pieces))]

    def _window(self, index: int, share: int) -> tuple[int, int]:
        """Earliest and latest start of a piece when limits stretch by a share; a continuation may start any time."""
        if index in self.fixed:
            return self.fixed[index], self.fixed[index]
        piece = self.pieces[index]
        if piece.continues:
            return 0, self.film_ms
        before_ms, after_ms = self.limits.earliest_before_ms, self.limits.latest_after_ms
        before_ms += share * max(before_ms, _LEAST_WINDOW_MS) // _SHARES
        after_ms += share * max(after_ms, _LEAST_WINDOW_MS) // _SHARES
        return max(piece.note.place_ms - before_ms, 0), piece.note.place_ms + after_ms

    def _least_ms(self, index: int, share: int) -> int:
        """Time of a piece when limits stretch by a share, rounded up."""
        return -(-self.pieces[index].need_ms * _SHARES // (_SHARES + share))

    def _earliest(self, first: int, after: int, share: int) -> list[int]:
        """Earliest start of each piece, and last the earliest end of them all."""
        starts_ms, free_ms = [], 0
        for index in range(first, after):
            starts_ms.append(max(self._window(index, share)[0], free_ms))
            free_ms = starts_ms[-1] + self._least_ms(index, share)
        return [*starts_ms, free_ms]

    def _first_too_late(self, first: int, after: int, end_ms: int, share: int) -> int | None:
        """The first piece that cannot start in its window, ``after`` when all can but end too late, else None."""
        earliest = self._earliest(first, after, share)
        for index in range(first, after):
            if earliest[index - first] > self._window(index, share)[1]:
                return index
        return after if earliest[-1] > end_ms else None

    def _smallest_share(self, first: int, after: int, end_ms: int) -> int:
        """The smallest stretch, in thousandths, at which all pieces fit; found by doubling, then halving."""
        if self._first_too_late(first, after, end_ms, 0) is None:
            return 0
        low, high = 0, 1
        while self._first_too_late(first, after, end_ms, high) is not None:
            low, high = high, high * 2
        while high - low > 1:
            middle = (low + high) // 2
            if self._first_too_late(first, after, end_ms, middle) is None:
                high = middle
            else:
                low = middle
        return high

    def _crowded(self, first: int, after: int, end_ms: int, share: int) -> tuple[int, int]:
        """The stretch that does not fit: its first piece, and the piece (or end) that it makes too late."""
        late = self._first_too_late(first, after, end_ms, share)
        assert late is not None, "only called for a share at which something is too late"
        earliest = self._earliest(first, after, share)
        chain = late - 1
        while chain > first and earliest[chain - first] > self._window(chain, share)[0]:
            chain -= 1
        return chain, late

    def _place_freely(self, first: int, after: int, end_ms: int) -> dict[int, int]:
        """Starts when every limit can be kept: at the place, or as near to it as the neighbours allow."""
        latest, bound_ms = {}, end_ms
        for index in range(after - 1, first - 1, -1):
            latest[index] = bound_ms = min(self._window(index, 0)[1], bound_ms - self.pieces[index].need_ms)
        starts_ms, free_ms, voice_ms = {}, 0, 0
        for index in range(first, after):
            piece = self.pieces[index]
            wanted_ms = max(voice_ms if piece.continues else piece.note.place_ms, free_ms)
            starts_ms[index] = self.fixed.get(index, min(wanted_ms, latest[index]))
            free_ms, voice_ms = starts_ms[index] + piece.need_ms, starts_ms[index] + piece.stay_ms
        return starts_ms


def _timed(pieces: list[_Piece], starts_ms: list[int], film_ms: int, limits: CaptionLimits) -> list[TimedCue]:
    cues = []
    for index, (piece, start_ms) in enumerate(zip(pieces, starts_ms, strict=True)):
        next_ms = starts_ms[index + 1] if index + 1 < len(starts_ms) else None
        bound_ms = film_ms if next_ms is None else next_ms
        end_ms = min(start_ms + max(piece.need_ms, min(piece.stay_ms, limits.most_ms)), bound_ms)
        if next_ms is not None and _closes(start_ms, end_ms, next_ms, limits):
            end_ms = next_ms
        cues.append(TimedCue(start_ms, end_ms, piece.text, piece.note.key, piece.note.place_ms, piece.continues))
    return cues


def _closes(start_ms: int, end_ms: int, next_ms: int, limits: CaptionLimits) -> bool:
    """Whether the pause before the next cue is filled: always below the least gap, else while time allows."""
    pause_ms = next_ms - end_ms
    return pause_ms < limits.gap_ms or (pause_ms < limits.close_below_ms and next_ms - start_ms <= limits.most_ms)


def unmet_limits(cue: TimedCue, index: int, limits: CaptionLimits) -> list[Unmet]:
    """Every limit that a cue does not keep; ``index`` is its number in the plan, from 0."""
    return [
        Unmet(cue.key, index, limit, allowed, actual, f"{_named(cue)}: {words}")
        for limit, allowed, actual, words in (*_shape_faults(cue, limits), *_time_faults(cue, limits))
    ]


_Fault = tuple[str, float, float, str]


def _shape_faults(cue: TimedCue, limits: CaptionLimits) -> list[_Fault]:
    lines = cue.text.split("\n")
    widest, faults = max(map(width, lines)), list[_Fault]()
    if widest > limits.chars_per_line:
        words = f"a line of {widest} characters, {limits.chars_per_line} fit"
        faults.append(("chars_per_line", limits.chars_per_line, widest, words))
    if len(lines) > limits.lines:
        faults.append(("lines", limits.lines, len(lines), f"{len(lines)} lines, {limits.lines} fit"))
    return faults


def _time_faults(cue: TimedCue, limits: CaptionLimits) -> list[_Fault]:
    words, has_ms = split_words(cue.text), cue.end_ms - cue.start_ms
    speed, pace = words_width(words) * 1000 / has_ms, len(words) * 60_000 / has_ms
    early_ms, late_ms = cue.place_ms - cue.start_ms, cue.start_ms - cue.place_ms
    needs_ms = (by_chars_ms(words, limits=limits), by_words_ms(words, limits=limits))
    has = f"has {has_ms / 1000:.1f} s"
    checks = (
        ("chars_per_s", has_ms < needs_ms[0], limits.chars_per_s, speed,
         f"needs {needs_ms[0] / 1000:.1f} s, {has}: {speed:.1f} characters/s, {limits.chars_per_s:g} are comfortable"),
        ("words_per_minute", has_ms < needs_ms[1], limits.words_per_minute, pace,
         f"needs {needs_ms[1] / 1000:.1f} s, {has}: {pace:.0f} words/min, {limits.words_per_minute:g} are readable"),
        ("least_ms", has_ms < limits.least_ms, limits.least_ms, has_ms,
         f"shown for {has_ms / 1000:.2f} s, at least {limits.least_ms / 1000:g} s are needed to notice it"),
        ("most_ms", has_ms > limits.most_ms, limits.most_ms, has_ms,
         f"shown for {has_ms / 1000:.2f} s, at most {limits.most_ms / 1000:g} s are usual"),
        ("earliest_before_ms", not cue.continues and early_ms > limits.earliest_before_ms,
         limits.earliest_before_ms, early_ms,
         f"comes {early_ms / 1000:.2f} s before its place, {limits.earliest_before_ms / 1000:g} s are allowed"),
        ("latest_after_ms", not cue.continues and late_ms > limits.latest_after_ms, limits.latest_after_ms, late_ms,
         f"comes {late_ms / 1000:.2f} s after its place, {limits.latest_after_ms / 1000:g} s are allowed"),
    )  # fmt: skip
    return [(limit, allowed, actual, words) for limit, broken, allowed, actual, words in checks if broken]


def _named(cue: TimedCue) -> str:
    """A cue as a report names it: its opening words."""
    text = cue.text.replace("\n", " ")
    return f"“{text[:40]}…”" if len(text) > 40 else f"“{text}”"
