"""Pictures between two frames: everything that moves is put where it was at the moment."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from syncview.media.frame_copies import empty_like
from syncview.media.pair_motion import cell_px
from syncview.media.planes import LAYOUTS, plane_views
from syncview.media.sampling import sampled

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.media.pair_motion import MovedField

_CERTAIN = 1 - 1 / 128
"""Trust from which a dissolve would change a sample by a level or two at most."""


class PictureMover:
    """Makes pictures between frames of formats of `syncview.media.planes.LAYOUTS`; keeps its work space.

    For one thread at a time.
    """

    def __init__(self) -> None:
        self._spaces: dict[tuple[int, ...], _PlaneSpace] = {}

    def between(self, earlier: VideoFrame, later: VideoFrame, *, weight: float, field: MovedField) -> VideoFrame:
        """The picture at `weight` of the way, 0 to 1, as a new frame with the earlier one's stamps and tags.

        `field` is the movement at that moment. Where it is not to be trusted, both pictures dissolve into each other.
        """
        made = empty_like(earlier)
        layout = LAYOUTS[earlier.format.name]
        cell = cell_px(earlier.width, earlier.height)
        ready: dict[tuple[int, ...], _PlaneSpace] = {}
        for number, planes in enumerate(zip(plane_views(made), plane_views(earlier), plane_views(later), strict=True)):
            shape = planes[0].shape[:2]
            if shape not in ready:
                cells = (cell >> layout.chroma_shift_x, cell >> layout.chroma_shift_y) if number else (cell, cell)
                ready[shape] = self._spaces.get(shape) or _PlaneSpace(shape, cells, field.trust.shape)
                ready[shape].prepare(weight, field)
            ready[shape].fill(*planes)
        self._spaces = ready
        return made


class _PlaneSpace:
    """Work space for planes of one size: big arrays made anew for every picture would cost as much as the work."""

    def __init__(self, shape: tuple[int, ...], cell: tuple[int, int], field_shape: tuple[int, ...]) -> None:
        self._shape = shape
        self._cell = cell
        (width, height), (rows, columns) = cell, field_shape
        # One cell more around the field: enlarging stops at the middle of the outermost ones.
        x, y = np.meshgrid(np.arange(-1, columns + 1), np.arange(-1, rows + 1))
        self._middles = [(axis.astype(np.float32) + 0.5) * side - 0.5 for axis, side in ((x, width), (y, height))]
        self._inner = slice(height, height + shape[0]), slice(width, width + shape[1])
        whole = (rows + 2) * height, (columns + 2) * width
        self._places = [[np.empty(whole, dtype=np.float32) for _axis in (0, 1)] for _picture in (0, 1)]
        self._shares = [np.empty((rows * height, columns * width), dtype=np.float32) for _ in (0, 1)]
        self._weight = 0.0
        self._trust = np.ones(field_shape, dtype=np.float32)

    def prepare(self, weight: float, field: MovedField) -> None:
        """Work out where the samples come from."""
        import cv2

        self._weight, self._trust = weight, field.trust
        for axis in (0, 1):
            way = field.displacement[..., axis] * self._cell[axis]
            around = np.asarray(cv2.copyMakeBorder(way, 1, 1, 1, 1, cv2.BORDER_REPLICATE))
            for places, part in zip(self._places, (-weight, 1.0 - weight), strict=True):
                # One axis at a time: OpenCV enlarges pairs at a seventh of the speed.
                cv2.resize(self._middles[axis] + around * part, places[axis].shape[::-1], dst=places[axis])
        _enlarge(field.later_share, self._shares)

    def fill(self, made: NDArray[Any], earlier: NDArray[Any], later: NDArray[Any]) -> None:
        """Write the plane between into `made`."""

        first, second = (
            sampled(plane, *(axis[self._inner] for axis in places))
            for plane, places in zip((earlier, later), self._places, strict=True)
        )
        rows, columns = self._shape
        _mix(first, second, [share[:rows, :columns] for share in self._shares], to=made)
        for cells in _doubtful(self._trust):
            self._dissolve(made, earlier, later, cells)

    def _dissolve(
        self, made: NDArray[Any], earlier: NDArray[Any], later: NDArray[Any], cells: tuple[slice, slice]
    ) -> None:
        """Replace what is moved by the dissolve of both, as far as it is not trusted, in a rectangle of cells."""
        import cv2

        width, height = self._cell
        area = (
            slice(cells[0].start * height, cells[0].stop * height),
            slice(cells[1].start * width, cells[1].stop * width),
        )
        part = made[area]
        rows, columns = part.shape[:2]
        trust = self._trust[cells]
        shares = [np.empty((trust.shape[0] * height, trust.shape[1] * width), dtype=np.float32) for _ in (0, 1)]
        _enlarge(trust, shares)
        dissolved = cv2.addWeighted(earlier[area], 1.0 - self._weight, later[area], self._weight, 0.0)
        _mix(np.asarray(dissolved), part.copy(), [share[:rows, :columns] for share in shares], to=part)


def _enlarge(second_share: NDArray[np.float32], to: Sequence[NDArray[np.float32]]) -> None:
    """Write the shares of the first and of the second picture in full size."""
    import cv2

    for share, part in zip(to, (1.0 - second_share, second_share), strict=True):
        cv2.resize(part, share.shape[::-1], dst=share)


def _mix(first: NDArray[Any], second: NDArray[Any], shares: Sequence[NDArray[np.float32]], *, to: NDArray[Any]) -> None:
    """Write both by their shares into `to`."""
    import cv2

    if to.dtype == np.uint8:
        cv2.blendLinear(first, second, shares[0], shares[1], dst=to)
    else:  # blendLinear knows no 16-bit samples
        to[...] = np.rint(cv2.blendLinear(first.astype(np.float32), second.astype(np.float32), *shares))


def _doubtful(trust: NDArray[np.float32]) -> Iterator[tuple[slice, slice]]:
    """Rectangles of cells that hold all doubtful ones, one for each run of rows, with a margin of trusted ones."""
    is_doubtful = trust < _CERTAIN
    steps = np.diff(is_doubtful.any(axis=1), prepend=False, append=False)
    for begin, end in np.flatnonzero(steps).reshape(-1, 2).tolist():
        columns = np.flatnonzero(is_doubtful[begin:end].any(axis=0))
        # The margin, because cells are enlarged smoothly.
        rows = slice(max(0, begin - 1), min(trust.shape[0], end + 1))
        yield rows, slice(max(0, int(columns[0]) - 1), min(trust.shape[1], int(columns[-1]) + 2))
