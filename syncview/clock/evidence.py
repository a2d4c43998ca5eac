"""What the fit asks of any kind of evidence."""

from __future__ import annotations

from typing import Protocol

from syncview.clock.candidates import Candidate, Criteria
from syncview.clock.places import FloatArray, LocalOffsets, OffsetScores


class Evidence(Protocol):
    """One kind of evidence about one recording and one log."""

    @property
    def criteria(self) -> Criteria:
        """How it is judged."""

    @property
    def candidates(self) -> tuple[Candidate, ...]:
        """Measured clocks, those that fit first."""

    @property
    def scores(self) -> OffsetScores:
        """Over all offsets."""

    @property
    def why_not(self) -> str:
        """Why there are no candidates at all; empty when there are."""

    @property
    def span_s(self) -> tuple[float, float]:
        """Log times between which the log has what this evidence needs."""

    def local(self, middles_s: FloatArray, expected_s: FloatArray, reach_s: float) -> LocalOffsets:
        """Offsets measured around log times (n,), within a reach of what is expected there (n,)."""

    def part(self, begin_log_s: float, end_log_s: float) -> Evidence:
        """The same evidence from a part of the log only, searched anew."""

    def tuned(self, begin_log_s: float, end_log_s: float) -> Evidence:
        """This evidence with what a search in a part of the log alone learns of the signal."""

    def likeness(self, log_s: FloatArray, offset_s: FloatArray) -> FloatArray:
        """How well each moment fits at an offset of its own, shape (n,); zero in the mean where it does not."""
