"""The hidden folder beside a film where the finished pieces of its picture wait for the rest."""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING

from syncview.errors import OutputError
from syncview.media.packet_file import PacketSurvey, survey

if TYPE_CHECKING:
    from pathlib import Path

_DONE, _UNDONE = ".pictures", ".undone"
_ABOUT, _LOCK = "made-for", "in-use"


@dataclass(frozen=True, eq=False, slots=True)
class Piece:
    """A finished stretch of the film's picture."""

    path: Path
    survey: PacketSurvey


def folder_beside(output: Path) -> Path:
    """Where the pieces of the film are kept until it is whole."""
    return output.with_name(f".{output.stem[:80]}{output.suffix}.parts")


class PartsFolder:
    """The pieces that were made for one `identity` (all that decides the picture); others' are thrown away."""

    def __init__(self, output: Path, identity: str) -> None:
        self.path = folder_beside(output)
        self._output = output
        self._identity = identity
        self._lock: IO[bytes] | None = None

    def open(self) -> list[Piece]:
        """Make or take over the folder and give its finished pieces in order, as far as they are whole.

        Raises OutputError when another render of this film is at work, OSError as the system says.
        """
        self.path.mkdir(exist_ok=True)
        self._lock = _locked(self.path / _LOCK, self._output)
        about = self.path / _ABOUT
        if not about.exists() or about.read_text("utf-8", errors="replace") != self._identity:
            self._clear()
            about.write_text(self._identity, "utf-8")
        for path in self.path.glob(f"*{_UNDONE}"):
            path.unlink()
        pieces: list[Piece] = []
        while (path := self._done(len(pieces))).exists():
            try:
                pieces.append(Piece(path, survey(path)))
            except EOFError:  # torn by a power cut before the disk had all of it
                break
        for path in self.path.glob(f"*{_DONE}"):
            if all(path != piece.path for piece in pieces):
                path.unlink()
        return pieces

    def undone(self, number: int) -> Path:
        """Where to write piece `number` (from 0)."""
        return self.path / f"{number:06d}{_UNDONE}"

    def finish(self, number: int) -> Piece:
        """Count the piece among the finished ones; it must be on the disk already."""
        path = self.undone(number).replace(self._done(number))
        _sync_folder(self.path)
        return Piece(path, survey(path))

    def close(self, *, remove: bool) -> None:
        """Let go of the folder, and of all in it when `remove`."""
        if remove:
            with contextlib.suppress(OSError):
                self._clear()
                (self.path / _ABOUT).unlink(missing_ok=True)
        if self._lock is not None:
            self._lock.close()
            self._lock = None
        if remove:
            with contextlib.suppress(OSError):
                (self.path / _LOCK).unlink(missing_ok=True)
                self.path.rmdir()

    def _done(self, number: int) -> Path:
        return self.path / f"{number:06d}{_DONE}"

    def _clear(self) -> None:
        for path in (*self.path.glob(f"*{_DONE}"), *self.path.glob(f"*{_UNDONE}")):
            path.unlink()


def _locked(path: Path, output: Path) -> IO[bytes]:
    """An open file that no other process can lock meanwhile; the system frees it when this one dies."""
    file = path.open("wb")
    try:
        import fcntl
    except ImportError:  # Windows: two renders of one film at a time are not told apart there
        return file
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        file.close()
        raise OutputError(
            "another render of this film is at work", "Wait for it, or choose another name.", where=output
        ) from error
    except OSError:
        return file  # a file system without locks
    return file


def _sync_folder(folder: Path) -> None:
    """Make a rename last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
