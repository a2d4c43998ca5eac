"""Where the plates lie in a picture of any size and shape, and where captions may go."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from syncview.errors import MediaError
from syncview.gauges.choice import ALL_GAUGES, GaugeChoice
from syncview.gauges.sheet import Box

if TYPE_CHECKING:
    from collections.abc import Iterator

Shape = Literal["wide", "square", "tall"]

SAFE_SHARE = 0.05
"""Nothing is drawn nearer to an edge than this share of the side (EBU R 95 calls the rest graphics-safe)."""
_LEAST_SIDE = 144
_LEAST_UNIT = 0.24
"""Labels have capitals of seven rows here; smaller ones cannot be read (no source). Smaller pictures get larger gauges
for their size, and fewer."""
_HALF = 0.5
"""In narrow pictures the see-saw takes this share of the width, and sizes follow from it instead of the height. A
telephone held upright then shows letters as large as one held flat shows those of a wide film."""
_WIDE_FROM, _TALL_TO = 1.2, 0.85
"""Width over height: 4:3 and 16:9 are wide, 1:1 is square, 4:5 and 9:16 are tall."""
_BESIDE = 0.5
"""Captions beside the see-saw need this share of the width, else they go above it."""
_CAPTION_SHARE = 0.22
"""Height kept for captions beside the see-saw, of the picture's: two lines at the broadcast line height of 8 % and
their plate."""

# Sizes in units of 1/1080 of the picture's height.
SEESAW_WIDTH = 448
SEESAW_HEIGHT = 310
LAP_WIDTH = 424
_CELL_ROUNDING_PX = 8
"""Cells of figures have even widths."""
CARD_HEIGHT = 84
_CARD_LEAST = 480
GAP_WIDTH = 352
GAP_HEIGHT = 112
MARKER_WIDTH = 520
MAP_SIDE = 300
_MAP_LEAST = 170
_CAPTION_HEIGHT = 190
_APART = 20

_WORDS = {
    "seesaw": "see-saw", "lap_time": "lap time", "corner": "corner card", "gap": "gap to the reference lap",
    "marker": "marker countdown", "map": "map", "note": "notes",
}  # fmt: skip
_PLACED = ("seesaw", "note", "lap_time", "gap", "corner", "marker", "map")
"""The most important first: where room is short, the last are left out."""


class TooSmallError(MediaError, ValueError):
    """A picture is too small for gauges that can be read."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Places in pixels of the upright picture; all coordinates are even. None: not chosen, or no room."""

    shape: Shape
    unit: float
    """Pixels for one of the design's units; 1 in a wide picture 1080 rows tall."""
    seesaw: Box | None
    """Bottom right."""
    lap: Box | None
    """Top right: room for 999 minutes; shorter times have a narrower plate at its right end."""
    card: Box | None
    """Top left, the widest that a corner card may become; below the lap time where the picture is narrow."""
    gap: Box | None
    marker: Box | None
    """The widest that the plate may become."""
    map: Box | None
    captions: Box
    """Captions inside it cover no gauge."""
    left_out: tuple[str, ...] = ()
    """Chosen gauges for which there is no room, as in `GaugeChoice`."""

    @property
    def taken(self) -> tuple[Box, ...]:
        """The places that gauges and captions may fill."""
        places = (self.seesaw, self.lap, self.card, self.gap, self.marker, self.map, self.captions)
        return tuple(place for place in places if place is not None)

    @property
    def notes(self) -> tuple[str, ...]:
        """What was left out, as a sentence."""
        if not self.left_out:
            return ()
        words = [_WORDS[name] for name in self.left_out]
        listed = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
        return (f"The picture is too small for all gauges: {listed} left out.",)


def shape_of(width: int, height: int) -> Shape:
    """Which layout a picture gets."""
    ratio = width / height
    return "wide" if ratio >= _WIDE_FROM else "tall" if ratio <= _TALL_TO else "square"


def arrange(width: int, height: int, choice: GaugeChoice = ALL_GAUGES) -> Arrangement:
    """Lay out a picture of `width` by `height` pixels; TooSmallError when gauges could not be read on it.

    Where only some fit, the least important are left out and named in `left_out`.
    """
    fitting = min(height / 1080, _HALF * width / SEESAW_WIDTH)
    room = _Room(width, height, shape_of(width, height), max(fitting, _LEAST_UNIT), choice)
    for name in _PLACED:
        if name == "note" or getattr(choice, name):
            room.place(name)
        if min(width, height) < _LEAST_SIDE or {"seesaw", "note"} & set(room.left_out):
            raise TooSmallError(
                f"a picture of {width} x {height} is too small for gauges", "Leave the gauges out, or film larger."
            )
    placed, left_out = room.placed, tuple(room.left_out)
    return Arrangement(
        shape=room.shape,
        unit=room.unit,
        seesaw=placed.get("seesaw"),
        lap=placed.get("lap_time"),
        card=placed.get("corner"),
        gap=placed.get("gap"),
        marker=placed.get("marker"),
        map=placed.get("map"),
        captions=placed["note"],
        left_out=left_out,
    )


@dataclass(slots=True)
class _Room:
    """The safe area while it fills; every gauge takes the first of its places that is free."""

    width: int
    height: int
    shape: Shape
    unit: float
    choice: GaugeChoice
    placed: dict[str, Box] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    @property
    def left(self) -> float:
        return self.width * SAFE_SHARE

    @property
    def right(self) -> float:
        return self.width - self.left

    @property
    def top(self) -> float:
        return self.height * SAFE_SHARE

    @property
    def bottom(self) -> float:
        return self.height - self.top

    @property
    def apart(self) -> float:
        return _APART * self.unit

    def place(self, name: str) -> None:
        places = {
            "seesaw": self._seesaw, "note": self._captions, "lap_time": self._lap, "corner": self._card,
            "gap": self._gap, "marker": self._marker, "map": self._map,
        }[name]()  # fmt: skip
        for sides in places:
            box = _inside(*sides)
            if self._is_free(box):
                self.placed[name] = box
                return
        self.left_out.append(name)

    def _is_free(self, box: Box) -> bool:
        if box.width <= 0 or box.height <= 0 or box.left < self.left or box.top < self.top:
            return False
        if box.right > self.right or box.bottom > self.bottom:
            return False
        return not any(box.overlaps(other) for other in self.placed.values())

    def _seesaw(self) -> Iterator[_Sides]:
        yield self.right - SEESAW_WIDTH * self.unit, self.bottom - SEESAW_HEIGHT * self.unit, self.right, self.bottom

    def _captions(self) -> Iterator[_Sides]:
        """Bottom left beside the see-saw, or above it over the whole width."""
        seesaw, share = self.placed.get("seesaw"), _CAPTION_SHARE * self.height
        if seesaw is None:
            tall = share if self.shape == "wide" else _CAPTION_HEIGHT * self.unit
            yield self.left, self.bottom - tall, self.right, self.bottom
            return
        beside = seesaw.left - self.apart
        if beside - self.left >= _BESIDE * self.width:
            yield self.left, self.bottom - share, beside, self.bottom
        above = seesaw.top - self.apart
        yield self.left, above - _CAPTION_HEIGHT * self.unit, self.right, above

    def _lap(self) -> Iterator[_Sides]:
        left = self.right - LAP_WIDTH * self.unit - _CELL_ROUNDING_PX
        yield left, self.top, self.right, self.top + CARD_HEIGHT * self.unit

    def _card(self) -> Iterator[_Sides]:
        height, timing = CARD_HEIGHT * self.unit, [self.placed[n] for n in ("lap_time", "gap") if n in self.placed]
        beside = min([box.left for box in timing if box.top < self.top + height], default=self.right + self.apart)
        if self.shape != "tall" and beside - self.apart - self.left >= _CARD_LEAST * self.unit:
            yield self.left, self.top, beside - self.apart, self.top + height
        below = max([box.bottom + self.apart for box in timing], default=self.top)
        yield self.left, below, self.right, below + height

    def _gap(self) -> Iterator[_Sides]:
        """Below the lap time, or in tall pictures to its left."""
        width, height = GAP_WIDTH * self.unit, GAP_HEIGHT * self.unit
        lap = self.placed.get("lap_time")
        if self.shape == "tall":
            yield self.left, self.top, self.left + width, self.top + height
        below = self.top if lap is None else lap.bottom + self.apart
        yield self.right - width, below, self.right, below + height

    def _marker(self) -> Iterator[_Sides]:
        """Below the corner card."""
        card, gap = self.placed.get("corner"), self.placed.get("gap")
        top = self.top if card is None else card.bottom + self.apart
        if card is None and gap is not None and self.shape == "tall":
            top = gap.bottom + self.apart
        beside = self.right if gap is None or gap.bottom <= top else gap.left - self.apart
        right = min(self.left + MARKER_WIDTH * self.unit, beside)
        if right - self.left >= 0.7 * MARKER_WIDTH * self.unit:
            yield self.left, top, right, top + CARD_HEIGHT * self.unit

    def _map(self) -> Iterator[_Sides]:
        """Beside the see-saw where captions lie above it, else down the left side."""
        seesaw, captions, least = self.placed.get("seesaw"), self.placed["note"], _MAP_LEAST * self.unit
        if seesaw is not None and captions.bottom <= seesaw.top:
            right = min(seesaw.left - self.apart, self.left + 1.5 * SEESAW_HEIGHT * self.unit)
            if right - self.left >= least:
                yield self.left, float(seesaw.top), right, float(seesaw.bottom)
        above = [self.placed[name].bottom for name in ("marker", "corner") if name in self.placed]
        top = max(above) + self.apart if above else self.top
        side = min(MAP_SIDE * self.unit, captions.top - self.apart - top)
        if side >= least:
            yield self.left, top, self.left + side, top + side


_Sides = tuple[float, float, float, float]


def _inside(left: float, top: float, right: float, bottom: float) -> Box:
    """The largest box with even coordinates inside the given sides."""
    outer = Box.around(left, top, right, bottom)
    return Box(
        outer.left + (2 if outer.left < left else 0),
        outer.top + (2 if outer.top < top else 0),
        outer.right - (2 if outer.right > right else 0),
        outer.bottom - (2 if outer.bottom > bottom else 0),
    )
