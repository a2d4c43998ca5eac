"""The words of the traces in the person's language."""

from __future__ import annotations

from PyQt6.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from syncview.desk.traces.lines import AxisName, Row, RowKey, TraceSet
from syncview.desk.traces.readout import Readout
from syncview.desk.traces.scale import unit_of, words_of
from syncview.desk.traces.ticks import time_words
from syncview.shown_units import LENGTH, Units
from syncview.track.corners import Corner

_TITLES: dict[RowKey, str] = {
    "speed": QT_TRANSLATE_NOOP("traces", "speed"),
    "gear": QT_TRANSLATE_NOOP("traces", "gear"),
    "brake": QT_TRANSLATE_NOOP("traces", "brake"),
    "throttle": QT_TRANSLATE_NOOP("traces", "throttle"),
    "steering": QT_TRANSLATE_NOOP("traces", "steering"),
    "engine_speed": QT_TRANSLATE_NOOP("traces", "engine speed"),
    "gap": QT_TRANSLATE_NOOP("traces", "gap"),
}
_HINTS: dict[RowKey, str] = {
    "brake": QT_TRANSLATE_NOOP("traces", "Share of the hardest braking of the session."),
    "throttle": QT_TRANSLATE_NOOP("traces", "Share of the pedal's full travel."),
    "steering": QT_TRANSLATE_NOOP("traces", "Angle of the wheel; to the left is up."),
    "gap": QT_TRANSLATE_NOOP(
        "traces", "Time behind the reference lap at the same place: rising loses time, falling gains."
    ),
}


def tr(text: str) -> str:
    """The text in the person's language."""
    return QCoreApplication.translate("traces", text)


def title_of(key: RowKey) -> str:
    """Name of a trace."""
    return tr(_TITLES[key])


def unit_words(key: RowKey, units: Units) -> str:
    """Unit below the name."""
    label = unit_of(key, units).label
    if key == "steering":
        return tr("%s, left up") % label
    return tr("%s, + behind") % label if key == "gap" else label


def missing_words(row: Row) -> str:
    """Why a trace is not there."""
    title = title_of(row.key)
    return tr("%s: no lap to compare with") % title if row.lacks == "reference" else tr("%s: not in the log") % title


def left_out_words(rows: tuple[Row, ...]) -> str:
    """Which traces there is no room for."""
    return tr("no room here: %s") % ", ".join(title_of(row.key) for row in rows)


def hint_of(traces: TraceSet, row: Row) -> str:
    """What a trace shows and from which column it was read."""
    if row.number is None:
        return missing_words(row)
    parts = [tr(_HINTS[row.key])] if row.key in _HINTS else []
    signal = traces.session.log.signals.get(row.key)
    if signal is not None:
        parts.append(tr("From the log's column “%s”.") % signal.source)
    return f"{title_of(row.key)}. {' '.join(parts)}"


def corner_words(corner: Corner) -> str:
    """Number, name and side."""
    side = tr("left") if corner.side == "left" else tr("right")
    name = f" {corner.name}" if corner.name else ""
    flat = tr(", flat") if corner.flat else ""
    return tr("corner %s, %s") % (f"{corner.number}{name}", side) + flat


def place_words(readout: Readout, units: Units) -> str:
    """Where the playhead is: lap, place, time and corner."""
    length = LENGTH[units]
    parts = []
    if readout.lap is not None:
        parts.append(tr("lap %d") % readout.lap)
    if readout.lap_distance_m is not None:
        parts.append(f"{length.of(readout.lap_distance_m):.0f} {length.label}")
    if readout.lap_time_s is not None:
        parts.append(time_words(readout.lap_time_s, 0.01))
    if readout.corner is not None:
        name = f" {readout.corner.name}" if readout.corner.name else ""
        parts.append(tr("corner %s") % f"{readout.corner.number}{name}")
    return "   ".join(parts)


def spoken(readout: Readout, units: Units) -> str:
    """All values at the playhead as a sentence, for screen readers."""
    values = [
        f"{title_of(key)} {words_of(key, value, units)} {unit_of(key, units).label}".strip()
        for key, value in readout.own.items()
        if value is not None
    ]
    return f"{place_words(readout, units).replace('   ', ', ')}: {', '.join(values)}"


def axis_words(axis: AxisName, units: Units, *, whole_session: bool) -> str:
    """What the scale below counts."""
    if axis == "distance":
        return tr("lap distance, %s") % LENGTH[units].label
    return tr("time of the log, min:s") if whole_session else tr("lap time, min:s")
