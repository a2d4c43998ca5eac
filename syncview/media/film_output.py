"""What all ways of writing a film file share: its names, its container, its chapters, its faults in words."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Protocol

import av

from syncview.errors import OutputError, describe_os_error
from syncview.output_file import refuse_bad_target, remedy_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from av.container import OutputContainer

SUFFIXES = (".mp4", ".m4v", ".mov", ".mkv")
"""File names that a film may have; each holds H.264, AAC, captions and chapters."""


class ChapterMark(Protocol):
    """A chapter by time in the film; `syncview_codecs.chapters.chapter.Chapter` is one."""

    @property
    def start_ms(self) -> int: ...  # noqa: D102
    @property
    def end_ms(self) -> int: ...  # noqa: D102
    @property
    def title(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class _Chapter:
    start_ms: int
    end_ms: int
    title: str


def later_chapters(chapters: Sequence[ChapterMark], lead_ms: int) -> list[ChapterMark]:
    """The chapters of a film that begins `lead_ms` earlier; the first still begins with it if it did."""
    return [_Chapter(c.start_ms + lead_ms if c.start_ms else 0, c.end_ms + lead_ms, c.title) for c in chapters]


def is_matroska(output: Path) -> bool:
    """True for a film in Matroska; the others are ISO base media files (MP4, MOV)."""
    return output.suffix.lower() == ".mkv"


def refuse_bad_film(output: Path, *, overwrite: bool, sources: Sequence[Path]) -> None:
    """Raise OutputError when a film may not be written there, or not under such a name."""
    if output.suffix.lower() not in SUFFIXES:
        raise OutputError(
            f"a film cannot be a {output.suffix or 'nameless'} file", f"Use one of {', '.join(SUFFIXES)}.", where=output
        )
    refuse_bad_target(output, overwrite=overwrite, sources=sources)


def open_film(part: Path, *, chapters: Sequence[ChapterMark] = (), title: str | None = None) -> OutputContainer:
    """A container to add streams to, with the table of contents first where the format allows."""
    # Created here first, because the muxer's own message for an unwritable folder names no reason.
    with part.open("wb"):
        pass
    # Matroska would move everything but the chapters by the sound's priming, which its own field for it takes care of.
    options = {"avoid_negative_ts": "disabled"} if is_matroska(part) else {"movflags": "+faststart"}
    named = "mp4" if part.suffix.lower() == ".m4v" else None  # FFmpeg's own choice takes fewer codings
    container = av.open(str(part), mode="w", format=named, options=options)
    if chapters:
        container.set_chapters(
            [
                {
                    "id": number,
                    "start": mark.start_ms,
                    "end": mark.end_ms,
                    "time_base": Fraction(1, 1000),
                    "metadata": {"title": mark.title},
                }
                for number, mark in enumerate(chapters, 1)
            ]
        )
    if title:
        container.metadata["title"] = title
    return container


def let_go(container: OutputContainer | None) -> None:
    """Close a container whose film is given up."""
    if container is not None:
        with contextlib.suppress(av.FFmpegError, OSError):
            container.close()


@contextlib.contextmanager
def faults_named(output: Path, *, kept: str = "") -> Iterator[None]:
    """Turn FFmpeg's and the system's faults into one sentence; `kept` says what is not lost."""
    try:
        yield
    except (OSError, av.FFmpegError) as error:
        # FFmpeg's own errors carry the system's number where there is one, but are not always OSError.
        fault = error if isinstance(error, OSError) else None
        problem = describe_os_error(fault) if fault is not None else f"the encoder refused the film ({error})"
        remedy = " ".join(filter(None, (remedy_for(getattr(error, "errno", None)), kept)))
        raise OutputError(problem, remedy, where=output) from error
