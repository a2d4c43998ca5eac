"""Recordings that the scrub tests share."""

from __future__ import annotations

from pathlib import Path

import pytest

from syncview.media.recording import Recording, open_recording
from tests.media_samples import make_clip


@pytest.fixture(scope="session")
def long_groups(media_folder: Path) -> Recording:
    """Eight seconds in groups of 60 frames with three B frames between."""
    return open_recording(make_clip(media_folder / "long_groups.mp4", frame_count=240, key_step=60))
