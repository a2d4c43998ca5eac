"""gzip (RFC 1952) and zip (APPNOTE 6.3) around one log: unpacked into a folder of its own that is cleared again."""

from __future__ import annotations

import gzip
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import IO

from syncview_codecs.errors import CodecError
from syncview_codecs.logs.columns import shown

LARGEST_UNPACKED_BYTES = 4 * 10**9
"""What is larger unpacked is refused: an hour of 60 channels at 100 Hz as text is 0.2 * 10**9."""
_PIECE = 1 << 20
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, LookupError, NotImplementedError,
            RuntimeError)  # fmt: skip
"""What Python's own unpackers raise on damaged, locked or unusual archives."""


def sniff(opening: bytes) -> bool:
    """Whether the file begins as gzip or zip does."""
    return opening.startswith((b"\x1f\x8b", b"PK\x03\x04", b"PK\x05\x06"))


@contextmanager
def unpacked(path: Path, *, opening_bytes: int, refuse: Callable[[bytes, str], None]) -> Iterator[Path]:
    """The one log in the archive, as a file of its own while the context lasts.

    `refuse(opening, name)` sees the log's first bytes before the rest is unpacked and raises `CodecError` when it is
    no log. Raises `CodecError` for damaged or locked archives, several files in one, archives in archives, and sizes
    above `LARGEST_UNPACKED_BYTES`, whether claimed in a header or met while unpacking.
    """
    with tempfile.TemporaryDirectory(prefix="syncview-log-") as folder:
        try:
            with _member(path) as (name, stream):
                inner = f"{shown(name)} in {path.name}"
                opening = stream.read(opening_bytes)
                if sniff(opening):
                    raise CodecError("there is an archive in the archive", "Unpack the outer one.", name=inner)
                refuse(opening, inner)
                target = Path(folder) / (PurePosixPath(shown(name).replace("\\", "/")).name or "log")
                with target.open("wb") as out:
                    _copy(stream, out, opening, inner)
        except _DAMAGED as error:
            if isinstance(error, CodecError):
                raise
            raise CodecError(
                f"the archive cannot be unpacked ({shown(str(error)) or type(error).__name__})",
                "Unpack it by hand, or copy it again.",
                name=path.name,
            ) from error
        described = path.with_name(target.name + "-metadata.json")
        if described.is_file():
            shutil.copyfile(described, target.with_name(described.name))
        yield target


@contextmanager
def _member(path: Path) -> Iterator[tuple[str, IO[bytes]]]:
    """Name and content of the archive's one file."""
    with path.open("rb") as raw:
        if raw.read(2) == b"\x1f\x8b":
            raw.seek(0)
            with gzip.GzipFile(fileobj=raw) as stream:
                yield path.name.removesuffix(".gz"), stream  # type: ignore[misc]
            return
    with zipfile.ZipFile(path) as archive:
        files = [info for info in archive.infolist() if not info.is_dir() and not _beside_the_point(info.filename)]
        if len(files) != 1:
            names = ", ".join(shown(info.filename) for info in files[:5])
            raise CodecError(
                f"the archive holds {len(files)} files{f' ({names} …)' if files else ''}, not one",
                "Unpack it and open the log.",
                name=path.name,
            )
        if files[0].file_size > LARGEST_UNPACKED_BYTES:
            raise _too_large(files[0].file_size, path.name)
        if files[0].flag_bits & 1:
            raise CodecError("the archive is locked by a password", "Unpack it by hand.", name=path.name)
        with archive.open(files[0]) as stream:
            yield files[0].filename, stream


def _beside_the_point(name: str) -> bool:
    """Notes that file managers put into archives."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return not parts or parts[0] == "__MACOSX" or parts[-1].startswith(".")


def _copy(stream: IO[bytes], out: IO[bytes], opening: bytes, name: str) -> None:
    size = len(opening)
    out.write(opening)
    while piece := stream.read(_PIECE):
        size += len(piece)
        if size > LARGEST_UNPACKED_BYTES:
            raise _too_large(size, name)
        out.write(piece)


def _too_large(size: int, name: str) -> CodecError:
    return CodecError(
        f"unpacked it is more than {LARGEST_UNPACKED_BYTES / 1e9:.0f} GB"
        + (f" (its header says {size / 1e9:.1f} GB)" if size > LARGEST_UNPACKED_BYTES + _PIECE else ""),
        "Export a shorter part or fewer channels; if the archive is small, it is damaged.",
        name=name,
    )
