"""Source: FFmpeg Formats documentation, "Metadata". Exports are put in films by ffmpeg and read back by ffprobe."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.chapters import ffmetadata
from syncview_codecs.chapters.chapter import Chapter
from syncview_codecs.errors import CodecError

AWKWARD = [
    Chapter(0, 1001, "Start = 1; #2 \\ done"),
    Chapter(1001, 2337, "two\nlines; [CHAPTER]"),
    Chapter(2337, 4000, "בלום 🏁 <b>&"),
]
needs_ffmpeg = pytest.mark.skipif(
    not (shutil.which("ffmpeg") and shutil.which("ffprobe")), reason="ffmpeg and ffprobe are not installed"
)
text = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0\r"), max_size=20)
chapters = st.lists(
    st.builds(
        lambda start_ms, length_ms, title: Chapter(start_ms, start_ms + length_ms, title),
        st.integers(0, 10**9),
        st.integers(1, 10**7),
        text,
    ),
    max_size=4,
)


@needs_ffmpeg
@pytest.mark.parametrize("suffix", ["mp4", "mkv"])
def test_ffprobe_reads_the_chapters_of_a_film_to_the_millisecond(tmp_path: Path, suffix: str) -> None:
    film, marks = tmp_path / f"film.{suffix}", tmp_path / "marks.txt"
    marks.write_text(ffmetadata.write(AWKWARD, tags={"title": "a=b; #\\ c\nd"}), encoding="utf-8")
    source = ["-f", "lavfi", "-i", "color=s=16x16:r=5:d=4", "-i", str(marks)]
    options = ["-map", "0:v", "-map_metadata", "1", "-map_chapters", "1", "-c:v", "mpeg4"]
    subprocess.run(["ffmpeg", "-v", "error", *source, *options, str(film)], check=True, timeout=60)
    probe = ["ffprobe", "-v", "error", "-show_chapters", "-show_format", "-of", "json", str(film)]
    found = json.loads(subprocess.run(probe, check=True, capture_output=True, timeout=60).stdout)
    times = [(round(float(c["start_time"]) * 1000), round(float(c["end_time"]) * 1000)) for c in found["chapters"]]
    assert times == [(chapter.start_ms, chapter.end_ms) for chapter in AWKWARD]
    assert [c["tags"]["title"] for c in found["chapters"]] == [chapter.title for chapter in AWKWARD]
    assert found["format"]["tags"]["title"] == "a=b; #\\ c\nd"

    dump = ["ffmpeg", "-v", "error", "-i", str(film), "-f", "ffmetadata", "-"]
    dumped = subprocess.run(dump, check=True, capture_output=True, timeout=60).stdout.decode()
    tags, again = ffmetadata.read(dumped)
    assert again == tuple(AWKWARD)
    assert tags["title"] == "a=b; #\\ c\nd"


def test_the_documented_example_reads() -> None:
    # FFmpeg Formats documentation, "Metadata": the example file, shortened.
    example = (
        ";FFMETADATA1\ntitle=bike\\\\shed\n;this is a comment\nartist=FFmpeg troll team\n\n"
        "[CHAPTER]\nTIMEBASE=1/1000\nSTART=0\n#chapter ends at 0:01:00\nEND=60000\ntitle=chapter \\#1\n"
        "[STREAM]\ntitle=multi\\\nline\n"
    )
    tags, found = ffmetadata.read(example)
    assert tags == {"title": "bike\\shed", "artist": "FFmpeg troll team"}
    assert found == (Chapter(0, 60_000, "chapter #1"),)


def test_a_chapter_without_time_base_counts_nanoseconds() -> None:
    # FFmpeg Formats documentation: "If the timebase is missing then start/end times are assumed to be in nanoseconds."
    assert ffmetadata.read(";FFMETADATA1\n[CHAPTER]\nSTART=2000000000\nEND=3500000000\n")[1] == (
        Chapter(2000, 3500, ""),
    )


@given(chapters, st.dictionaries(text.filter(lambda key: key.strip() and key[0] != "["), text, max_size=3))
def test_what_is_written_reads_back(chapter_list: list[Chapter], tags: dict[str, str]) -> None:
    written = ffmetadata.write(chapter_list, tags=tags)
    assert written.count("TIMEBASE=1/1000\nSTART=") >= len(chapter_list)
    assert ffmetadata.read(written) == (tags, tuple(chapter_list))


@pytest.mark.parametrize(
    ("body", "line"),
    [
        ("title\n", 2),
        ("\n[CHAPTER]\nSTART=0\n", 3),
        ("[CHAPTER]\nSTART=0\nEND=x\n", 2),
        ("[CHAPTER]\nTIMEBASE=1/0\nSTART=0\nEND=1\n", 2),
        ("[CHAPTER]\nTIMEBASE=1/1000\nSTART=5\nEND=5\n", 2),
    ],
)
def test_a_fault_is_named_with_its_line(body: str, line: int) -> None:
    with pytest.raises(CodecError, match=r"marks\.txt, line") as caught:
        ffmetadata.read(f";FFMETADATA1\n{body}", name="marks.txt")
    assert caught.value.line == line


def test_other_texts_and_unusable_tag_names_are_refused() -> None:
    with pytest.raises(CodecError, match="first line"):
        ffmetadata.read("title=x\n")
    for key in ("", " ", "[CHAPTER]"):
        with pytest.raises(CodecError, match="name of a tag"):
            ffmetadata.write([], tags={key: "x"})


def test_a_chapter_ends_after_it_starts() -> None:
    for start_ms, end_ms in ((-1, 5), (5, 5), (6, 5)):
        with pytest.raises(CodecError):
            Chapter(start_ms, end_ms, "x")
