"""What went wrong with a recording that was fine when it was opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.errors import MediaError, describe_os_error

if TYPE_CHECKING:
    from syncview.media.recording import Recording


def fault_of(recording: Recording, error: Exception) -> MediaError:
    """The fault behind an error while reading; looks at the file to tell a lost one from a damaged one."""
    if isinstance(error, MediaError):
        return changed_fault(recording) or error
    lost = changed_fault(recording)
    if lost is not None:
        return lost
    words = describe_os_error(error) if isinstance(error, OSError) and error.errno else "it cannot be decoded further"
    return MediaError(
        f"the recording cannot be read any more ({words})",
        "Check the disk or card it is on, then go on where you were.",
        where=recording.path,
    )


def changed_fault(recording: Recording) -> MediaError | None:
    """A fault when the file is gone or has another size than when it was opened; else None."""
    try:
        size_bytes = recording.path.stat().st_size
    except OSError as error:
        return MediaError(
            f"the recording is not there any more ({describe_os_error(error)})",
            "Put the disk or card back, or put the file where it was; your notes are kept.",
            where=recording.path,
        )
    if size_bytes != recording.size_bytes:
        return MediaError(
            "the recording has changed while it was open",
            "Put the old file back, or open it anew.",
            where=recording.path,
        )
    return None


def damaged_frame(recording: Recording, number: int) -> MediaError:
    """The fault of a frame that does not decode although the file can be read."""
    moment_s = float(recording.frames.times_s[number])
    return changed_fault(recording) or MediaError(
        f"the frame at {moment_s:.3f} s cannot be decoded",
        "The file is damaged there; choose another moment or copy it from the camera again.",
        where=recording.path,
    )
