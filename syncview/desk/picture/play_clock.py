"""How long it has been playing: by the sound that was heard, smoothly; without sound, by the computer's clock."""

from __future__ import annotations

SNAP_S = 0.15
"""A sound card that is this far off has stumbled: the picture jumps with it. Less is evened out. No source; viewers
notice sound from about 45 ms early or 125 ms late on (ITU-R BT.1359-1, from memory)."""
EVEN_OUT = 0.08
"""Share of an error that one reading takes away: cards tell their place in steps of 10 to 50 ms, pictures must not."""


class PlayClock:
    """Seconds played, ascending. `now_s` is always the same steady clock's, such as `time.monotonic()`."""

    def __init__(self, now_s: float) -> None:
        self._origin_s = now_s
        self._last_s = 0.0
        self._is_heard = False

    def read(self, now_s: float) -> float:
        """Seconds played."""
        self._last_s = max(self._last_s, now_s - self._origin_s)
        return self._last_s

    def correct(self, heard_s: float, read_s: float) -> None:
        """The sound card had played `heard_s` seconds at `read_s` of the steady clock."""
        late_s = (read_s - self._origin_s) - heard_s
        if not self._is_heard or abs(late_s) > SNAP_S:
            self._origin_s += late_s
            self._is_heard = True
        else:
            self._origin_s += late_s * EVEN_OUT
