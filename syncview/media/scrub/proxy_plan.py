"""How a recording is divided into files of small pictures, and which is made first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection

    from syncview.media.frame_index import FrameIndex

Kind = Literal["frames", "keys"]
LEAST_S, MOST_S = 4.0, 8.0
MOST_FRAMES = 1200
"""In one file, at whatever rate."""
KEYS_A_FILE = 32
KEY_STEP_S = 0.5
"""Key frames closer than this are not all kept: every frame near them is soon there."""
KEYS_AHEAD = 30.0
"""A file of key frames this many times further away than one of all frames is made first: it costs as much less."""


@dataclass(frozen=True, slots=True)
class Chunk:
    """One file: all frames begin <= n < end, or the key frames among them."""

    kind: Kind
    number: int
    begin: int
    end: int
    frames: tuple[int, ...] | None = None
    """The key frames; None for all from `begin` to `end`."""

    @property
    def name(self) -> str:
        """Of the file, without its suffix."""
        return f"{self.kind}-{self.number:06d}"

    @property
    def count(self) -> int:
        """How many frames are in it."""
        return len(self.frames) if self.frames is not None else self.end - self.begin

    def numbers(self) -> tuple[int, ...]:
        """The frames in it, ascending."""
        return self.frames if self.frames is not None else tuple(range(self.begin, self.end))


@dataclass(frozen=True, eq=False, slots=True)
class ProxyPlan:
    """All files of one recording."""

    frames: tuple[Chunk, ...]
    keys: tuple[Chunk, ...]
    _frame_begins: tuple[int, ...]
    _key_begins: tuple[int, ...]

    def chunk_of(self, number: int) -> Chunk:
        """The file that holds frame `number`."""
        return self.frames[int(np.searchsorted(self._frame_begins, number, side="right")) - 1]

    def key_chunk_of(self, number: int) -> Chunk | None:
        """The file that holds the key frame at or before `number`; None when there is none before it."""
        place = int(np.searchsorted(self._key_begins, number, side="right")) - 1
        return self.keys[place] if place >= 0 else None

    def all(self) -> tuple[Chunk, ...]:
        """Both kinds."""
        return self.keys + self.frames


def plan_of(index: FrameIndex) -> ProxyPlan:
    """Divide a recording: files of four to eight seconds that begin at key frames where possible."""
    begins = _begins(index)
    ends = [*begins[1:], len(index)]
    frames = tuple(Chunk("frames", n, a, b) for n, (a, b) in enumerate(zip(begins, ends, strict=True)))
    numbers = _thinned_keys(index)
    groups = [numbers[a : a + KEYS_A_FILE] for a in range(0, len(numbers), KEYS_A_FILE)]
    key_ends = [*(group[0] for group in groups[1:]), len(index)]
    keys = tuple(
        Chunk("keys", n, group[0], end, tuple(group))
        for n, (group, end) in enumerate(zip(groups, key_ends, strict=True))
    )
    return ProxyPlan(frames, keys, tuple(begins), tuple(chunk.begin for chunk in keys))


def by_urgency(plan: ProxyPlan, index: FrameIndex, near: int) -> list[Chunk]:
    """All files in the order in which they are made while the playhead is at frame `near`."""
    here_s = float(index.times_s[near])

    def urgency(chunk: Chunk) -> tuple[float, bool, int]:
        begin_s, last_s = float(index.times_s[chunk.begin]), float(index.times_s[chunk.end - 1])
        away_s = max(begin_s - here_s, here_s - last_s, 0.0)
        return away_s / (KEYS_AHEAD if chunk.kind == "keys" else 1.0), chunk.kind == "frames", chunk.number

    return sorted(plan.all(), key=urgency)


def first_missing(order: Collection[Chunk], made: Collection[str]) -> Chunk | None:
    """The first file of `order` that is not made yet."""
    return next((chunk for chunk in order if chunk.name not in made), None)


def _begins(index: FrameIndex) -> list[int]:
    times_s, keys = index.times_s, np.flatnonzero(index.is_key)
    begins = [0]
    while True:
        begin = begins[-1]
        is_short = times_s[-1] - times_s[begin] < 1.5 * LEAST_S
        if is_short and len(index) - begin <= MOST_FRAMES:
            return begins
        most = min(int(np.searchsorted(times_s, times_s[begin] + MOST_S)), begin + MOST_FRAMES, len(index) - 1)
        most = max(most, begin + 1)
        least = max(min(int(np.searchsorted(times_s, times_s[begin] + LEAST_S)), most), begin + 1)
        if least >= len(index):
            return begins
        fitting = keys[(keys >= least) & (keys <= most)]
        begins.append(int(fitting[0]) if len(fitting) else most)


def _thinned_keys(index: FrameIndex) -> list[int]:
    kept: list[int] = []
    for key in np.flatnonzero(index.is_key).tolist():
        if not kept or index.times_s[key] - index.times_s[kept[-1]] >= KEY_STEP_S:
            kept.append(key)
    return kept
