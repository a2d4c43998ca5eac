"""Debian's ffmpeg and ffprobe, the outside judges of the media tests; a missing one fails the tests."""

from __future__ import annotations

import csv
import io
import subprocess
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


def ffmpeg(*arguments: str | Path) -> bytes:
    """Run ffmpeg quietly and return its standard output."""
    command = ["ffmpeg", "-v", "error", "-y", *map(str, arguments)]
    return subprocess.run(command, check=True, capture_output=True).stdout


def ffprobe_frames(path: Path) -> list[int]:
    """Stamps of the presented frames of the first video stream, in the order they are shown."""
    command = [
        "ffprobe", "-v", "error", "-select_streams", "V:0", "-show_frames",
        "-show_entries", "frame=best_effort_timestamp", "-of", "csv=p=0", str(path),
    ]  # fmt: skip
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return [int(row[0]) for row in csv.reader(io.StringIO(text)) if row and row[0] != "N/A"]


def ffprobe_value(path: Path, entries: str) -> list[str]:
    """Values of `-show_entries` for the first video stream, one a line."""
    command = ["ffprobe", "-v", "error", "-select_streams", "V:0", "-show_entries", entries]
    command += ["-of", "default=nk=1:nw=1", str(path)]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()


def frame_digests(path: Path) -> list[tuple[int, str]]:
    """Stamp (in ticks of the stream) and MD5 of each decoded picture's samples, as coded (not turned)."""
    text = ffmpeg(
        "-noautorotate", "-copyts", "-i", path, "-map", "0:V:0", "-vsync", "passthrough",
        "-enc_time_base", "-1", "-f", "framemd5", "-",
    ).decode()  # fmt: skip
    rows = [line.split(",") for line in text.splitlines() if line and not line.startswith("#")]
    return [(int(row[2]), row[5].strip()) for row in rows]


def sound_samples(path: Path, rate_hz: int) -> NDArray[np.float32]:
    """All of the sound as ffmpeg decodes and resamples it, mono."""
    raw = ffmpeg("-i", path, "-map", "0:a:0", "-ac", "1", "-ar", str(rate_hz), "-f", "f32le", "-")
    return np.frombuffer(raw, dtype="<f4")
