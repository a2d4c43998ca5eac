"""Recordings that the media tests share, made once a session."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.fetch_real_clips import FOLDER
from tests.media.ffmpeg_tools import ffmpeg
from tests.media_samples import SoundTrack, make_clip


@pytest.fixture(scope="session")
def media_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("media")


@pytest.fixture(scope="session")
def steady(media_folder: Path) -> Path:
    """MP4, 30 frames a second, B frames, a beep at 1 s."""
    return make_clip(media_folder / "steady.mp4", sound=SoundTrack(beeps_s=(1.0,)))


@pytest.fixture(scope="session")
def variable(media_folder: Path) -> Path:
    """MP4 whose frame steps vary as a phone's do, with a pause of half a second."""
    steps = np.random.default_rng(7).integers(800, 1400, 79)
    steps[40] = 15000
    pts = [0, *np.cumsum(steps).tolist()]
    return make_clip(media_folder / "variable.mp4", pts=pts, time_base=Fraction(1, 30000))


@pytest.fixture(scope="session")
def cut_by_edit_list(media_folder: Path, steady: Path) -> Path:
    """MP4 cut without re-encoding: its first frames are hidden by an edit list."""
    path = media_folder / "edit.mp4"
    ffmpeg("-ss", "0.55", "-i", steady, "-c", "copy", path)
    return path


@pytest.fixture(scope="session")
def transport_stream(media_folder: Path, steady: Path) -> Path:
    """MPEG-TS, whose stamps start at 1.4 s and more."""
    path = media_folder / "stream.ts"
    ffmpeg("-i", steady, "-c", "copy", path)
    return path


@pytest.fixture(scope="session")
def late_matroska(media_folder: Path, steady: Path) -> Path:
    """MKV with 1 ms ticks that starts at 5.5 s."""
    path = media_folder / "late.mkv"
    ffmpeg("-i", steady, "-c", "copy", "-output_ts_offset", "5.5", path)
    return path


@pytest.fixture(scope="session")
def repeated(media_folder: Path) -> Path:
    """MKV with two frames of the same stamp."""
    path = media_folder / "repeated.mkv"
    pts = [0, 33, 67, 100, 133, 167, 200, 233]
    source = make_clip(media_folder / "distinct.mkv", pts=pts, time_base=Fraction(1, 1000), b_frames=0)
    import av

    with av.open(str(source)) as read, av.open(str(path), "w") as written:
        stream = written.add_stream_from_template(read.streams.video[0])
        for packet in read.demux(read.streams.video[0]):
            if packet.size == 0:
                continue
            packet.stream = stream
            if packet.pts == 133:
                packet.pts = packet.dts = 100
            written.mux(packet)
    return path


@pytest.fixture(scope="session")
def real_clips() -> Path:
    """Folder of bigbuckbunny.mp4 and bikes.mp4."""
    if not FOLDER.is_dir():
        pytest.fail("the real clips are not there; run once: python tests/fetch_real_clips.py")
    return FOLDER
