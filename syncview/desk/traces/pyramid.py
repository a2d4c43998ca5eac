"""Lowest and highest values of long channels for any stretch, quickly: each level halves the length twice."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Places = NDArray[np.int64]

FACTOR = 4
"""Samples of one level in a sample of the next."""
BLOCKS_PER_COLUMN = 4
"""A narrow column is made from at least so many blocks, so that its edges are off by a quarter of it at most."""
NARROW_QUANTILE = 0.1
"""How wide a narrow column is: one column in ten holds fewer samples."""


class Pyramid:
    """Extremes of several channels on the same samples; NaN is no value. Built once, read as often as asked.

    `values`: shape (rows, n); kept, not copied, when it is float32 already.
    """

    def __init__(self, values: NDArray[np.floating]) -> None:
        whole: Samples = np.ascontiguousarray(values, dtype=np.float32)
        self._low, self._high = [whole], [whole]
        self._holes = bool(np.isnan(whole).any())
        while self._low[-1].shape[1] > FACTOR * FACTOR:
            self._low.append(_coarser(self._low[-1], np.fmin))
            self._high.append(_coarser(self._high[-1], np.fmax))

    @property
    def values(self) -> Samples:
        """The samples, shape (rows, n)."""
        return self._low[0]

    def level_for(self, edges: Places) -> int:
        """The coarsest level that is fine enough for columns between these places."""
        counts = np.diff(edges)
        counts = counts[counts > 0]
        if not counts.size:
            return 0
        narrow = max(float(np.sort(counts)[int(NARROW_QUANTILE * counts.size)]), 1.0)
        level = int(np.floor(np.log(max(narrow / BLOCKS_PER_COLUMN, 1.0)) / np.log(FACTOR) + 1e-9))
        return min(level, len(self._low) - 1)

    def rounded(self, edges: Places) -> Places:
        """Where the columns really begin and end: at blocks of the level used. None of the samples asked for is lost.

        The first edge and those between are rounded down, the last one up (but not beyond the samples).
        """
        return self._rounded(edges, FACTOR ** self.level_for(edges))

    def _rounded(self, edges: Places, block: int) -> Places:
        result: Places = edges // block * block
        result[-1] = min(-(-int(edges[-1]) // block) * block, self.values.shape[1])
        return result

    def extremes(self, edges: Places) -> tuple[Samples, Samples]:
        """Lowest and highest value of every row in every column, shapes (rows, columns).

        `edges`: shape (columns + 1,), ascending sample places from 0 to n; column `c` holds the samples from
        `edges[c]` up to but not including `edges[c + 1]`, as `rounded`. NaN in columns without a value.
        """
        level = self.level_for(edges)
        block = FACTOR**level
        places = -(-self._rounded(edges, block) // block)  # the last one may lie inside the last block
        holds = places[1:] > places[:-1]
        shape = (self.values.shape[0], holds.size)
        low, high = np.full(shape, np.nan, np.float32), np.full(shape, np.nan, np.float32)
        if holds.any():
            begins, end = places[:-1][holds], int(places[-1])
            least, most = (np.fmin, np.fmax) if self._holes else (np.minimum, np.maximum)
            low[:, holds] = least.reduceat(self._low[level][:, :end], begins, axis=1)
            high[:, holds] = most.reduceat(self._high[level][:, :end], begins, axis=1)
        return low, high


def _coarser(values: Samples, pick: np.ufunc) -> Samples:
    whole = values.shape[1] // FACTOR * FACTOR
    result = values[:, 0:whole:FACTOR]
    for part in range(1, FACTOR):
        result = pick(result, values[:, part:whole:FACTOR])
    if whole < values.shape[1]:
        result = np.concatenate((result, pick.reduce(values[:, whole:], axis=1)[:, None]), axis=1)
    return np.ascontiguousarray(result)
