"""How slow work reports and stops: one callable, known to every layer, shown by the command line and the window."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done; raises `Cancelled` to stop the work."""


def silent(_share: float, _what: str) -> None:
    """Report to nobody."""


def part_of(progress: Progress, begin: float, end: float) -> Progress:
    """A reporter for one step of several: its 0..1 becomes begin..end of the whole."""

    def report(share: float, what: str) -> None:
        progress(begin + (end - begin) * share, what)

    return report
