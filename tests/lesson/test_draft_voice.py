"""The draft voice: spoken by Debian's espeak-ng, kept by its words, labelled, and never a shell's business."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from syncview.errors import MediaError, OutputError
from syncview.lesson import draft_voice as module
from syncview.lesson.draft_voice import draft_voice, has_draft_voice

WORDS = "Brake at the hundred metre board, then second gear."


def test_words_become_sound_of_known_length(tmp_path: Path) -> None:
    made = draft_voice(WORDS, tmp_path)
    # Nine words at 160 a minute are 3.4 s; espeak-ng means "approximately", and pauses at the comma.
    assert 2.0 < made.piece.length_s < 5.0
    assert made.piece.length_s <= made.voice.length_s
    assert made.voice.loudness_lufs is not None
    assert made.label == "draft voice"
    assert "draft voice" in made.voice.notes[-1]
    assert made.voice.path.name.startswith("draft-voice-en-")
    fast = draft_voice(WORDS, tmp_path, words_per_minute=240)
    assert fast.piece.length_s < made.piece.length_s * 0.85


def test_the_same_words_are_made_once(tmp_path: Path) -> None:
    first = draft_voice(WORDS, tmp_path)
    stamp = first.voice.path.stat().st_mtime_ns
    again = draft_voice("  Brake at the hundred metre board,\nthen second gear. ", tmp_path)
    assert again.voice.path == first.voice.path
    assert again.voice.path.stat().st_mtime_ns == stamp
    assert draft_voice(WORDS + " Wait.", tmp_path).voice.path != first.voice.path
    assert draft_voice(WORDS, tmp_path, language="de").voice.path != first.voice.path
    assert len(list(tmp_path.iterdir())) == 3


def test_a_damaged_file_is_made_again(tmp_path: Path) -> None:
    path = draft_voice(WORDS, tmp_path).voice.path
    whole = path.read_bytes()
    path.write_bytes(b"damaged")
    draft_voice(WORDS, tmp_path)
    assert path.read_bytes() == whole


@pytest.mark.parametrize(
    "text",
    ["--help; touch x", "$(touch x) `touch x`", "Kübel, 100 ↗ “so”", "[[h@l0U]] hello", "<voice name='x'>hi</voice>"],
)
def test_any_text_is_only_spoken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.chdir(tmp_path)
    assert draft_voice(text, tmp_path / "voices").piece.length_s > 0
    assert [path.name for path in tmp_path.iterdir()] == ["voices"]


def test_a_long_text_is_spoken_to_its_end(tmp_path: Path) -> None:
    short, long = (draft_voice(" ".join([WORDS] * count), tmp_path) for count in (2, 40))
    assert float(long.piece.length_s) == pytest.approx(20 * float(short.piece.length_s), rel=0.15)


def test_faults_are_said(tmp_path: Path) -> None:
    with pytest.raises(MediaError, match=r"no voice for “xx”"):
        draft_voice(WORDS, tmp_path, language="xx")
    for language in ("../en", "-w", "", "en us"):
        with pytest.raises(MediaError, match="no language tag"):
            draft_voice(WORDS, tmp_path, language=language)
    for text in ("", "  \n", "… — !"):
        with pytest.raises(MediaError, match="nothing to say"):
            draft_voice(text, tmp_path)
    for speed in (79, 451):
        with pytest.raises(ValueError, match="words a minute"):
            draft_voice(WORDS, tmp_path, words_per_minute=speed)
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError):
        draft_voice(WORDS, tmp_path / "file")
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


def test_without_the_program_it_is_said_how_to_get_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert has_draft_voice()
    kept = draft_voice(WORDS, tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert not has_draft_voice()
    with pytest.raises(MediaError, match=r"no program here that speaks.*apt-get install espeak-ng"):
        draft_voice("Something else.", tmp_path)
    assert draft_voice(WORDS, tmp_path).voice.path == kept.voice.path


def test_a_file_cut_by_a_full_disk_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The program ends without a fault on a full disk; here one that writes half a file stands in for it."""
    half = tmp_path / "bin" / module.PROGRAM
    half.parent.mkdir()
    half.write_text('#!/bin/sh\ncat >/dev/null\nprintf "RIFF\\377\\377\\000\\000WAVE" > "$8"\n')
    half.chmod(0o755)
    monkeypatch.setenv("PATH", f"{half.parent}{os.pathsep}{os.environ['PATH']}")
    with pytest.raises(MediaError, match="wrote no whole file"):
        draft_voice(WORDS, tmp_path / "voices")
    assert list((tmp_path / "voices").iterdir()) == []
