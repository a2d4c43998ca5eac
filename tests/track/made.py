"""Small logs with known contents."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.channels import ROLES, SessionLog, Signal

FloatArray = NDArray[np.float64]
_ROLES = {role.name: role for role in ROLES}


def make_log(time_s: FloatArray, *, units: dict[str, str] | None = None, **channels: FloatArray) -> SessionLog:
    """A log of the roles given by name; a unit other than the role's first is told in `units`."""
    return log_of(time_s, channels, units=units)


def log_of(time_s: FloatArray, channels: dict[str, FloatArray], *, units: dict[str, str] | None = None) -> SessionLog:
    """`make_log` for roles whose names are not known beforehand."""
    told = units or {}
    signals = {}
    for name, values in channels.items():
        unit = told.get(name, _ROLES[name].unit.split("|")[0])
        signals[name] = Signal(_ROLES[name], f"column {name}", np.asarray(values, dtype=np.float64), unit)
    return SessionLog("made.csv", np.asarray(time_s, dtype=np.float64), signals)
