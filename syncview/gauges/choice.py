"""Which gauges are shown."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class GaugeChoice:
    """One switch for each gauge; a gauge without values shows nothing even when it is chosen."""

    seesaw: bool = True
    """Pedals, gear, speed and steering."""
    lap_time: bool = True
    corner: bool = True
    """Number, side and name of the corner that the car is in."""
    gap: bool = True
    """Time against a reference lap."""
    marker: bool = True
    """The next board or other marker, and how far it is."""
    map: bool = True
    note: bool = True
    """What is said, written into the captions' place."""

    @classmethod
    def names(cls) -> tuple[str, ...]:
        """What can be chosen, the most important first."""
        return tuple(field.name for field in fields(cls))

    @classmethod
    def of(cls, names: Iterable[str]) -> Self:
        """Only those named; ValueError for a name that is none of `names()`."""
        wanted = set(names)
        unknown = sorted(wanted - set(cls.names()))
        if unknown:
            raise ValueError(f"there is no gauge {unknown[0]!r}; gauges are {', '.join(cls.names())}")
        return cls(**{name: name in wanted for name in cls.names()})

    def without(self, names: Iterable[str]) -> Self:
        """All of these but those named; ValueError for a name that is none of `names()`."""
        left_out = set(names)
        type(self).of(left_out)
        return type(self)(**{name: getattr(self, name) and name not in left_out for name in self.names()})


ALL_GAUGES = GaugeChoice()
