"""How the picture moves from one frame to the next, found on small pictures of their brightness.

OpenCV's dense inverse search (Kroeger, Timofte, Dai, Van Gool: Fast Optical Flow using Dense Inverse Search, ECCV 2016)
gives the flow both ways. Flow at a moment between, and what hides what, follow Baker and others: A Database and
Evaluation Methodology for Optical Flow, IJCV 92 (2011), section 3.3, with sampling in place of splatting.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from syncview.media.sampling import sampled

if TYPE_CHECKING:
    from numpy.typing import NDArray

CELLS = 240 * 135
"""Movement is found for about so many cells of a picture: more cost more and gain little."""
LEAST_SIDE = 32
"""Smaller pictures, in pixels, give the search nothing to hold on to."""

_SEARCHED_PER_CELL = 2
"""The search looks at so many pixels along each side of a cell."""
_CELLS_PER_PIXEL = np.float32(1 / _SEARCHED_PER_CELL)
_SLACK_PX = 0.7
_SLACK_SHARE = 0.12
"""Going there and back may miss by this, and by this share of the way, before it counts as a contradiction."""
_RESIDUE_FULL, _RESIDUE_NONE = 20.0, 40.0
"""Difference of brightness, of 255, between both ends of a movement up to which it is trusted fully, and from which
not at all."""
_DISORDER_WEIGHT = 2.0
"""How much heavier differences of brightness weigh where most movements around contradict each other."""
_OTHER_SCENE = 0.6
"""Two pictures show different scenes where what no movement explains, as part of the contrast, exceeds this times the
share of outlines that are found again. Filmed and drawn scenes gave up to 0.3, a grainy plane that passes too fast to
be followed 0.5; far places of one drive with the same cockpit mostly above 0.63, cuts of a film from 7 up."""


@dataclass(frozen=True, eq=False, slots=True)
class MovedField:
    """Where the samples of a picture between come from, for each of its cells, shape (rows, columns)."""

    displacement: NDArray[np.float32]
    """Movement from the earlier to the later picture in cells to the right and down, shape (rows, columns, 2)."""
    later_share: NDArray[np.float32]
    """Weight of the later picture, 0 to 1: the time's, but where only one of both shows the place."""
    trust: NDArray[np.float32]
    """0 to 1: how far the movement is to be believed."""


class PairMotion:
    """The movement between two pictures of one size, given their small brightness pictures, see `small_luma`.

    `previous` is the pair before, whose later picture is this one's earlier: its movement is where the search begins.
    """

    def __init__(
        self, earlier: NDArray[np.uint8], later: NDArray[np.uint8], *, previous: PairMotion | None = None
    ) -> None:
        import cv2

        # Its types leave out "no guess". The preset's finest scale is half as fine; its slower presets gain nothing.
        search: Any = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_ULTRAFAST)
        search.setFinestScale(1)
        self.later = later
        guesses = (None, None) if previous is None else previous.flows
        there = search.calc(earlier, later, _own(guesses[0]))
        back = search.calc(later, earlier, _own(guesses[1]))
        self.flows: tuple[NDArray[np.float32], NDArray[np.float32]] = there, back
        """Movement of each pixel to the other picture, of the earlier and of the later picture."""
        self._there, self._back = (_per_cell(flow) * _CELLS_PER_PIXEL for flow in self.flows)
        self._earlier, self._later = _per_cell(earlier), _per_cell(later)
        rows, columns = self._earlier.shape
        self._grid = np.dstack(np.meshgrid(np.arange(columns), np.arange(rows))).astype(np.float32)
        followed = sampled(self._later, self._grid + self._there)
        self._brighter = np.float32(np.median(self._earlier.astype(np.float32) - followed))
        self._hidden_later = self._contradiction(self._there, self._back)
        self._hidden_earlier = self._contradiction(self._back, self._there)
        self._disorder = _wide(self._hidden_later), _wide(self._hidden_earlier)
        self.is_cut = self._is_cut()
        """True when the pictures show different scenes."""

    def _is_cut(self) -> bool:
        import cv2

        unexplained = np.minimum(self._residue(self._there, 0.0), self._residue(-self._back, 0.0))
        contrast = max(1.0, float(self._earlier.std()), float(self._later.std()))
        share = np.minimum(unexplained / contrast, 1.0).mean()  # so that no single thing that comes in decides
        outlines = cv2.blur(np.abs(cv2.Laplacian(self._earlier, cv2.CV_32F)), (5, 5))
        found_again = (outlines * (self._hidden_later < 1)).sum() / max(1.0, float(outlines.sum()))
        return bool(share > _OTHER_SCENE * found_again)

    def at(self, weight: float) -> MovedField:
        """The movement of what is seen at a moment between, `weight` from 0 (earlier) to 1 (later)."""
        displacement, residue = self._displacement(weight)
        from_earlier, from_later = self._grid - weight * displacement, self._grid + (1 - weight) * displacement
        # What the later picture hides is taken from the earlier one only, and the other way round.
        earlier = (1 - weight) * self._inside(from_earlier) * (1 - sampled(self._hidden_earlier, from_later))
        later = weight * self._inside(from_later) * (1 - sampled(self._hidden_later, from_earlier))
        little = 1e-3
        share = (later + little * weight) / (earlier + later + little)
        # Where one picture alone is shown, it need not look like the other.
        both = np.minimum(share / weight, (1 - share) / (1 - weight))
        # Hidden places are narrow. Where contradictions are everywhere, the search has failed.
        disorder = np.minimum(sampled(self._disorder[0], from_earlier), sampled(self._disorder[1], from_later))
        doubt = residue * np.maximum(both, disorder) * (1 + _DISORDER_WEIGHT * disorder)
        trust = np.clip((_RESIDUE_NONE - doubt) / (_RESIDUE_NONE - _RESIDUE_FULL), 0.0, 1.0)
        return MovedField(*(np.asarray(part, dtype=np.float32) for part in (displacement, share, _spread(trust))))

    def _displacement(self, weight: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Movement at a moment between, the better explained of both searches counting more, and its residue."""
        there = sampled(self._there, self._grid - weight * self._there)
        back = -sampled(self._back, self._grid - (1 - weight) * self._back)
        residues = self._residue(there, weight), self._residue(back, weight)
        belief = [part / (1 + residue) ** 2 for part, residue in zip((1 - weight, weight), residues, strict=True)]
        share = (belief[1] / (belief[0] + belief[1]))[..., None]
        return there + (back - there) * share, np.minimum(*residues)

    def _residue(self, displacement: NDArray[np.float32], weight: float) -> NDArray[np.float32]:
        """Difference of brightness between both ends of the movement through each place, without the general one."""
        import cv2

        earlier = sampled(self._earlier, self._grid - weight * displacement)
        later = sampled(self._later, self._grid + (1 - weight) * displacement)
        difference = np.abs(earlier.astype(np.float32) - later - self._brighter)
        return np.asarray(cv2.blur(difference, (5, 5)), dtype=np.float32)

    def _contradiction(self, flow: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
        """1 where going there and back does not lead home, 0 where it does, shape (rows, columns)."""
        home = sampled(other, self._grid + flow)
        miss = np.square(flow + home).sum(axis=-1)
        way = np.square(flow).sum(axis=-1) + np.square(home).sum(axis=-1)
        return np.asarray(np.clip(miss / (_SLACK_SHARE * way + _SLACK_PX**2) - 1, 0.0, 1.0), dtype=np.float32)

    def _inside(self, places: NDArray[np.float32]) -> NDArray[np.float32]:
        """1 for places in the picture, 0 for those outside, in between over one pixel at the border."""
        rows, columns = self._earlier.shape
        x, y = places[..., 0], places[..., 1]
        depth = np.minimum(np.minimum(x, columns - 1 - x), np.minimum(y, rows - 1 - y))
        return np.asarray(np.clip(depth + 1.0, 0.0, 1.0), dtype=np.float32)


def _wide(contradiction: NDArray[np.float32]) -> NDArray[np.float32]:
    """1 where most of the surroundings contradict, 0 where few do."""
    import cv2

    return np.asarray(np.clip((cv2.blur(contradiction, (15, 15)) - 0.35) / 0.3, 0.0, 1.0), dtype=np.float32)


def _spread(trust: NDArray[np.float32]) -> NDArray[np.float32]:
    """Trust without fragments: doubt takes its surroundings along and fades out softly."""
    import cv2

    if trust.min() == 1.0:
        return trust
    return np.asarray(cv2.blur(cv2.erode(trust, np.ones((7, 7), dtype=np.uint8)), (7, 7)), dtype=np.float32)


def _own(flow: NDArray[np.float32] | None) -> NDArray[np.float32] | None:
    """A copy: the search writes its result into its first guess."""
    return None if flow is None else flow.copy()


def _per_cell(values: NDArray[Any]) -> NDArray[Any]:
    """The mean over each cell."""
    import cv2

    rows, columns = (side // _SEARCHED_PER_CELL for side in values.shape[:2])
    return np.asarray(cv2.resize(values, (columns, rows), interpolation=cv2.INTER_AREA))


def cell_px(width: int, height: int) -> int:
    """Side of a cell in pixels of a picture, an even number so that chroma has whole ones too."""
    return max(2, 2 * round(math.sqrt(width * height / CELLS) / 2))


def small_luma(luma: NDArray[Any], bits: int) -> NDArray[np.uint8]:
    """The brightness plane reduced to 2 x 2 samples of 8 bits a cell; the last cells are filled up at the edges."""
    import cv2

    rows, columns = luma.shape
    cell = cell_px(columns, rows)
    whole = luma
    if rows % cell or columns % cell:
        whole = np.asarray(cv2.copyMakeBorder(luma, 0, -rows % cell, 0, -columns % cell, cv2.BORDER_REPLICATE))
    step = cell // _SEARCHED_PER_CELL
    size = whole.shape[1] // step, whole.shape[0] // step
    small = np.asarray(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), dtype=luma.dtype)
    return np.ascontiguousarray(small >> (bits - 8), dtype=np.uint8)
