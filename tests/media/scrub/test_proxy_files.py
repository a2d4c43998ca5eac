"""The files of small pictures, the folder they are kept in, and the memory."""

from __future__ import annotations

import os
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.media.scrub.picture_ring import KeptPicture, PictureRing, picture_bytes
from syncview.media.scrub.proxy_file import (
    ProxyFile,
    SmallDecoder,
    SmallEncoder,
    TornProxyError,
    identity_of,
    packed,
)
from syncview.media.scrub.proxy_shelf import ProxyShelf
from tests.media_samples import bar_code, read_bar_code

SIZE = (320, 180)
IDENTITY = identity_of("mark", SIZE)


def small(number: int) -> av.VideoFrame:
    return av.VideoFrame.from_ndarray(bar_code(number, SIZE), format="rgb24").reformat(format="yuv420p")


def coded(numbers: list[int]) -> dict[int, bytes]:
    encoder = SmallEncoder(*SIZE)
    for number in numbers:
        encoder.add(small(number))
    return dict(zip(numbers, encoder.finish(), strict=True))


def test_pictures_come_back_in_any_order(tmp_path: Path) -> None:
    path = tmp_path / "a.small"
    path.write_bytes(packed(IDENTITY, {**coded([5, 7, 8, 40]), 6: b""}))
    file, decoder = ProxyFile.open(path, IDENTITY), SmallDecoder()
    for number in (40, 5, 8, 7, 40):
        data = file.coded(number)
        assert data
        assert read_bar_code(decoder.frame(data)) == number
    assert file.coded(6) == b""
    assert file.coded(9) is file.coded(41) is file.coded(4) is None
    file.close()


def test_a_file_for_another_recording_or_size_is_not_taken(tmp_path: Path) -> None:
    path = tmp_path / "a.small"
    path.write_bytes(packed(IDENTITY, coded([1])))
    for other in (identity_of("other", SIZE), identity_of("mark", (320, 182))):
        with pytest.raises(TornProxyError):
            ProxyFile.open(path, other)


WHOLE = packed(IDENTITY, {number: bytes([number]) * (50 + number) for number in range(5)})


@given(st.integers(0, len(WHOLE) - 1), st.integers(1, 255), st.booleans())
def test_every_spoilt_byte_is_noticed(tmp_path_factory: pytest.TempPathFactory, place: int, by: int, cut: bool) -> None:
    path = tmp_path_factory.getbasetemp() / "spoilt.small"
    path.write_bytes(WHOLE[:place] if cut else WHOLE[:place] + bytes([WHOLE[place] ^ by]) + WHOLE[place + 1 :])
    with pytest.raises(TornProxyError):  # noqa: PT012
        file = ProxyFile.open(path, IDENTITY)
        try:
            for number in range(5):
                file.coded(number)
        finally:
            file.close()


def test_what_does_not_decode_is_torn() -> None:
    decoder = SmallDecoder()
    with pytest.raises(TornProxyError):
        decoder.frame(b"\x00\x00\x01nothing")
    assert read_bar_code(decoder.frame(coded([9])[9])) == 9


def aged(shelf: ProxyShelf, name: str, size: int, age_s: float) -> Path:
    assert shelf.put(name, bytes(size), protected=())
    path = shelf.path(name)
    then = path.stat().st_mtime - age_s
    os.utime(path, (then, then))
    return path


def test_the_least_recently_used_files_go_first(tmp_path: Path) -> None:
    first = ProxyShelf(tmp_path, 1000, identity_of("one", SIZE))
    second = ProxyShelf(tmp_path, 1000, identity_of("two", SIZE))
    oldest, old, new = aged(first, "a", 300, 50), aged(second, "a", 300, 40), aged(first, "b", 300, 30)
    first.touch("a")
    assert second.put("b", bytes(400), protected=())
    assert [path.exists() for path in (oldest, old, new)] == [True, False, True]
    assert first.used_bytes() == 1000
    assert first.names() == {"a", "b"}
    assert second.names() == {"b"}


def test_protected_files_stay_and_nothing_grows_over_the_budget(tmp_path: Path) -> None:
    shelf = ProxyShelf(tmp_path, 1000, IDENTITY)
    kept = aged(shelf, "a", 600, 50)
    assert not shelf.put("b", bytes(500), protected={"a", "b"})
    assert not shelf.put("c", bytes(1001), protected=())
    assert not kept.exists(), "made room in vain"
    assert shelf.put("b", bytes(1000), protected=())
    assert not list(tmp_path.rglob("*.part*"))


def test_files_of_others_are_never_touched(tmp_path: Path) -> None:
    mine = tmp_path / "holiday.mp4"
    mine.write_bytes(bytes(5000))
    (tmp_path / "folder").mkdir()
    other = tmp_path / "folder" / "notes.txt"
    other.write_bytes(bytes(5000))
    shelf = ProxyShelf(tmp_path, 100, IDENTITY)
    assert shelf.put("a", bytes(100), protected=())
    assert shelf.put("b", bytes(100), protected=())
    assert mine.exists()
    assert other.exists()
    assert shelf.names() == {"b"}


@given(st.lists(st.integers(0, 20), max_size=60), st.integers(0, 9))
def test_the_ring_keeps_the_last_used_within_its_budget(numbers: list[int], room: int) -> None:
    picture = small(0)
    ring = PictureRing(room * picture_bytes(picture))
    recent: list[int] = []
    for number in numbers:
        ring.put(number, KeptPicture(picture, is_proxy=False))
        recent = [*(n for n in recent if n != number), number][-room:] if room else []
        assert ring.used_bytes == len(recent) * picture_bytes(picture)
        assert all(ring.has(n) == (n in recent) for n in range(21))


def test_the_ring_finds_what_is_nearest() -> None:
    ring = PictureRing(1 << 24)
    for number in (3, 9, 30):
        ring.put(number, KeptPicture(small(number), is_proxy=False))
    assert ring.nearest(11, begin=0, end=40) == 9
    assert ring.nearest(28, begin=0, end=40) == 30
    assert ring.nearest(11, begin=10, end=20) is None
    kept = ring.get(9)
    assert kept is not None
    assert read_bar_code(kept.small) == 9
    ring.clear()
    assert ring.used_bytes == 0
    assert np.all([not ring.has(n) for n in (3, 9, 30)])
