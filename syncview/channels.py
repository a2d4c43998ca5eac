"""What each column of a log is: the roles the program asks for, and how a log's columns are matched to them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from syncview.errors import LogError

if TYPE_CHECKING:
    from pathlib import Path

    from syncview_codecs.logs import Channel, LogTable

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Role:
    """A quantity that some part of the program uses."""

    name: str
    words: str
    """How a person calls it."""
    unit: str
    """SI unit that the values are kept in."""
    patterns: tuple[str, ...]
    """Full matches (regardless of case, with `_` and `-` as blanks) of headings, best first."""
    unitless: Mapping[str, float] = field(default_factory=dict)
    """What a missing unit means, when the heading's words settle it: pattern -> factor to SI."""
    stepped: bool = False
    """The value holds until the next sample (a gear, a counter) instead of running to it."""


_RPM = 2 * np.pi / 60
_DEG = np.pi / 180

ROLES: tuple[Role, ...] = (
    Role("speed", "speed", "m/s",
         (r"speed", r"(vehicle|car|ground) ?speed", r"v", r"velocity", r"(wheel|ecu|obd|can) ?speed",
          r"(gps|gnss|position) ?speed", r"speed .*")),
    Role("engine_speed", "engine speed", "rad/s",
         (r"engine ?speed", r"rpm", r"engine ?rpm", r"n ?engine", r"revs", r"engine revolutions"),
         {r".*rpm.*": _RPM, r".*(engine|revs).*": _RPM}),
    Role("gear", "gear", "1", (r"gear", r"gear ?(number|position|pos|engaged)", r"(current|engaged) gear"),
         {r".*": 1.0}, stepped=True),
    Role("throttle", "throttle", "1",
         (r"throttle", r"throttle ?(pedal|position|pos)", r"(accelerator|accel|gas) ?(pedal)?( position)?",
          r"pedal", r"throttle .*")),
    Role("brake", "brake", "1|Pa",
         (r"brake", r"brake ?(pedal|position|pos)", r"brake ?press(ure)?", r"brake ?press(ure)? ?(front|f)",
          r"front brake ?press(ure)?", r"brake .*")),
    Role("steering", "steering", "rad",
         (r"steering", r"steer(ing)? ?(wheel)? ?(angle|position)?", r"steer", r"steering .*")),
    Role("yaw_rate", "yaw rate", "rad/s", (r"yaw ?rate", r"gyro ?z", r"yaw ?(velocity|speed)", r"r")),
    Role("lateral_acceleration", "lateral acceleration", "m/s²",
         (r"lat(eral)? ?(acc(el(eration)?)?|g)", r"(acc(el(eration)?)?|g) ?(y|lat(eral)?)", r"g ?force lat(eral)?")),
    Role("longitudinal_acceleration", "longitudinal acceleration", "m/s²",
         (r"long(itudinal)? ?(acc(el(eration)?)?|g)", r"(acc(el(eration)?)?|g) ?(x|long(itudinal)?)",
          r"g ?force long(itudinal)?")),
    Role("latitude", "latitude", "rad", (r"lat(itude)?", r"(gps|gnss|position) ?lat(itude)?"), {r".*": _DEG}),
    Role("longitude", "longitude", "rad", (r"lon|long|lng|longitude", r"(gps|gnss|position) ?(lon|long|longitude)"),
         {r".*": _DEG}),
    Role("lap", "lap counter", "1", (r"lap", r"lap ?(number|no|count|counter|index|#)", r"(current )?lap", r"n ?lap"),
         {r".*": 1.0}, stepped=True),
    Role("lap_distance", "lap distance", "m",
         (r"lap ?dist(ance)?", r"distance (in|on|this|since) ?(the )?lap( start)?", r"dist(ance)? ?lap")),
    Role("distance", "distance", "m", (r"dist(ance)?", r"odometer", r"(total|run|session) ?dist(ance)?")),
    Role("track_temperature", "track temperature", "K", (r"track ?temp(erature)?", r"(surface|road) ?temp(erature)?")),
    Role("air_temperature", "air temperature", "K",
         (r"(air|ambient|outside|outdoor) ?temp(erature)?", r"temp(erature)? ?(air|ambient|outside)")),
)  # fmt: skip
"""Every role, each with the headings by which it is known. Headings are common practice, no source."""

ROLE_NAMES = tuple(role.name for role in ROLES)
_BY_NAME = {role.name: role for role in ROLES}


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """One role's values on the log's clock."""

    role: Role
    source: str
    """Name of the log's column."""
    values: FloatArray
    """Shape (n,), NaN where the log has none."""
    unit: str
    """SI unit of the values."""


@dataclass(frozen=True, slots=True, eq=False)
class SessionLog:
    """A log whose columns are known by role."""

    name: str
    time_s: FloatArray
    """Shape (n,), the log's clock."""
    signals: Mapping[str, Signal]
    """By role name; a role that the log lacks is absent."""
    warnings: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    """Columns that no role uses."""

    def values(self, role: str) -> FloatArray | None:
        """The role's values, shape (n,), or None when the log lacks it."""
        signal = self.signals.get(role)
        return None if signal is None else signal.values

    def need(self, role: str, purpose: str) -> FloatArray:
        """The role's values; raises `LogError` naming the purpose when the log lacks it."""
        values = self.values(role)
        if values is None:
            raise LogError(
                f"there is no {_BY_NAME[role].words} channel, which is needed {purpose}",
                f"Log it, or say which column it is with --role {role}=COLUMN.",
                where=self.name,
            )
        return values

    def at(self, role: str, log_s: FloatArray) -> FloatArray | None:
        """The role's values at other moments: between samples on a line, or held for gears and counters.

        NaN before the first and after the last value, and inside gaps of more than a second; None when the log
        lacks the role.
        """
        signal = self.signals.get(role)
        if signal is None:
            return None
        return sample_at(self.time_s, signal.values, log_s, stepped=signal.role.stepped)

    @property
    def duration_s(self) -> float:
        """From first to last sample."""
        return float(self.time_s[-1] - self.time_s[0])


LONGEST_GAP_S = 1.0
"""Values are not made up across a longer hole in a channel. Common practice, no source."""


def sample_at(
    time_s: FloatArray,
    values: FloatArray,
    at_s: FloatArray,
    *,
    stepped: bool = False,
    longest_gap_s: float = LONGEST_GAP_S,
) -> FloatArray:
    """Values at other moments; NaN outside the channel and inside gaps longer than `longest_gap_s`."""
    good = np.isfinite(values)
    if not good.any():
        return np.full(np.shape(at_s), np.nan)
    t, v = time_s[good], values[good]
    after = np.searchsorted(t, at_s, side="right")
    before = np.clip(after - 1, 0, t.size - 1)
    following = np.clip(after, 0, t.size - 1)
    result = v[before] if stepped else np.interp(at_s, t, v)
    hole = t[following] - t[before] > longest_gap_s
    outside = (at_s < t[0]) | (at_s > t[-1])
    return np.where(outside | (hole & (at_s != t[before])), np.nan, result)


def open_log(path: Path, *, roles: Mapping[str, str] | None = None,
             units: Mapping[str, str] | None = None) -> SessionLog:  # fmt: skip
    """Read a log file and match its columns to roles.

    `roles` (role -> column) and `units` (column -> unit text) are the person's own word and win over what the
    heading says. Raises `LogError`, or `CodecError` for a file that cannot be understood.
    """
    from syncview_codecs.logs import read_log

    if not path.is_file():
        raise LogError(
            "there is no such file" if not path.exists() else "this is a folder, not a log",
            "Check the path of the log.",
            where=str(path),
        )
    try:
        table = read_log(path)
    except OSError as error:
        raise LogError(f"the file cannot be read ({error})", "Check its permissions.", where=str(path)) from error
    return match_roles(table, roles=roles or {}, units=units or {})


def match_roles(table: LogTable, *, roles: Mapping[str, str], units: Mapping[str, str]) -> SessionLog:
    """Match columns to roles by heading; see `open_log`."""
    _refuse_unknown(table, roles, units)
    signals: dict[str, Signal] = {}
    notes = list(table.warnings)
    taken = {column.casefold() for column in roles.values()}
    for role in ROLES:
        if role.name in roles:
            chosen = table.channel(roles[role.name])
            rivals: list[Channel] = []
        else:
            found = _candidates(role, (c for c in table.channels if c.name.casefold() not in taken))
            chosen, rivals = (found[0], found[1:]) if found else (None, [])
        if chosen is None:
            continue
        taken.add(chosen.name.casefold())
        if rivals:
            others = ", ".join(f"“{c.name}”" for c in rivals)
            notes.append(f"{role.words} is taken from “{chosen.name}”, not from {others}; "
                         f"--role {role.name}=COLUMN chooses otherwise")  # fmt: skip
        signals[role.name] = _signal(role, chosen, table.name, units, notes)
    used = {signal.source for signal in signals.values()}
    others_left = tuple(c.name for c in table.channels if c.name not in used)
    return SessionLog(table.name, table.time_s, signals, tuple(notes), others_left)


def _refuse_unknown(table: LogTable, roles: Mapping[str, str], units: Mapping[str, str]) -> None:
    for role in roles:
        if role not in _BY_NAME:
            raise LogError(f"“{role}” is not a role", f"Roles are: {', '.join(ROLE_NAMES)}.", where=table.name)
    for column in (*roles.values(), *units):
        if table.channel(column) is None:
            names = ", ".join(c.name for c in table.channels)
            raise LogError(f"there is no column “{column}”", f"Columns are: {names}.", where=table.name)


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[_\-.]+", " ", name).casefold().split())


def _candidates(role: Role, channels: Iterable[Channel]) -> list[Channel]:
    """Columns that the best matching heading pattern names and whose unit could be the role's."""
    listed = [c for c in channels if c.unit is None or c.unit in role.unit.split("|")]
    for pattern in role.patterns:
        found = [c for c in listed if re.fullmatch(pattern, _plain(c.name))]
        if found:
            return found
    return []


def _signal(role: Role, channel: Channel, log: str, units: Mapping[str, str], notes: list[str]) -> Signal:
    values, unit = channel.values, channel.unit
    told = next((text for column, text in units.items() if column.casefold() == channel.name.casefold()), None)
    if told is not None:
        values, unit = _apply_told_unit(channel, told, log)
    if unit is None:
        values, unit = _without_unit(role, channel, log, notes)
    if unit not in role.unit.split("|"):
        raise LogError(
            f"column “{channel.name}” is in {unit}, which cannot be the {role.words}",
            f"Choose another column with --role {role.name}=COLUMN, or its unit with --unit COLUMN=UNIT.",
            where=log,
        )
    return Signal(role, channel.name, values, unit)


def _apply_told_unit(channel: Channel, told: str, log: str) -> tuple[FloatArray, str]:
    from syncview_codecs.logs.units import conversion

    known = conversion(told)
    if known is None:
        raise LogError(f"“{told}” is not a unit that is known", "Write it as km/h, m/s, deg, % …", where=log)
    written = channel.values
    stated = conversion(channel.written_unit)
    if stated is not None:
        written = (written - stated.shift) / stated.scale
    return known.to_si(written), known.si_unit


def _without_unit(role: Role, channel: Channel, log: str, notes: list[str]) -> tuple[FloatArray, str]:
    """Values of a column whose unit is missing, where its words settle what it must be; else refuse."""
    if not channel.written_unit:
        for pattern, factor in role.unitless.items():
            if re.fullmatch(pattern, _plain(channel.name)):
                return channel.values * factor, role.unit
        if role.name in ("throttle", "brake") and channel.values.size:
            most = float(np.nanmax(channel.values))
            if 0.3 < most <= 1.0 or 30 < most <= 110:
                factor = 1.0 if most <= 1.0 else 0.01
                notes.append(f"“{channel.name}” states no unit; its largest value {most:g} is taken as "
                             f"{'a fraction' if factor == 1.0 else 'per cent'}")  # fmt: skip
                return channel.values * factor, "1"
    stated = (
        f"states the unit “{channel.written_unit}”, which is not known" if channel.written_unit else "states no unit"
    )
    raise LogError(
        f"column “{channel.name}” is the {role.words} but {stated}",
        f"Say it with --unit '{channel.name}=UNIT' (for example km/h, mph, deg, %).",
        where=log,
    )
