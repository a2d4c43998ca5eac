"""The store on disk: like an array, gone afterwards, plain about a full disk."""

from __future__ import annotations

import errno
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from syncview.errors import OutputError
from syncview.media import sound_store as module
from syncview.media.sound_store import SoundStore, sound_store


def test_it_behaves_like_an_array(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    expected = np.zeros((2, 5000), dtype=np.float32)
    with sound_store(tmp_path, length=5000, channels=2) as store:
        for _step in range(50):
            begin, end = sorted(rng.integers(0, 5001, 2).tolist())
            block = rng.standard_normal((2, end - begin)).astype(np.float32)
            store.add(begin, block)
            expected[:, begin:end] += block
        assert np.array_equal(store.read(0, 5000), expected)
        store.write(10, np.ones((2, 5), dtype=np.float32))
        assert store.read(9, 16).tolist() == [[e[9], 1, 1, 1, 1, 1, e[15]] for e in expected.tolist()]


def test_spans_cover_the_whole(tmp_path: Path) -> None:
    with sound_store(tmp_path, length=3 * module.BLOCK_SAMPLES + 1, channels=1) as store:
        spans = list(store.spans())
        assert spans[0][0] == 0
        assert spans[-1][1] == store.length
        assert all(before[1] == after[0] for before, after in pairwise(spans))
        assert list(store.spans(5, 5)) == []


def test_nothing_is_left_behind(tmp_path: Path) -> None:
    def use_and_fail() -> None:
        with sound_store(tmp_path, length=1000, channels=2) as store:
            store.write(0, np.ones((2, 1000), dtype=np.float32))
            raise RuntimeError

    with pytest.raises(RuntimeError):
        use_and_fail()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("begin", "count", "channels"), [(-1, 5, 2), (96, 5, 2), (0, 5, 1)])
def test_blocks_that_do_not_fit_are_refused(tmp_path: Path, begin: int, count: int, channels: int) -> None:
    with sound_store(tmp_path, length=100, channels=2) as store:
        with pytest.raises(ValueError, match="do not fit"):
            store.write(begin, np.zeros((channels, count), dtype=np.float32))
        with pytest.raises(ValueError, match="samples"):
            store.read(90, 101)


def test_missing_folder_and_full_disk_are_said(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"), sound_store(tmp_path / "no", length=9, channels=1):
        pass
    with pytest.raises(OutputError, match="are free"), sound_store(tmp_path, length=10**15, channels=2):
        pass


class _FullDisk:
    """A file on a disk that fills up: the second write fails as the system's own does."""

    def __init__(self) -> None:
        self.writes = 0

    def truncate(self, _size: int) -> None: ...

    def seek(self, _place: int) -> None: ...

    def write(self, data: memoryview) -> int:
        self.writes += 1
        if self.writes > 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        return len(data) // 2


def test_a_disk_that_fills_up_meanwhile_is_said(tmp_path: Path) -> None:
    store = SoundStore(_FullDisk(), tmp_path, length=100, channels=1)  # type: ignore[arg-type]
    with pytest.raises(OutputError, match=r"no space left on device.*Free space"):
        store.write(0, np.ones((1, 100), dtype=np.float32))
