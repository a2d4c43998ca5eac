"""Makes each decoded picture ready for the film: upright, encodable, with its gauges."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.gauges.blend import lay_sprites
from syncview.gauges.choice import ALL_GAUGES, GaugeChoice
from syncview.gauges.colour import coding_of
from syncview.gauges.map_plate import MapOutline
from syncview.gauges.panel import GaugePanel
from syncview.gauges.sheet import Box
from syncview.gauges.sprites import Sprite, make_sprite
from syncview.media.framing import framing_for
from syncview.media.planes import LAYOUTS, plane_rows, workable_format
from syncview.media.turning import turned_format, upright, with_even_sides
from syncview.shown_units import Units

if TYPE_CHECKING:
    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.gauges.values import GaugeValues
    from syncview.media.colour_tags import ColourTags
    from syncview.media.recording import Recording

_BT709 = 1
_LIMITED = 1
_SCALER_NAMES = {"bt601": "ITU601", "bt709": "ITU709", "smpte240m": "SMPTE240M", "fcc": "FCC"}
"""What FFmpeg's scaler calls the matrices of `ColourCoding`."""


@dataclass(frozen=True, slots=True)
class PanelOptions:
    """How the gauges are drawn."""

    units: Units = "metric"
    steering_lock_rad: float = 7.854
    """Wheel angle at the ends of the steering arc; one and a quarter turns (common practice, no source)."""
    choice: GaugeChoice = ALL_GAUGES
    outline: MapOutline | None = None
    """The lap's line; None shows no map."""


class FilmPicture:
    """The steps from decoded to finished picture for one recording.

    `options` None draws no gauges; `aspect` (width over height) cuts the picture to another shape, None keeps it.
    """

    def __init__(self, recording: Recording, *, options: PanelOptions | None, aspect: Fraction | None = None) -> None:
        self._recording = recording
        self.notes: list[str] = []
        self.sample_aspect = recording.turn.aspect(recording.sample_aspect)
        self._square_width: int | None = None
        coded_width = recording.width
        if recording.sample_aspect != 1 and (options is not None or aspect is not None):
            self._square_width = coded_width = round(recording.width * recording.sample_aspect)
            self.sample_aspect = Fraction(1)
            self.notes.append("The picture was scaled to square pixels, so that what is drawn keeps its shape.")
        width, height = recording.turn.size(coded_width, recording.height)
        if width % 2 or height % 2:
            self.notes.append("The last column or row was left out: encoders take even sides only.")
        self.framing = framing_for(width & ~1, height & ~1, aspect)
        self.width, self.height = self.framing.width, self.framing.height
        self._decoded_format = workable_format(recording.pixel_format)
        self.pixel_format = turned_format(self._decoded_format, recording.turn)
        if self.pixel_format != recording.pixel_format:
            self.notes.append(f"The picture was converted from {recording.pixel_format} to {self.pixel_format}.")
        self.colour = self._colour_tags()
        self.coding, note = coding_of(
            self.colour,
            pixel_format=recording.pixel_format,
            height=recording.height,
            bits=LAYOUTS[self.pixel_format].bits,
        )
        if note is not None and options is not None:
            self.notes.append(note)
        self._panel = None if options is None else self._made_panel(options)
        if self._panel is not None:
            self.notes.extend(self._panel.notes)

    def finished(self, frame: VideoFrame, values: GaugeValues | None, *, under: Sprite | None = None) -> VideoFrame:
        """The picture for the film; `frame` may be painted on. `under` fills the picture, below the gauges."""
        frame = self._converted(frame)
        frame = self.framing.cut(with_even_sides(upright(frame, self._recording.turn)))
        if under is not None:
            lay_sprites(frame, [(under, 0, 0)])
        if self._panel is not None and values is not None:
            self._panel.draw(frame, values)
        return frame

    def as_rgb(self, frame: VideoFrame) -> NDArray[np.uint8]:
        """A finished picture as people see it, shape (rows, columns, 3)."""
        import numpy as np

        rgb = frame.reformat(
            format="rgb24",
            src_colorspace=_SCALER_NAMES.get(self.coding.matrix),
            src_color_range="JPEG" if self.coding.is_full_range else "MPEG",
        )
        return np.asarray(rgb.to_ndarray(), dtype=np.uint8)

    @property
    def taken(self) -> tuple[Box, ...]:
        """The parts of the picture that gauges and captions use."""
        return () if self._panel is None else self._panel.arrangement.taken

    def sprite(self, rgba: NDArray[np.uint8]) -> Sprite:
        """A picture of this film's size, straight alpha, ready to be laid over its pictures."""
        return make_sprite(rgba, coding=self.coding, layout=LAYOUTS[self.pixel_format])

    def opaque(self, rgba: NDArray[np.uint8]) -> VideoFrame:
        """A picture of this film's size without the recording behind it, as for cards."""
        from av.video.frame import VideoFrame

        frame = VideoFrame(self.width, self.height, self.pixel_format)
        for plane in plane_rows(frame):
            plane[...] = 0
        lay_sprites(frame, [(self.sprite(rgba), 0, 0)])
        frame.colorspace, frame.color_range = self.colour.matrix_code, self.colour.range_code
        frame.color_primaries, frame.color_trc = self.colour.primaries_code, self.colour.transfer_code
        return frame

    def _converted(self, frame: VideoFrame) -> VideoFrame:
        from_rgb = frame.format.is_rgb
        if frame.format.name == self._decoded_format and self._square_width in (None, frame.width):
            return frame
        # Unless told, the scaler takes limited range and BT.601, and would shift levels and hues.
        return frame.reformat(
            width=self._square_width,
            format=self._decoded_format,
            src_color_range=None if from_rgb else self._range_name(),
            dst_color_range="MPEG" if from_rgb else self._range_name(),
            dst_colorspace="ITU709" if from_rgb else None,
        )

    def _range_name(self) -> str:
        is_full = self.colour.range == "full" or self._recording.pixel_format.startswith("yuvj")
        return "JPEG" if is_full else "MPEG"

    def _colour_tags(self) -> ColourTags:
        from av.video.format import VideoFormat

        if VideoFormat(self._recording.pixel_format).is_rgb:
            return replace(self._recording.colour, matrix_code=_BT709, range_code=_LIMITED)
        return self._recording.colour

    def _made_panel(self, options: PanelOptions) -> GaugePanel:
        return GaugePanel(
            self.width,
            self.height,
            units=options.units,
            coding=self.coding,
            pixel_format=self.pixel_format,
            steering_lock_rad=options.steering_lock_rad,
            choice=options.choice,
            outline=options.outline,
        )
