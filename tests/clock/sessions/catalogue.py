"""The sessions that the figures of the clock are measured on: matched ones of every kind, and mismatched pairs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.clock.sessions.spec import Pair, SessionSpec

NTSC_30, NTSC_60 = Fraction(30_000, 1001), Fraction(60_000, 1001)
"""SMPTE 170M rates."""
_RATES = (Fraction(60), NTSC_60, NTSC_30, Fraction(25), Fraction(30))
_LOG_HZ = (50.0, 20.0, 100.0, 10.0)
_DRIFT_PPM = (0.0, 120.0, -300.0, 40.0, 300.0, -80.0)

Named = tuple[str, SessionSpec]
"""The kind, which several sessions share, and the session."""


def base(seed: int) -> SessionSpec:
    """An ordinary session; rates, drift, cylinders, circuit and so on go round with the seed."""
    return SessionSpec(
        seed=seed, circuit=seed % 11, laps=2 + seed * 5 % 4, log_hz=_LOG_HZ[seed % 4], fps=_RATES[seed % 5],
        drift_ppm=_DRIFT_PPM[seed % 6], cylinders=2 + seed * 3 % 7, style=seed % 3,
        log_zero_s=(0.0, 312.4)[seed % 2], container="mkv" if seed % 7 == 3 else "mp4",
        container_start_s=(0.0, 0.0, 1.4)[seed % 3], begins_s=(-4.0, -11.0, 5.0)[seed % 3],
        ends_s=(4.0, -9.0, 12.0)[seed // 2 % 3], cockpit=seed % 4 == 1, traffic=seed % 5 == 2,
        key_s=(1.0, 0.5, 4.0)[seed % 3],
    )  # fmt: skip


def matched() -> list[Named]:
    """Sessions whose log belongs to the recording."""
    return [*_with_sound(), *_without_sound()]


def _some(kind: str, seeds: range, **changes: object) -> list[Named]:
    return [(kind, replace(base(seed), **changes)) for seed in seeds]  # type: ignore[arg-type]


def _with_sound() -> list[Named]:
    return [
        *_some("ordinary", range(8)),
        *_some("variable rate", range(10, 13), variable_rate=True),
        *_some("drift 500 ppm", range(14, 15), drift_ppm=500.0),
        *_some("eight laps", range(16, 17), laps=8, length_m=1000.0),
        *_some("inside the log", range(18, 21), begins_s=25.0, ends_s=-30.0, laps=4),
        *_some("log inside", range(22, 24), begins_s=-25.0, ends_s=25.0, log_begins_s=15.0),
        *_some("near-equal laps", range(26, 29), variation=0.006, lap_spread_s=0.05, laps=5, length_m=1100.0),
        *_some("night", range(30, 32), night=True),
        *_some("knocked", range(34, 36), knocked=True),
        *_some("speech", range(38, 41), speech=1.6),
        *_some("music", range(42, 44), music=1.5),
        *_some("wind", range(46, 48), wind=3.0, hiss=0.8),
        *_some("whine", range(50, 52), whine_order=5.37),
        *_some("axle whine", range(52, 54), axle_whine_per_m=14.3),
        *_some("paused", range(54, 57), pause=(0.55, 14.3), laps=4, begins_s=-4.0, ends_s=4.0),
        *_some("paused early", range(58, 59), pause=(0.25, 41.0), laps=4),
        *_some("hole in picture", range(60, 61), hole="picture"),
        *_some("hole in both", range(62, 63), hole="picture and sound"),
        *_some("log 10 Hz", range(66, 68), log_hz=10.0),
        *_some("log 100 Hz", range(70, 71), log_hz=100.0),
    ]


def _without_sound() -> list[Named]:
    return [
        *_some("no sound", range(100, 110), sound="none"),
        *_some("silent", range(112, 114), sound="silent"),
        *_some("no engine speed", range(116, 119), without=("engine_speed",)),
        *_some("no sound, variable rate", range(120, 121), sound="none", variable_rate=True),
        *_some("no sound, no yaw rate", range(122, 124), sound="none", without=("yaw_rate",)),
        *_some("no sound, no position", range(126, 128), sound="none", without=("latitude", "longitude")),
        *_some("no sound, night", range(130, 132), sound="none", night=True),
        *_some("no sound, knocked", range(134, 136), sound="none", knocked=True),
        *_some("no sound, near-equal laps", range(138, 140), sound="none", variation=0.006, lap_spread_s=0.05, laps=5,
               length_m=1100.0),
        *_some("no sound, paused", range(142, 144), sound="none", pause=(0.5, 11.7), laps=4),
        *_some("no sound, inside the log", range(146, 148), sound="none", begins_s=25.0, ends_s=-30.0, laps=4),
    ]  # fmt: skip


def mismatched() -> list[Named]:
    """Logs that do not belong to the recording."""
    pairs: tuple[tuple[Pair, range], ...] = (
        ("other session", range(200, 206)), ("other driver", range(208, 211)), ("other circuit", range(212, 215)),
        ("stretched", range(216, 220)), ("elsewhere", range(222, 226)),
    )  # fmt: skip
    heard = [(f"mismatch: {pair}", replace(base(s), pair=pair, laps=4)) for pair, seeds in pairs for s in seeds]
    equal = _some("mismatch: other session, near-equal laps", range(230, 232), pair="other session", laps=4,
                  variation=0.006, lap_spread_s=0.05)  # fmt: skip
    mute = [(f"mismatch, no sound: {pair}", replace(base(seeds[0] + 40), pair=pair, laps=4, sound="none"))
            for pair, seeds in pairs]  # fmt: skip
    more = _some("mismatch, no sound: other session", range(260, 262), pair="other session", laps=4, sound="none")
    return [*heard, *equal, *mute, *more]


QUICK = ("ordinary", "near-equal laps", "speech", "paused", "no sound", "no engine speed", "no sound, night",
         "mismatch: other session", "mismatch: stretched", "mismatch: elsewhere", "mismatch, no sound: other session",
         "mismatch, no sound: other circuit")  # fmt: skip
"""Kinds of which a quick run takes the first session."""
