"""A reference to a file that a project uses but never owns: where it is, and how to know it again."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from syncview.errors import ProjectError, describe_os_error

_SAMPLED_BYTES = 1 << 20
_SEARCH_DEPTH = 3
_MOST_FOLDERS = 2000


@dataclass(frozen=True, slots=True)
class MediaFile:
    """One file by relative path and fingerprint."""

    path: str
    """Relative to the project's folder where that is possible, with forward slashes."""
    size_bytes: int
    fingerprint: str
    """SHA-256 of the size and of the first and last MiB: enough to tell recordings apart without reading hours."""


def fingerprint(path: Path) -> tuple[int, str]:
    """Size and fingerprint of a file."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        size = os.fstat(stream.fileno()).st_size
        digest.update(str(size).encode())
        digest.update(stream.read(_SAMPLED_BYTES))
        if size > _SAMPLED_BYTES:
            stream.seek(max(_SAMPLED_BYTES, size - _SAMPLED_BYTES))
            digest.update(stream.read(_SAMPLED_BYTES))
    return size, digest.hexdigest()


def refer_to(path: Path, folder: Path) -> MediaFile:
    """A reference to `path` from a project in `folder`; raises `ProjectError` when it cannot be read."""
    try:
        size, mark = fingerprint(path)
    except OSError as error:
        raise ProjectError(
            f"the file cannot be read ({describe_os_error(error)})", "Check the path.", where=path
        ) from error
    try:
        written = Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive on Windows
        written = path.resolve().as_posix()
    return MediaFile(written, size, mark)


def locate(file: MediaFile, folder: Path, *, what: str) -> Path:
    """The file on disk: where it was, or moved to somewhere below the project's folder (known by fingerprint).

    Raises `ProjectError` when it is gone, or when another file stands in its place.
    """
    expected = folder / file.path
    if expected.is_file():
        if fingerprint(expected) == (file.size_bytes, file.fingerprint):
            return expected
        moved = _search(file, folder)
        if moved is not None:
            return moved
        raise ProjectError(
            f"the {what} has changed since the project was made",
            f"Put the old file back, or accept the new one with: syncview relink PROJECT --{what} PATH --changed.",
            where=expected,
        )
    moved = _search(file, folder)
    if moved is None:
        raise ProjectError(
            f"the {what} is not there any more",
            f"Say where it is now: syncview relink PROJECT --{what} PATH.",
            where=expected,
        )
    return moved


def _search(file: MediaFile, folder: Path) -> Path | None:
    """A file of the same fingerprint below the folder; the size is compared first, so few files are read."""
    seen = 0
    for root, folders, names in os.walk(folder):
        seen += 1
        depth = len(Path(root).relative_to(folder).parts)
        if depth >= _SEARCH_DEPTH or seen > _MOST_FOLDERS:
            folders.clear()
        folders[:] = [name for name in folders if not name.startswith(".")]
        for name in names:
            path = Path(root) / name
            try:
                same = path.stat().st_size == file.size_bytes and fingerprint(path)[1] == file.fingerprint
            except OSError:
                continue
            if same:
                return path
    return None
