"""The errors that every reader and writer of this package raises."""

from __future__ import annotations


class CodecError(ValueError):
    """A text or file cannot be understood, or a value cannot be written in a format.

    The sentence is built from its parts so that a command line and a window show it the same way.
    """

    def __init__(self, problem: str, remedy: str, *, name: str = "", line: int | None = None) -> None:
        super().__init__(problem, remedy, name, line)
        self.problem = problem
        """What is wrong, without a full stop."""
        self.remedy = remedy
        """What the person can do about it, a sentence."""
        self.name = name
        """File name, or empty when the text did not come from a file."""
        self.line = line
        """1-based line in the file, where one is known."""

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild, (type(self), self.problem, self.remedy, self.name, self.line))

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.name, f"line {self.line}" if self.line else "") if part)
        return f"{place}: {self.problem}. {self.remedy}" if place else f"{self.problem}. {self.remedy}"


def _rebuild(kind: type[CodecError], problem: str, remedy: str, name: str, line: int | None) -> CodecError:
    """Restore an error that crossed a process border (pickle cannot pass keyword-only arguments)."""
    return kind(problem, remedy, name=name, line=line)
