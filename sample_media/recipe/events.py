"""What truly happens in every corner of every lap, read from the drive without noise.

The definitions are in DEFINITIONS and go into truth.json with the events.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .circuit import HALF_WIDTH_M, Circuit, Corner, Floats, to_geodetic
from .driver import STEP_S, Drive

BRAKE_ON_PCT, THROTTLE_ON_PCT, THROTTLE_FULL_PCT, HELD_S = 2.0, 5.0, 98.0, 0.3
TURN_IN_REACH_M = 60.0
DEFINITIONS = {
    "brake_onset": "brake pedal passes 2 % on the application made for this corner",
    "peak_brake_pct": "largest brake pedal of that application",
    "turn_in": "smoothed path curvature passes a fifth of its peak in the corner, last time from 60 m "
    "before the entry up to the apex; null if it is above that all along, as in the second part of a double apex",
    "apex": "greatest smoothed path curvature towards the corner's side",
    "inside": "least distance of the car's reference point to the inside edge; inside_edge_m is that distance",
    "min_speed": "least speed in the corner",
    "throttle_pickup": "throttle passes 5 % and stays above it for 0.3 s",
    "full_throttle": "throttle reaches 98 % before the next braking; null if it does not",
    "gear_min": "lowest gear between entry and exit",
}


class Laps:
    """Finds events by index into the drive's arrays."""

    def __init__(self, track: Circuit, drive: Drive) -> None:
        self._track, self._drive = track, drive
        self._curvature = gaussian_filter1d(drive.curvature_1pm, 0.05 / STEP_S)

    def index_at(self, station_m: float) -> int:
        """First step at or after an unrolled station."""
        return int(np.searchsorted(self._drive.station_m, station_m))

    def _event(self, index: int | None, lap: int) -> dict[str, float] | None:
        if index is None:
            return None
        drive = self._drive
        lat_deg, lon_deg = to_geodetic(drive.x_m[index : index + 1], drive.y_m[index : index + 1])
        return {
            "log_s": round(float(drive.log_s[index]), 3),
            "station_m": round(float(drive.station_m[index] - (lap - 1) * self._track.length_m), 2),
            "lat": round(float(lat_deg[0]), 8),
            "lon": round(float(lon_deg[0]), 8),
            "speed_kmh": round(float(drive.speed_mps[index] * 3.6), 2),
        }

    def _brake_onset(self, corner: Corner, before: Corner, origin_m: float) -> int | None:
        """Start of the first application of more than 10 % between the corner before and this one's apex."""
        back_m = before.apex_m if before.apex_m < corner.apex_m else before.apex_m - self._track.length_m
        first, last = self.index_at(origin_m + back_m), self.index_at(origin_m + corner.apex_m)
        brake = self._drive.brake_pct[first:last]
        on = brake > BRAKE_ON_PCT
        for start in np.flatnonzero(on[1:] & ~on[:-1]) + 1:
            released = np.flatnonzero(~on[start:])
            if brake[start : start + int(released[0]) if len(released) else None].max() > 10.0:
                return first + int(start)
        return None

    def _release(self, onset: int) -> int:
        return onset + int(np.flatnonzero(self._drive.brake_pct[onset:] <= BRAKE_ON_PCT)[0])

    def _pickup(self, start: int, stop: int) -> int | None:
        held = int(HELD_S / STEP_S)
        on = (self._drive.throttle_pct[start : stop + held] > THROTTLE_ON_PCT).astype(int)
        runs = np.convolve(on, np.ones(held, dtype=int), mode="valid") == held
        found = np.flatnonzero(runs[: stop - start])
        return start + int(found[0]) if len(found) else None

    def _next_onset(self, corner: Corner, lap: int) -> int:
        corners = self._track.corners
        at = corner.number % len(corners)
        later = corners[at]
        origin_m = (lap - 1 + (at == 0)) * self._track.length_m
        onset = self._brake_onset(later, corner, origin_m)
        return onset if onset is not None else self.index_at(origin_m + later.apex_m)

    def _turning(self, lap: int, corner: Corner, span: slice) -> dict[str, Any]:
        """Where the path turns: turn-in, apex, closest to the inside."""
        side = 1.0 if corner.side == "left" else -1.0
        bend: Floats = side * self._curvature
        apex = span.start + int(np.argmax(bend[span]))
        back = self.index_at((lap - 1) * self._track.length_m + corner.entry_m - TURN_IN_REACH_M)
        below = np.flatnonzero(bend[back:apex] < 0.2 * bend[apex])
        inside: Floats = HALF_WIDTH_M - side * self._drive.offset_m[span]
        return {
            "turn_in": self._event(back + int(below[-1]) + 1 if len(below) else None, lap),
            "apex": self._event(apex, lap),
            "inside": self._event(span.start + int(np.argmin(inside)), lap),
            "inside_edge_m": round(float(inside.min()), 2),
        }

    def _pedals(self, lap: int, corner: Corner, span: slice) -> dict[str, Any]:
        """What the feet do; all null in a corner that is not braked for."""
        drive, before = self._drive, self._track.corners[corner.number - 2]
        names = ("brake_onset", "peak_brake_pct", "min_speed", "min_speed_kmh", "throttle_pickup", "full_throttle")
        onset = self._brake_onset(corner, before, (lap - 1) * self._track.length_m)
        if onset is None:
            return dict.fromkeys(names)
        release, stop = self._release(onset), self._next_onset(corner, lap)
        slowest = span.start + int(np.argmin(drive.speed_mps[span]))
        pickup, full = self._pickup(release, stop), None
        if pickup is not None:
            found = np.flatnonzero(drive.throttle_pct[pickup:stop] >= THROTTLE_FULL_PCT)
            full = pickup + int(found[0]) if len(found) else None
        peak_pct, slowest_kmh = drive.brake_pct[onset:release].max(), drive.speed_mps[slowest] * 3.6
        values = (
            self._event(onset, lap),
            round(float(peak_pct), 1),
            self._event(slowest, lap),
            round(float(slowest_kmh), 2),
            self._event(pickup, lap),
            self._event(full, lap),
        )
        return dict(zip(names, values, strict=True))

    def corner(self, lap: int, corner: Corner) -> dict[str, Any]:
        """All events and facts of one corner on one lap (laps count from 1)."""
        origin_m = (lap - 1) * self._track.length_m
        span = slice(self.index_at(origin_m + corner.entry_m - 6.0), self.index_at(origin_m + corner.exit_m + 6.0))
        gear = {"gear_min": int(self._drive.gear[span].min())}
        return {**self._pedals(lap, corner, span), **self._turning(lap, corner, span), **gear}
