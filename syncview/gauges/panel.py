"""All gauges of one picture size, ready to be drawn on frame after frame."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from syncview.gauges.arrangement import Arrangement, arrange
from syncview.gauges.blend import lay_sprites
from syncview.gauges.cards import CornerCard, LapClock
from syncview.gauges.colour import ColourCoding
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

PREVIEW_LOCK_RAD = 7.854
"""One and a quarter turns of the wheel to each side: a common road car's (common practice, no source)."""


class GaugePanel:
    """Draws gauges on upright pictures of one size, pixel format and colour coding.

    Sprites are made on first use and kept. ValueError for a pixel format outside `syncview.media.planes.LAYOUTS`
    (convert the frame first) or a picture too small for legible gauges.
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
    ) -> None:
        if pixel_format not in LAYOUTS:
            raise ValueError(f"gauges cannot be drawn on {pixel_format} pictures")
        if not steering_lock_rad > 0:
            raise ValueError(f"the steering lock must be above zero, not {steering_lock_rad}")
        layout = LAYOUTS[pixel_format]
        if layout.bits != coding.bits:
            raise ValueError(f"{pixel_format} has {layout.bits} bits, the colour coding {coding.bits}")
        self.width, self.height, self.pixel_format = width, height, pixel_format
        self.arrangement: Arrangement = arrange(width, height)
        unit = self.arrangement.unit
        self._seesaw = SeeSaw(
            self.arrangement.seesaw,
            unit,
            units=units,
            steering_lock_rad=steering_lock_rad,
            coding=coding,
            layout=layout,
        )
        self._lap = LapClock(self.arrangement.lap, unit, coding=coding, layout=layout)
        self._card = CornerCard(self.arrangement.card, unit, coding=coding, layout=layout)
        self._note = NoteCard(self.arrangement.captions, unit, coding=coding, layout=layout)

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
        self._seesaw.update(values)
        yield self._seesaw.plate.sprite, self.arrangement.seesaw.left, self.arrangement.seesaw.top
        lap, place = self._lap.plate_for(values.lap_time_s)
        yield lap, place.left, place.top
        if values.corner is not None:
            yield self._card.card_for(values.corner), self.arrangement.card.left, self.arrangement.card.top
        if values.note:
            note, place = self._note.card_for(values.note)
            yield note, place.left, place.top


def preview(
    background: NDArray[np.uint8],
    values: GaugeValues,
    *,
    units: Units = "metric",
    steering_lock_rad: float = PREVIEW_LOCK_RAD,
) -> NDArray[np.uint8]:
    """The gauges over a picture, shape (rows, columns, 3), RGB; rows and columns even. A new array."""
    import av

    height, width = background.shape[:2]
    coding = ColourCoding("bt709", is_full_range=True)
    panel = GaugePanel(
        width, height, units=units, coding=coding, pixel_format="yuv444p", steering_lock_rad=steering_lock_rad
    )
    frame = av.VideoFrame.from_ndarray(background, format="rgb24").reformat(
        format="yuv444p", dst_colorspace="ITU709", dst_color_range="JPEG"
    )
    panel.draw(frame, values)
    rgb = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="JPEG")
    return np.asarray(rgb.to_ndarray(), dtype=np.uint8)
