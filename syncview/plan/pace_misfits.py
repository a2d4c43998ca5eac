"""What is said when notes do not fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from syncview.plan.pace_pieces import Layout
from syncview.plan.pace_rules import Misfit, PlanError, SaidNote
from syncview.plan.pace_times import Crowd
from syncview.plan.pace_words import notes_words, seconds_words, speed_words


def misfit_error(crowds: Sequence[Crowd], notes: Sequence[SaidNote], layout: Layout) -> PlanError:
    """The error that names every crowd of notes, by how much it is too long, and the remedy."""
    problem = "; ".join(_sentence(crowd, notes) for crowd in crowds)
    misfits = tuple(
        Misfit(tuple(note.key for note in notes[crowd.first : crowd.after]), crowd.short_s) for crowd in crowds
    )
    return PlanError(problem, _remedy(crowds, notes, layout), misfits=misfits)


def _sentence(crowd: Crowd, notes: Sequence[SaidNote]) -> str:
    crowded, short = notes[crowd.first : crowd.after], _rounded_up(crowd.short_s)
    late = (
        f"note {notes[crowd.after].key} would come too late"
        if crowd.after < len(notes)
        else "the section would be over"
    )
    return f"{notes_words(crowded)} {'is' if len(crowded) == 1 else 'are together'} {short} too long: {late}"


def _rounded_up(time_s: Fraction) -> str:
    """So that shortening by what is said is enough."""
    return seconds_words(Fraction(math.ceil(time_s * 10), 10))


def _remedy(crowds: Sequence[Crowd], notes: Sequence[SaidNote], layout: Layout) -> str:
    rules = layout.rules
    ways = [
        "Shorten what is said",
        f"allow holds longer than {float(rules.longest_hold_s):g} s",
        f"allow slower than {speed_words(rules.floor)}",
    ]
    if any(_pinned(crowd, notes, layout) for crowd in crowds):
        ways.append("loosen what was set by hand there")
    return f"{', '.join(ways[:-1])}, or {ways[-1]}."


def _pinned(crowd: Crowd, notes: Sequence[SaidNote], layout: Layout) -> bool:
    """Whether a pin lies where the crowd is said."""
    begin_s = notes[crowd.first].media_s
    end_s = notes[crowd.after].media_s if crowd.after < len(notes) else None
    spans = [(pin.begin_media_s, pin.end_media_s) for pin in layout.speeds]
    spans += [(pin.media_s, pin.media_s) for pin in layout.holds]
    return any(last >= begin_s and (end_s is None or first <= end_s) for first, last in spans)
