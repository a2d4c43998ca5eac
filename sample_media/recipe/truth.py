"""truth.json: everything the recipe knows about the recording and the log, exact and without noise."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from . import circuit as place
from .car import CAR
from .clock import FRAME_RATE, OFFSET_S, RATE, frame_count, to_media_s
from .driver import Drive
from .events import DEFINITIONS, Laps
from .style import LAPS


def _lap_ms(drive: Drive) -> list[int]:
    """Lap times in whole log milliseconds; each start is rounded once, so that laps add up."""
    starts = [round(1000.0 * start) for start in drive.lap_starts_s]
    return [b - a for a, b in pairwise(starts)]


def _boards(track: place.Circuit) -> list[dict[str, Any]]:
    rows = []
    for board in track.boards:
        x, y = track.place(np.array([board.station_m]), board.offset_m)
        lat_deg, lon_deg = place.to_geodetic(x, y)
        rows.append(
            {
                "corner": board.corner,
                "distance_m": board.distance_m,
                "station_m": round(board.station_m, 3),
                "side": "left" if board.offset_m > 0 else "right",
                "lat": round(float(lat_deg[0]), 8),
                "lon": round(float(lon_deg[0]), 8),
            }
        )
    return rows


def _start_line(track: place.Circuit) -> dict[str, list[float]]:
    ends = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        lat_deg, lon_deg = place.to_geodetic(*track.place(np.zeros(1), sign * place.HALF_WIDTH_M))
        ends[side] = [round(float(lat_deg[0]), 8), round(float(lon_deg[0]), 8)]
    return ends


def _corners(track: place.Circuit) -> list[dict[str, Any]]:
    return [
        {
            "number": c.number,
            "name": c.name,
            "side": c.side,
            "kind": c.kind,
            "entry_m": round(c.entry_m, 3),
            "apex_m": round(c.apex_m, 3),
            "exit_m": round(c.exit_m, 3),
        }
        for c in track.corners
    ]


def _laps(track: place.Circuit, drive: Drive) -> list[dict[str, Any]]:
    finder, times = Laps(track, drive), _lap_ms(drive)
    return [
        {
            "lap": lap,
            "time_ms": times[lap - 1],
            "start_log_s": drive.lap_starts_s[lap - 1],
            "start_media_s": to_media_s(drive.lap_starts_s[lap - 1]),
            "driven_length_m": round(
                float(np.ptp(drive.at("distance_m", np.array(drive.lap_starts_s[lap - 1 : lap + 1])))), 3
            ),
            "corners": {str(corner.number): finder.corner(lap, corner) for corner in track.corners},
        }
        for lap in range(1, LAPS + 1)
    ]


def facts(track: place.Circuit, drive: Drive) -> dict[str, Any]:
    """The whole document."""
    frames = frame_count(float(drive.log_s[-1]))
    return {
        "circuit": place.NAME,
        "car": CAR.name,
        "clock": {"rate": RATE, "offset_s": OFFSET_S, "meaning": "media_s = rate * log_s + offset_s"},
        "recording": {
            "frame_rate": FRAME_RATE,
            "frame_count": frames,
            "first_frame_media_s": 0.0,
            "duration_s": frames / FRAME_RATE,
        },
        "camera_ahead_of_reference_m": 0.0,
        "engine": {"cylinders": CAR.cylinders, "strokes": 4},
        "gear_ratios": list(CAR.gear_ratios),
        "final_ratio": CAR.final_ratio,
        "tyre_radius_m": CAR.tyre_radius_m,
        "steering_ratio": CAR.steering_ratio,
        "lap_length_m": track.length_m,
        "half_width_m": place.HALF_WIDTH_M,
        "start_line": _start_line(track),
        "lap_starts": [{"lap": n + 1, "log_s": s, "media_s": to_media_s(s)} for n, s in enumerate(drive.lap_starts_s)],
        "lap_times_ms": _lap_ms(drive),
        "corners": _corners(track),
        "boards": _boards(track),
        "definitions": DEFINITIONS,
        "laps": _laps(track, drive),
    }


def write(track: place.Circuit, drive: Drive, path: Path) -> None:
    """Write the document as UTF-8 JSON."""
    path.write_text(json.dumps(facts(track, drive), indent=1) + "\n", encoding="utf-8", newline="\n")
