"""The folder of small pictures on disk: a budget in bytes, the least recently used files go first."""

from __future__ import annotations

import contextlib
import os
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from syncview.media.scrub.proxy_file import SUFFIX

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

_ABANDONED_S = 3600.0
"""A half-written file of this age was left by a process that died."""
_PART = ".part"


@dataclass(frozen=True, slots=True)
class _Kept:
    path: Path
    size_bytes: int
    used_s: float


class ProxyShelf:
    """Files of small pictures of all recordings; several processes may use the folder at a time.

    Nothing but files that end in `.small` (or their parts) in folders one level down is ever removed.
    """

    def __init__(self, folder: Path, budget_bytes: int, identity: bytes) -> None:
        self.budget_bytes = budget_bytes
        self._root = folder
        self._own = folder / identity.hex()[:32]

    def path(self, name: str) -> Path:
        """Where the file of that name of this recording is, or would be."""
        return self._own / f"{name}{SUFFIX}"

    def names(self) -> set[str]:
        """The files of this recording."""
        return {path.name.removesuffix(SUFFIX) for path in self._own.glob(f"*{SUFFIX}")}

    def used_bytes(self) -> int:
        """What all recordings' files take, half-written ones too."""
        return sum(kept.size_bytes for kept in self._all())

    def put(self, name: str, content: bytes, *, protected: Collection[str]) -> bool:
        """Write a file whole; False when it does not fit beside the `protected` ones of this recording.

        Older files make room first. Raises OSError as the system says.
        """
        self._own.mkdir(parents=True, exist_ok=True)
        if not self._make_room(len(content), protected):
            return False
        part = self._own / f".{name}.{os.getpid()}{_PART}{SUFFIX}"
        try:
            part.write_bytes(content)
            part.replace(self.path(name))
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
        return True

    def remove(self, name: str) -> None:
        """Remove a file of this recording that is of no use."""
        with contextlib.suppress(OSError):
            self.path(name).unlink(missing_ok=True)

    def touch(self, name: str) -> None:
        """Count a file as used now."""
        with contextlib.suppress(OSError):
            os.utime(self.path(name))

    def _make_room(self, size_bytes: int, protected: Collection[str]) -> bool:
        kept = sorted(self._all(), key=lambda item: item.used_s)
        used = sum(item.size_bytes for item in kept)
        spared = {self.path(name) for name in protected}
        for item in kept:
            if used + size_bytes <= self.budget_bytes:
                break
            is_part = item.path.name.startswith(".")
            if item.path in spared or (is_part and time.time() - item.used_s < _ABANDONED_S):
                continue
            with contextlib.suppress(OSError):
                item.path.unlink()
                used -= item.size_bytes
            with contextlib.suppress(OSError):
                if item.path.parent != self._own:
                    item.path.parent.rmdir()
        return used + size_bytes <= self.budget_bytes

    def _all(self) -> list[_Kept]:
        found = []
        for path in (*self._root.glob(f"*/*{SUFFIX}"), *self._root.glob(f"*/.*{SUFFIX}")):
            with contextlib.suppress(OSError):
                facts = path.stat()
                found.append(_Kept(path, facts.st_size, facts.st_mtime))
        return found
