"""How long work will still take, from how long it took so far."""

from __future__ import annotations

from dataclasses import dataclass

LEAST_SHARE, LEAST_S = 0.02, 3.0
"""Nothing is foretold from less than this."""


@dataclass(frozen=True, slots=True)
class Watch:
    """Work under way."""

    began_s: float
    began_share: float = 0.0
    """Above 0 when it goes on after a break."""

    def left_s(self, now_s: float, share: float) -> float | None:
        """Seconds that are left; None when it is too early to say."""
        spent_s, done = now_s - self.began_s, share - self.began_share
        if spent_s < LEAST_S or done < LEAST_SHARE:
            return None
        return spent_s / done * max(0.0, 1.0 - share)


def left_text(left_s: float) -> str:
    """`1:05:00`, `2:30`, `0:07`."""
    seconds = round(left_s)
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"
