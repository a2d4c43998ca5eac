"""Which frames a recording presents and when, by integer stamps; never by frame number over rate."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, eq=False, slots=True)
class FrameIndex:
    """Every frame that the recording presents, in the order it is seen."""

    pts: NDArray[np.int64]
    """Presentation stamps, shape (n,), strictly ascending, in ticks of `time_base`."""
    duration: NDArray[np.int64]
    """Ticks each frame stays on screen, shape (n,): up to the next frame, whatever the packet claims."""
    is_key: NDArray[np.bool_]
    """True where decoding can start, shape (n,)."""
    time_base: Fraction
    """Seconds per tick."""
    repeated_stamps: int = 0
    """Frames left out because a later one has the same stamp, so that they are never on screen."""
    times_s: NDArray[np.float64] = field(init=False, repr=False)
    """Media time of each frame in seconds, shape (n,): exactly float(media_s(i))."""

    def __post_init__(self) -> None:
        if len(self.pts) == 0:
            raise ValueError("a frame index needs at least one frame")
        if np.any(np.diff(self.pts) <= 0):
            raise ValueError("stamps must ascend")
        ticks = (self.pts - self.pts[0]) * self.time_base.numerator
        object.__setattr__(self, "times_s", ticks / self.time_base.denominator)
        for column in (self.pts, self.duration, self.is_key, self.times_s):
            column.setflags(write=False)

    def __len__(self) -> int:
        return len(self.pts)

    @property
    def start_pts(self) -> int:
        """The first presented frame's stamp, which media time counts from."""
        return int(self.pts[0])

    @property
    def end_s(self) -> Fraction:
        """Media time at which the last frame leaves the screen."""
        return (int(self.pts[-1]) + int(self.duration[-1]) - self.start_pts) * self.time_base

    def media_s(self, index: int) -> Fraction:
        """Media time at which frame `index` (from 0) appears; IndexError outside."""
        if not 0 <= index < len(self):
            raise IndexError(f"frame {index} of {len(self)}")
        return (int(self.pts[index]) - self.start_pts) * self.time_base

    def first_from(self, media_s: Fraction | float) -> int:
        """Index of the first frame that appears at `media_s` or later; len(self) if there is none.

        A float is compared with `times_s`, a Fraction with the exact times, so that both find their own frame.
        """
        if isinstance(media_s, Fraction):
            ticks = -((-media_s) // self.time_base) + self.start_pts  # rounded up
            return int(np.searchsorted(self.pts, ticks, side="left"))
        return int(np.searchsorted(self.times_s, media_s, side="left"))

    def index_at(self, media_s: Fraction | float) -> int:
        """The frame on screen at `media_s`; ValueError before the first or from `end_s` on."""
        if not 0 <= media_s < self.end_s:
            raise ValueError(f"{float(media_s):.3f} s is outside the recording (0 to {float(self.end_s):.3f} s)")
        if isinstance(media_s, Fraction):
            ticks = media_s // self.time_base + self.start_pts
            return int(np.searchsorted(self.pts, ticks, side="right")) - 1
        return int(np.searchsorted(self.times_s, media_s, side="right")) - 1

    def key_before(self, index: int) -> int | None:
        """The last key frame at or before `index`; None when only a hidden one before the first frame serves."""
        keys = np.flatnonzero(self.is_key[: index + 1])
        return int(keys[-1]) if len(keys) else None


def index_from_stamps(
    pts: NDArray[np.int64], packet_duration: NDArray[np.int64], is_key: NDArray[np.bool_], *, time_base: Fraction
) -> FrameIndex:
    """Build the index from stamps in any order, shapes (n,), n >= 1.

    Of frames with the same stamp the last one in the given (decode) order is kept: it is the one left on screen.
    """
    order = np.argsort(pts, kind="stable")
    stamps = pts[order]
    kept = np.append(np.diff(stamps) > 0, True)
    stamps = stamps[kept]
    steps = np.diff(stamps)
    last = int(packet_duration[order][-1])
    if last <= 0:
        last = int(np.median(steps)) if len(steps) else 0
    # A group of frames with one stamp can be decoded from here if any of them is a key frame.
    starts = np.flatnonzero(np.append(True, kept[:-1]))
    keys = np.logical_or.reduceat(is_key[order], starts)
    return FrameIndex(
        pts=stamps,
        duration=np.append(steps, last),
        is_key=keys,
        time_base=time_base,
        repeated_stamps=len(pts) - len(stamps),
    )
