"""The see-saw: brake to the left, throttle to the right, gear and speed above the middle, steering on an arc."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal

from syncview.gauges import palette
from syncview.gauges.figures import MISSING, Figures
from syncview.gauges.live_plate import LivePlate
from syncview.gauges.plates import plate
from syncview.gauges.sheet import Box, Sheet
from syncview.gauges.text import advance_px, digit_cell_px, em_for_cap_height
from syncview.shown_units import SPEED, Units

if TYPE_CHECKING:
    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.sheet import Point
    from syncview.gauges.values import GaugeValues
    from syncview.media.planes import PlaneLayout

_Pedal = Literal["brake", "throttle"]

# The drawing, in units of 1/1080 of the picture's height, from the plate's left top corner.
_HALF_ARC_RAD = math.radians(34)
_ARC_HALF_CHORD = 194.0
_ARC_TOP = 34.0
_TICK_HALF_LENGTH = 15.0
_TICK_STEP = 2.0
"""The tick moves in steps of this length, or of a pixel: 1 % of the lock. Finer ones are not seen, and cost the encoder
something with every frame."""
_SPEED_CAP = 74.0
_SPEED_BASELINE = 184.0
_SPEED_SHIFT = 8.0
"""To the left, which makes room for the unit and looks centred between gear and unit."""
_GEAR_CAP = 46.0
_GEAR_PADDING = 14.0
_LABEL_CAP = 27.5
_BAR_TOP, _BAR_BOTTOM = 208.0, 248.0
_BAR_INSET = 5.0
_LABEL_BASELINE = 290.0
_SIDE = 22.0
_HATCH_STEP = 16.0


class SeeSaw:
    """Paints one plate; `unit` is the number of pixels for one design unit."""

    def __init__(
        self,
        size: Box,
        unit: float,
        *,
        units: Units,
        steering_lock_rad: float,
        coding: ColourCoding,
        layout: PlaneLayout,
    ) -> None:
        self._unit = unit
        self._units: Units = units
        self._lock_rad = steering_lock_rad
        self._width, self._height = size.width, size.height
        self._middle = 2 * round(size.width / 4)
        self._arc = _Arc.spanning(self._middle, _ARC_TOP * unit, _ARC_HALF_CHORD * unit)
        digit = digit_cell_px(em_for_cap_height(_SPEED_CAP * unit, "bold"), "bold")
        self._speed = Figures(
            "speed",
            "000",
            right=self._middle + 1.5 * digit - _SPEED_SHIFT * unit,
            baseline=_SPEED_BASELINE * unit,
            cap_px=_SPEED_CAP * unit,
        )
        self._gear = Figures(
            "gear",
            "0",
            right=(_SIDE + _GEAR_PADDING) * unit + self._gear_cell_px(),
            baseline=(_SPEED_BASELINE - _GEAR_PADDING) * unit,
            cap_px=_GEAR_CAP * unit,
        )
        step_px = max(_TICK_STEP * unit, 1.0)
        self._tick_steps = round(_HALF_ARC_RAD * self._arc.radius / step_px)
        self._halves: dict[_Pedal, Box] = {"brake": self._half("brake"), "throttle": self._half("throttle")}
        self.plate = LivePlate(self._lasting_drawing(), coding=coding, layout=layout)

    def update(self, values: GaugeValues) -> None:
        """Show these values."""
        self._show_speed(values.speed_mps)
        self._show_gear(values.gear)
        self._show_steering(values.steering_rad)
        self._show_pedal("brake", values.brake)
        self._show_pedal("throttle", values.throttle)

    def slots(self) -> list[Box]:
        """Where changing parts are painted; for the steering tick, five of its places."""
        ticks = [self._tick_box(share * _HALF_ARC_RAD) for share in (-1.0, -0.5, 0.0, 0.5, 1.0)]
        return [*self._speed.boxes, *self._gear.boxes, self._half("brake"), self._half("throttle"), *ticks]

    # Lasting parts

    def _lasting_drawing(self) -> Sheet:
        unit = self._unit
        sheet = plate(self._width, self._height, unit)
        self._draw_arc(sheet)
        self._draw_gear_frame(sheet)
        self._draw_speed_label(sheet)
        for pedal in ("brake", "throttle"):
            self._framed(sheet, self._half(pedal), 6 * unit)
        self._draw_labels(sheet)
        middle, overshoot = self._middle, 9 * unit
        top, bottom = _BAR_TOP * unit - overshoot, _BAR_BOTTOM * unit + overshoot
        sheet.rounded((middle - 3 * unit, top, middle + 3 * unit, bottom), 3 * unit, palette.INK)
        return sheet

    def _draw_arc(self, sheet: Sheet) -> None:
        steps = 48
        angles = [_HALF_ARC_RAD * (2 * step / steps - 1) for step in range(steps + 1)]
        sheet.polyline([self._arc.at(angle) for angle in angles], 4 * self._unit, palette.LINE)
        for angle in (-_HALF_ARC_RAD, 0.0, _HALF_ARC_RAD):
            reach = 8 * self._unit
            ends = [self._arc.at(angle, -reach), self._arc.at(angle, reach)]
            sheet.polyline(ends, 4 * self._unit, palette.LINE)

    def _draw_gear_frame(self, sheet: Sheet) -> None:
        unit, figure = self._unit, self._gear.boxes[0]
        bottom = _SPEED_BASELINE * unit
        top = bottom - (_GEAR_CAP + 2 * _GEAR_PADDING) * unit
        box = Box.around(figure.left - _GEAR_PADDING * unit, top, figure.right + _GEAR_PADDING * unit, bottom)
        self._framed(sheet, box, 10 * unit)

    def _framed(self, sheet: Sheet, box: Box, radius: float) -> None:
        """An opaque field with a line around it, in which something is shown."""
        line = 2.5 * self._unit
        sheet.rounded((box.left, box.top, box.right, box.bottom), radius, palette.LINE)
        inner = (box.left + line, box.top + line, box.right - line, box.bottom - line)
        sheet.rounded(inner, radius - line, palette.TRACK)

    def _draw_speed_label(self, sheet: Sheet) -> None:
        label, em = SPEED[self._units].label, em_for_cap_height(_LABEL_CAP * self._unit, "regular")
        begin = self._speed.boxes[-1].right
        room = self._width - _SIDE * self._unit - begin
        left = begin + (room - advance_px(label, em, "regular"))
        self._label(sheet, label, left, _SPEED_BASELINE)

    def _draw_labels(self, sheet: Sheet) -> None:
        self._label(sheet, "BRAKE", self._half("brake").left, _LABEL_BASELINE)
        em = em_for_cap_height(_LABEL_CAP * self._unit, "regular")
        left = self._half("throttle").right - advance_px("THROTTLE", em, "regular")
        self._label(sheet, "THROTTLE", left, _LABEL_BASELINE)

    def _label(self, sheet: Sheet, text: str, left: float, baseline: float) -> None:
        em = em_for_cap_height(_LABEL_CAP * self._unit, "regular")
        sheet.text(text, left=left, baseline=baseline * self._unit, em_px=em, weight="regular", colour=palette.QUIET)

    def _gear_cell_px(self) -> int:
        return digit_cell_px(em_for_cap_height(_GEAR_CAP * self._unit, "bold"), "bold")

    # Changing parts

    def _show_speed(self, speed_mps: float | None) -> None:
        if speed_mps is None or not math.isfinite(speed_mps):
            self._speed.show_missing(self.plate)
        else:
            self._speed.show(self.plate, f"{round(SPEED[self._units].of(speed_mps))}".replace("-", "−"))

    def _show_gear(self, gear: int | None) -> None:
        text = MISSING if gear is None else {0: "N", -1: "R"}.get(gear, str(gear))
        self._gear.show(self.plate, text)

    def _show_steering(self, steering_rad: float | None) -> None:
        """The tick, its place rounded along the arc; beyond the lock an arrow head at the end."""
        if steering_rad is None or not math.isfinite(steering_rad):
            self.plate.show("steering", None, self._tick_box(0.0), None)
            return
        share = steering_rad / self._lock_rad
        if abs(share) > 1:
            angle = math.copysign(_HALF_ARC_RAD, share)
            box = self._tick_box(angle)
            self.plate.show("steering", ("beyond", share > 0), box, partial(self._paint_beyond, angle=angle))
            return
        steps = self._tick_steps
        step = round(share * steps)
        angle = _HALF_ARC_RAD * step / steps
        self.plate.show("steering", step, self._tick_box(angle), partial(self._paint_tick, angle=angle))

    def _show_pedal(self, pedal: _Pedal, share: float | None) -> None:
        half = self._halves[pedal]
        if share is None or not math.isfinite(share):
            self.plate.show(pedal, None, half, partial(self._paint_pedal_missing, box=half))
            return
        room = half.width - 2 * round(_BAR_INSET * self._unit)
        length = round(min(max(share, 0.0), 1.0) * room)  # the bar's two ends; the value itself is not changed
        inset = round(_BAR_INSET * self._unit)
        first = half.width - inset - length if pedal == "brake" else inset
        span = (first, first + length)
        self.plate.show_columns(pedal, span, half, partial(self._paint_pedal, pedal=pedal, box=half))

    def _paint_tick(self, sheet: Sheet, *, angle: float) -> None:
        reach, width = _TICK_HALF_LENGTH * self._unit, 9 * self._unit
        ends = [self._arc.at(angle, -reach + width / 2), self._arc.at(angle, reach - width / 2)]
        sheet.polyline(ends, width + 6 * self._unit, palette.PLATE)
        sheet.polyline(ends, width, palette.INK)

    def _paint_beyond(self, sheet: Sheet, *, angle: float) -> None:
        reach = _TICK_HALF_LENGTH * self._unit
        side = math.copysign(1.0, angle)
        tip = self._arc.at(angle + side * reach / self._arc.radius)
        sheet.polygon([self._arc.at(angle, -reach), tip, self._arc.at(angle, reach)], palette.INK)

    def _paint_pedal(self, sheet: Sheet, *, pedal: _Pedal, box: Box) -> None:
        inset = round(_BAR_INSET * self._unit)
        top, bottom = box.top + inset, box.bottom - inset
        colour = palette.BRAKE if pedal == "brake" else palette.THROTTLE
        sheet.rounded((box.left, top, box.right, bottom), 0, colour)
        if pedal == "throttle":
            return
        height, step = bottom - top, _HATCH_STEP * self._unit
        for number in range(-2, math.ceil((box.width + height) / step) + 1):
            x, thick = box.right - number * step, step * 0.36
            corners = [(x, bottom), (x + thick, bottom), (x + thick + height / 2, top), (x + height / 2, top)]
            sheet.polygon(corners, palette.BRAKE_HATCH)

    def _paint_pedal_missing(self, sheet: Sheet, *, box: Box) -> None:
        em = em_for_cap_height(_LABEL_CAP * self._unit, "bold")
        left = (box.left + box.right - advance_px(MISSING, em, "bold")) / 2
        baseline = (box.top + box.bottom + _LABEL_CAP * self._unit) / 2
        sheet.text(MISSING, left=left, baseline=baseline, em_px=em, weight="bold", colour=palette.INK)

    # Places

    def _half(self, pedal: _Pedal) -> Box:
        unit = self._unit
        gap = 2 * math.ceil(5 * unit / 2)  # even, so that both halves begin on a chroma sample
        top, bottom = 2 * round(_BAR_TOP * unit / 2), 2 * round(_BAR_BOTTOM * unit / 2)
        side = 2 * round(_SIDE * unit / 2)
        if pedal == "brake":
            return Box(side, top, self._middle - gap, bottom)
        return Box(self._middle + gap, top, 2 * self._middle - side, bottom)

    def _tick_box(self, angle: float) -> Box:
        reach = (_TICK_HALF_LENGTH + 4) * self._unit
        x, y = self._arc.at(angle)
        return Box.around(x - reach, y - reach, x + reach, y + reach)


@dataclass(frozen=True, slots=True)
class _Arc:
    """The steering arc, in pixels of the plate."""

    centre_x: float
    centre_y: float
    radius: float

    @classmethod
    def spanning(cls, middle_x: float, top_y: float, half_chord: float) -> _Arc:
        radius = half_chord / math.sin(_HALF_ARC_RAD)
        return cls(middle_x, top_y + radius, radius)

    def at(self, angle_rad: float, out: float = 0.0) -> Point:
        """The point at `angle_rad` from the top, positive to the left, `out` pixels outside the line."""
        reach = self.radius + out
        return self.centre_x - reach * math.sin(angle_rad), self.centre_y - reach * math.cos(angle_rad)
