"""How every product gets its name: written beside it first, put in place whole, or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from syncview.errors import OutputError, describe_os_error

_REMEDIES = {
    errno.ENOSPC: "Free space on that disk, or write to another one.",
    errno.ENOENT: "Make the folder first, or choose another.",
    errno.ENOTDIR: "Choose a folder, not a file, to write into.",
    errno.EFBIG: "Write to a disk that takes larger files.",
    errno.ENAMETOOLONG: "Choose a shorter name.",
}


@contextlib.contextmanager
def whole_file(output: Path, *, overwrite: bool, sources: Sequence[Path] = ()) -> Iterator[Path]:
    """A hidden path beside `output` to write to; it becomes `output` when the block ends well, else it is removed.

    Raises OutputError at once when `output` exists and `overwrite` is False, is one of `sources` (always), or cannot
    be written, and at the end for whatever the operating system says meanwhile.
    """
    refuse_bad_target(output, overwrite=overwrite, sources=sources)
    part = part_beside(output)
    try:
        with os_faults_named(output):
            part.open("wb").close()  # says at once, and with a reason, that the folder cannot be written to
            yield part
            place(part, output, overwrite=overwrite)
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def part_beside(output: Path) -> Path:
    """The hidden name that a product has until it is whole; the suffix stays, for writers that go by it."""
    return output.with_name(f".{output.stem[:80]}.{os.getpid()}.part{output.suffix}")


def refuse_bad_target(output: Path, *, overwrite: bool, sources: Sequence[Path] = ()) -> None:
    """Raise OutputError when a product may not be written there."""
    if output.is_dir():
        raise OutputError("there is a folder of that name", "Choose another name.", where=output)
    if not output.exists():
        return
    if any(source.exists() and os.path.samefile(source, output) for source in sources):
        raise OutputError("this would replace its own source", "Choose another name.", where=output)
    if not overwrite:
        raise OutputError(
            "the file exists already and was kept", "Choose another name, or add --overwrite.", where=output
        )


def place(part: Path, output: Path, *, overwrite: bool) -> None:
    """Give a finished file its name, unless another program took the name meanwhile."""
    if not overwrite and output.exists():
        raise OutputError("the file appeared meanwhile and was kept", "Choose another name.", where=output)
    part.replace(output)


@contextlib.contextmanager
def os_faults_named(output: Path) -> Iterator[None]:
    """Turn the operating system's faults into one sentence about `output`."""
    try:
        yield
    except OSError as error:
        problem = f"it cannot be written ({describe_os_error(error)})"
        raise OutputError(problem, remedy_for(error.errno), where=output) from error


def remedy_for(errno_: int | None) -> str:
    """What a person can do about an operating system's fault in writing."""
    return _REMEDIES.get(errno_ or 0, "Choose a folder that may be written to.")


def write_text(output: Path, text: str, *, overwrite: bool) -> Path:
    """Write a text product as UTF-8 with line feeds; see `whole_file`."""
    with whole_file(output, overwrite=overwrite) as part:
        part.write_text(text, "utf-8", newline="\n")
    return output


def ready_folder(folder: Path) -> Path:
    """The folder, made when it is missing; raises OutputError when that cannot be."""
    with os_faults_named(folder):
        folder.mkdir(parents=True, exist_ok=True)
    return folder


_UNSAFE = str.maketrans(dict.fromkeys('<>:"/\\|?*\x00', "-"))
_RESERVED = {"con", "prn", "aux", "nul", *(f"{n}{i}" for n in ("com", "lpt") for i in range(1, 10))}


def safe_name(words: str, *, most: int = 60) -> str:
    """A file name from any words: no separators, control signs, reserved names or leading dots; never empty."""
    text = "".join(c if c.isprintable() else "-" for c in words.translate(_UNSAFE))
    text = "-".join(text.split()).strip("-. ")[:most].rstrip("-. ")
    return f"file-{text}" if text.casefold().split(".")[0] in _RESERVED else text or "unnamed"
