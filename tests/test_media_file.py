"""Media are known by fingerprint, wherever they lie."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from syncview.errors import ProjectError
from syncview.media_file import fingerprint, locate, refer_to


def test_the_fingerprint_is_sha256_of_size_head_and_tail(tmp_path: Path) -> None:
    data = bytes(range(256)) * 20_000  # 5.1 MB
    path = tmp_path / "film.mp4"
    path.write_bytes(data)
    mib = 1 << 20
    expected = hashlib.sha256(str(len(data)).encode() + data[:mib] + data[-mib:]).hexdigest()
    assert fingerprint(path) == (len(data), expected)


@pytest.mark.parametrize("size", [0, 10, (1 << 20) + 5, 1 << 21])
def test_small_files_are_read_whole_once(tmp_path: Path, size: int) -> None:
    data = bytes(i % 251 for i in range(size))
    path = tmp_path / "x"
    path.write_bytes(data)
    assert fingerprint(path)[1] == hashlib.sha256(str(size).encode() + data).hexdigest()


def test_paths_are_relative_with_forward_slashes(tmp_path: Path) -> None:
    (tmp_path / "media").mkdir()
    (tmp_path / "projects").mkdir()
    film = tmp_path / "media" / "film.mp4"
    film.write_bytes(b"film")
    assert refer_to(film, tmp_path / "projects").path == "../media/film.mp4"


def test_a_moved_file_is_found_below_the_project(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    film.write_bytes(b"the film")
    file = refer_to(film, tmp_path)
    (tmp_path / "a" / "b").mkdir(parents=True)
    film.rename(tmp_path / "a" / "b" / "other name.mp4")
    assert locate(file, tmp_path, what="recording").name == "other name.mp4"


def test_a_changed_or_lost_file_is_said_with_the_remedy(tmp_path: Path) -> None:
    film = tmp_path / "film.mp4"
    film.write_bytes(b"the film")
    file = refer_to(film, tmp_path)
    film.write_bytes(b"THE film")
    with pytest.raises(ProjectError, match=r"recording has changed.*relink PROJECT --recording PATH --changed"):
        locate(file, tmp_path, what="recording")
    film.unlink()
    with pytest.raises(ProjectError, match=r"not there any more.*relink PROJECT --recording PATH"):
        locate(file, tmp_path, what="recording")
    with pytest.raises(ProjectError, match="no such file"):
        refer_to(film, tmp_path)
