"""The errors that a coach may meet: each says where, what is wrong, and what to do."""

from __future__ import annotations

import os
from pathlib import Path


class SyncviewError(Exception):
    """Base of all faults that are the user's to mend; shown as one sentence, never as a traceback."""

    exit_code = 1

    def __init__(self, problem: str, remedy: str, *, where: str | Path = "") -> None:
        super().__init__(problem, remedy, str(where))
        self.problem = problem
        """What is wrong, without a full stop."""
        self.remedy = remedy
        """What the person can do about it, a sentence."""
        self.where = str(where)
        """File, place or product concerned; empty when the sentence names it already."""

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.problem, self.remedy, self.where))

    def __str__(self) -> str:
        return f"{self.where}: {self.problem}. {self.remedy}" if self.where else f"{self.problem}. {self.remedy}"


def _rebuild(kind: type[SyncviewError], problem: str, remedy: str, where: str) -> SyncviewError:
    """Restore an error that crossed a process border (pickle cannot pass keyword-only arguments)."""
    return kind(problem, remedy, where=where)


class MediaError(SyncviewError):
    """A recording cannot be read, or a film cannot be written."""

    exit_code = 3


class LogError(SyncviewError):
    """A log lacks what the work needs (a channel, time that runs forward, a lap)."""

    exit_code = 4


class ClockError(SyncviewError):
    """Picture and data cannot be put on one clock, or not with certainty."""

    exit_code = 5


class ProjectError(SyncviewError):
    """A project document cannot be read, saved, or found together with its media."""

    exit_code = 6


class OutputError(SyncviewError):
    """A product cannot be written where it was asked for."""

    exit_code = 7


class UnsureError(ClockError):
    """The clock is not certain and the work asked for needs it to be."""


class Cancelled(SyncviewError):
    """The person stopped the work; nothing half-written is left."""

    exit_code = 130

    def __init__(self, what: str = "stopped") -> None:
        super().__init__(what, "Nothing was written.")

    def __reduce__(self) -> tuple[object, ...]:
        return (Cancelled, (self.problem,))


def describe_os_error(error: OSError) -> str:
    """The operating system's own words for a failed file operation, in lower case and without a number."""
    text = error.strerror or os.strerror(error.errno or 0)
    return text[:1].lower() + text[1:]
