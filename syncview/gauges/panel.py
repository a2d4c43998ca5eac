"""All gauges of one picture size, ready to be drawn on frame after frame."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeGuard

import numpy as np

from syncview.gauges.arrangement import Arrangement, arrange
from syncview.gauges.blend import lay_sprites
from syncview.gauges.cards import CornerCard, LapClock
from syncview.gauges.choice import ALL_GAUGES, GaugeChoice
from syncview.gauges.colour import ColourCoding
from syncview.gauges.gap_plate import GapPlate
from syncview.gauges.map_plate import MapOutline, MapPlate
from syncview.gauges.marker_plate import MarkerPlate
from syncview.gauges.note_card import NoteCard
from syncview.gauges.seesaw import SeeSaw
from syncview.media.planes import LAYOUTS
from syncview.shown_units import Units

if TYPE_CHECKING:
    from collections.abc import Iterator

    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.gauges.sheet import Box
    from syncview.gauges.sprites import Sprite
    from syncview.gauges.values import GaugeValues
    from syncview.media.planes import PlaneLayout

PREVIEW_LOCK_RAD = 7.854
"""One and a quarter turns of the wheel to each side: a common road car's (common practice, no source)."""


class GaugePanel:
    """Draws gauges on upright pictures of one size, pixel format and colour coding.

    The layout follows the picture's shape (wide, square or tall). A map is shown when there is an `outline` of the
    lap. Sprites are made on first use and kept. ValueError for a pixel format outside `syncview.media.planes.LAYOUTS`
    (convert the frame first), TooSmallError for a picture without room; `notes` says what a small one leaves out.
    """

    def __init__(
        self,
        width: int,
        height: int,
        *,
        units: Units = "metric",
        coding: ColourCoding,
        pixel_format: str,
        steering_lock_rad: float,
        choice: GaugeChoice = ALL_GAUGES,
        outline: MapOutline | None = None,
    ) -> None:
        if pixel_format not in LAYOUTS:
            raise ValueError(f"gauges cannot be drawn on {pixel_format} pictures")
        if not steering_lock_rad > 0:
            raise ValueError(f"the steering lock must be above zero, not {steering_lock_rad}")
        layout = LAYOUTS[pixel_format]
        if layout.bits != coding.bits:
            raise ValueError(f"{pixel_format} has {layout.bits} bits, the colour coding {coding.bits}")
        self.width, self.height, self.pixel_format = width, height, pixel_format
        chosen = choice if outline is not None else choice.without(["map"])
        self.arrangement: Arrangement = arrange(width, height, chosen)
        self.notes: tuple[str, ...] = self.arrangement.notes
        self._shows_notes = choice.note
        self._make(units, steering_lock_rad, outline, coding, layout)

    def _make(
        self,
        units: Units,
        lock_rad: float,
        outline: MapOutline | None,
        coding: ColourCoding,
        layout: PlaneLayout,
    ) -> None:
        at, unit = self.arrangement, self.arrangement.unit
        self._seesaw: SeeSaw | None = None
        if at.seesaw is not None:
            self._seesaw = SeeSaw(
                at.seesaw, unit, units=units, steering_lock_rad=lock_rad, coding=coding, layout=layout
            )
        self._lap = None if at.lap is None else LapClock(at.lap, unit, coding=coding, layout=layout)
        self._card = None if at.card is None else CornerCard(at.card, unit, coding=coding, layout=layout)
        self._gap = None if at.gap is None else GapPlate(at.gap, unit, coding=coding, layout=layout)
        self._marker = (
            None if at.marker is None else MarkerPlate(at.marker, unit, units=units, coding=coding, layout=layout)
        )
        self._map: MapPlate | None = None
        if at.map is not None and outline is not None:
            hangs_low = at.map.top > at.captions.top
            self._map = MapPlate(outline, at.map, unit, hangs_low=hangs_low, coding=coding, layout=layout)
        self._note = NoteCard(at.captions, unit, coding=coding, layout=layout)

    @property
    def caption_free_area(self) -> Box:
        """Where captions may lie without covering a gauge."""
        return self.arrangement.captions

    def draw(self, frame: VideoFrame, values: GaugeValues) -> None:
        """Draw on the frame in place; ValueError when it is of another size or format than the panel."""
        if (frame.width, frame.height, frame.format.name) != (self.width, self.height, self.pixel_format):
            raise ValueError(
                f"a {frame.width} x {frame.height} {frame.format.name} frame on a panel for "
                f"{self.width} x {self.height} {self.pixel_format}"
            )
        lay_sprites(frame, self._laid_out(values))

    def _laid_out(self, values: GaugeValues) -> Iterator[tuple[Sprite, int, int]]:
        at = self.arrangement
        if self._seesaw is not None and at.seesaw is not None:
            self._seesaw.update(values)
            yield self._seesaw.plate.sprite, at.seesaw.left, at.seesaw.top
        if self._lap is not None:
            lap, place = self._lap.plate_for(values.lap_time_s)
            yield lap, place.left, place.top
        if self._card is not None and at.card is not None and values.corner is not None:
            yield self._card.card_for(values.corner), at.card.left, at.card.top
        if self._gap is not None and at.gap is not None and _known(values.gap_s):
            yield self._gap.plate_for(values.gap_s), at.gap.left, at.gap.top
        if self._marker is not None and at.marker is not None and values.marker is not None:
            yield self._marker.plate_for(values.marker), at.marker.left, at.marker.top
        if self._map is not None:
            yield self._map.sprite, self._map.place.left, self._map.place.top
            if _known(values.lap_distance_m):
                yield self._map.dot_at(values.lap_distance_m)
        if self._shows_notes and values.note:
            note, place = self._note.card_for(values.note)
            yield note, place.left, place.top


def _known(value: float | None) -> TypeGuard[float]:
    return value is not None and math.isfinite(value)


def preview(
    background: NDArray[np.uint8],
    values: GaugeValues,
    *,
    units: Units = "metric",
    steering_lock_rad: float = PREVIEW_LOCK_RAD,
    choice: GaugeChoice = ALL_GAUGES,
    outline: MapOutline | None = None,
) -> NDArray[np.uint8]:
    """The gauges over a picture, shape (rows, columns, 3), RGB; rows and columns even. A new array."""
    import av

    height, width = background.shape[:2]
    panel = GaugePanel(
        width,
        height,
        units=units,
        coding=ColourCoding("bt709", is_full_range=True),
        pixel_format="yuv444p",
        steering_lock_rad=steering_lock_rad,
        choice=choice,
        outline=outline,
    )
    frame = av.VideoFrame.from_ndarray(background, format="rgb24").reformat(
        format="yuv444p", dst_colorspace="ITU709", dst_color_range="JPEG"
    )
    panel.draw(frame, values)
    rgb = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="JPEG")
    return np.asarray(rgb.to_ndarray(), dtype=np.uint8)
