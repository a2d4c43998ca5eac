"""Pictures between two frames: everything that moves is put where it was at the moment."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from syncview.media.frame_copies import empty_like
from syncview.media.planes import plane_views
from syncview.media.sampling import sampled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.media.pair_motion import MovedField

_Three = tuple["NDArray[Any]", "NDArray[Any]", "NDArray[Any]"]
_CERTAIN = 1 - 1 / 128
"""Trust from which a dissolve would change a sample by a level or two at most."""


class PictureMover:
    """Makes pictures between frames of one size and format of `syncview.media.planes.LAYOUTS`; keeps its work space.

    For one thread at a time.
    """

    def __init__(self) -> None:
        self._spaces: dict[tuple[int, int], _PlaneSpace] = {}

    def between(self, earlier: VideoFrame, later: VideoFrame, *, weight: float, field: MovedField) -> VideoFrame:
        """The picture at `weight` of the way, 0 to 1, as a new frame with the earlier one's stamps and tags.

        `field` is the movement at that moment. Where it is not to be trusted, both pictures dissolve into each other.
        """
        made = empty_like(earlier)
        planes = zip(plane_views(made), plane_views(earlier), plane_views(later), strict=True)
        for shape, alike in groupby(planes, key=lambda three: three[0].shape[:2]):
            if shape not in self._spaces:
                self._spaces[shape] = _PlaneSpace(*shape)
            self._spaces[shape].fill(list(alike), weight=weight, field=field)
        return made


class _PlaneSpace:
    """Work space for planes of one size: big arrays made anew for every picture would cost as much as the work."""

    def __init__(self, rows: int, columns: int) -> None:
        self._size = (columns, rows)
        self._ways = [np.empty((rows, columns, 2), dtype=np.float32) for _ in range(2)]
        self._shares = [np.empty((rows, columns), dtype=np.float32) for _ in range(2)]

    def fill(self, planes: Sequence[_Three], *, weight: float, field: MovedField) -> None:
        """Write the picture between into the first of each three planes: made, earlier, later."""
        import cv2

        way = field.displacement * np.array(self._size, dtype=np.float32)
        cv2.resize(way * -weight, self._size, dst=self._ways[0])
        cv2.resize(way * (1.0 - weight), self._size, dst=self._ways[1])
        self._share_out(field.later_share)
        for made, earlier, later in planes:
            first = sampled(earlier, self._ways[0], is_relative=True)
            second = sampled(later, self._ways[1], is_relative=True)
            _mix(first, second, self._shares, to=made)
        for area in _doubtful(field.trust, (self._size[1], self._size[0])):
            self._share_out(field.trust)
            shares = [share[area] for share in self._shares]
            for made, earlier, later in planes:
                dissolved = cv2.addWeighted(earlier[area], 1.0 - weight, later[area], weight, 0.0)
                _mix(dissolved, made[area], shares, to=made[area])

    def _share_out(self, second_share: NDArray[np.float32]) -> None:
        import cv2

        cv2.resize(1.0 - second_share, self._size, dst=self._shares[0])
        cv2.resize(second_share, self._size, dst=self._shares[1])


def _mix(first: NDArray[Any], second: NDArray[Any], shares: Sequence[NDArray[np.float32]], *, to: NDArray[Any]) -> None:
    import cv2

    if to.dtype == np.uint8:
        to[...] = cv2.blendLinear(first, second, *shares)
    else:  # blendLinear knows no 16-bit samples
        to[...] = np.rint(cv2.blendLinear(first.astype(np.float32), second.astype(np.float32), *shares))


def _doubtful(trust: NDArray[np.float32], shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    """The rectangle of a plane that holds all movement of which some is doubtful; none where all is certain."""
    rows, columns = (np.flatnonzero((trust < _CERTAIN).any(axis=axis)) for axis in (1, 0))
    if len(rows) == 0:
        return []
    # One sample of the field more on each side, because it is enlarged smoothly.
    spans = []
    for found, field_side, side in zip((rows, columns), trust.shape, shape[:2], strict=True):
        begin, end = (found[0] - 1) * side // field_side, -(-(found[-1] + 2) * side // field_side)
        spans.append(slice(max(0, int(begin)), min(side, int(end))))
    return [(spans[0], spans[1])]
