"""Products get their names whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.errors import OutputError
from syncview.output_file import ready_folder, safe_name, whole_file, write_text


def test_the_name_appears_only_when_the_file_is_whole(tmp_path: Path) -> None:
    output = tmp_path / "lap.vtt"
    with whole_file(output, overwrite=False) as part:
        part.write_text("half")
        assert not output.exists()
        assert part.suffix == ".vtt"
    assert output.read_text() == "half"
    assert [p.name for p in tmp_path.iterdir()] == ["lap.vtt"]


def test_nothing_is_left_after_a_fault(tmp_path: Path) -> None:
    def stop_half_way() -> None:
        with whole_file(tmp_path / "x.txt", overwrite=False) as part:
            part.write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        stop_half_way()
    assert not list(tmp_path.iterdir())


def test_what_exists_is_kept_unless_asked(tmp_path: Path) -> None:
    output = tmp_path / "x.txt"
    output.write_text("old")
    with pytest.raises(OutputError, match="exists already and was kept"):
        write_text(output, "new", overwrite=False)
    assert output.read_text() == "old"
    write_text(output, "new\n", overwrite=True)
    assert output.read_bytes() == b"new\n"


def test_a_file_that_appears_meanwhile_is_kept(tmp_path: Path) -> None:
    output = tmp_path / "x.txt"

    def lose_the_race() -> None:
        with whole_file(output, overwrite=False) as part:
            part.write_text("ours")
            output.write_text("theirs")

    with pytest.raises(OutputError, match="appeared meanwhile"):
        lose_the_race()
    assert output.read_text() == "theirs"


def test_a_source_is_never_replaced(tmp_path: Path) -> None:
    source = tmp_path / "film.mp4"
    source.write_text("film")
    link = tmp_path / "link.mp4"
    link.symlink_to(source)
    with pytest.raises(OutputError, match="its own source"), whole_file(link, overwrite=True, sources=(source,)):
        pass
    assert source.read_text() == "film"


def test_folders_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match=r"not a directory|file exists"):
        ready_folder(tmp_path / "file" / "below")
    with pytest.raises(OutputError, match="folder of that name"):
        write_text(tmp_path, "x", overwrite=True)
    with pytest.raises(OutputError, match=r"no such file or directory.*Make the folder first"):
        write_text(tmp_path / "none" / "x.txt", "x", overwrite=False)


@given(st.text(max_size=300))
def test_any_words_make_a_file_name(words: str) -> None:
    name = safe_name(words)
    assert name
    assert len(name.encode()) <= 255
    assert not set(name) & set('<>:"/\\|?*\0')
    assert name.strip() == name
    assert not name.startswith(".")
    assert os.path.basename(name) == name


@pytest.mark.parametrize("name", ["con", "NUL", "Com1", "lpt9.txt"])
def test_names_that_windows_reserves(name: str) -> None:
    # Microsoft, "Naming Files, Paths, and Namespaces": reserved with or without an extension. From memory.
    assert safe_name(name).casefold().split(".")[0] != name.casefold().split(".")[0]
