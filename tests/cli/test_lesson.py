"""The lesson by the commands that a coach types: planned, changed, looked at, made into a film."""

from __future__ import annotations

import json
import subprocess
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyloudnorm
import pytest
from PIL import Image

from syncview.cli import main
from syncview.media.recording import open_recording
from syncview.media.sound import read_sound

AsJson = Callable[..., Any]


@pytest.fixture
def noted(project: Path) -> Path:
    """The sample's project with three notes."""
    for corner, text in ((1, "Brake hard, past the hundred."), (3, "Be patient here."), (9, "Throttle early.")):
        assert main(["notes", "add", str(project), text, "--corner", str(corner)]) == 0
    return project


def voice(path: Path, *, seconds: float, hz: float = 300.0, rate: int = 22_050) -> Path:
    """A tone that stands for a voice, with silence around it."""
    times = np.arange(round(seconds * rate)) / rate
    tone = 0.3 * np.sin(2 * np.pi * hz * times)
    quiet = np.zeros(rate // 2)
    samples = (np.concatenate([quiet, tone, quiet]) * 32767).astype("<i2")
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())
    return path


def test_the_plan_is_told_with_reasons(noted: Path, as_json: AsJson, capsys: pytest.CaptureFixture[str]) -> None:
    told = as_json("lesson", "plan", noted)
    assert [section["kind"] for section in told["sections"]] == ["card", "hot lap", "breakdown", "card"]
    assert all(span["why"] for section in told["sections"] for span in section["spans"])
    assert [note["key"] for note in told["notes"]] == ["n1", "n2", "n3"]
    assert main(["lesson", "plan", str(noted)]) == 0
    words = capsys.readouterr().out
    assert "1/2 speed" in words
    assert "the lesson takes" in words


def test_choices_change_the_plan(noted: Path, as_json: AsJson) -> None:
    before = as_json("lesson", "plan", noted)["length_s"]
    assert main(["lesson", "set", str(noted), "--corner-speed", "1/4", "--hot-lap", "no", "--intro", "0"]) == 0
    after = as_json("lesson", "plan", noted)
    assert [section["kind"] for section in after["sections"]] == ["breakdown", "card"]
    assert after["length_s"] < before
    slow = [span["speed"] for span in after["sections"][0]["spans"]]
    assert min(slow) == 0.25
    assert main(["lesson", "pin", str(noted), "--from", "700", "--to", "800", "--speed", "1/3"]) == 0
    pinned = as_json("lesson", "plan", noted)["sections"][0]["spans"]
    assert any(span["speed"] == pytest.approx(1 / 3) for span in pinned)
    assert main(["lesson", "pin", str(noted), "--from", "750", "--to", "760", "--free"]) == 0
    assert as_json("lesson", "plan", noted) == after
    assert main(["lesson", "hold", str(noted), "n2", "4"]) == 0
    holds = [span["lesson_s"] for span in as_json("lesson", "plan", noted)["sections"][0]["spans"] if not span["speed"]]
    assert holds == [4.0]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["set"], "nothing to change"),
        (["set", "--slowest", "fast"], "not a speed"),
        (["set", "--loudness", "loud"], "no loudness"),
        (["pin", "--from", "800", "--to", "700", "--speed", "1/2"], "no stretch"),
        (["pin", "--from", "700", "--to", "800", "--free"], "no pin touches"),
        (["hold", "n9", "3"], "no note"),
        (["hold", "n1", "long"], "no time"),
        (["draw", "n1", "arrow", "0.1,0.1"], "two places"),
        (["draw", "n1", "arrow", "0.1,0.1", "1.1,0.1"], "not in the picture"),
        (["draw", "n1", "arrow", "0.1;0.1", "0.2,0.1"], "no place"),
        (["voice", "n1", "--file", "gone.wav"], "no such file"),
        (["voice", "--file", "gone.wav"], "whose voice"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(
    noted: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = noted.read_text("utf-8")
    assert main(["lesson", words[0], str(noted), *words[1:]]) != 0
    assert said in capsys.readouterr().err
    assert noted.read_text("utf-8") == before


def test_a_preview_shows_the_drawings(noted: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plain, drawn = tmp_path / "plain.png", tmp_path / "drawn.png"
    assert main(["lesson", "hold", str(noted), "n2", "4"]) == 0
    assert main(["lesson", "preview", str(noted), str(plain), "--note", "n2"]) == 0
    assert main(["lesson", "draw", str(noted), "n2", "ellipse", "0.4,0.3", "0.6,0.5", "--label", "apex"]) == 0
    assert main(["lesson", "preview", str(noted), str(drawn), "--note", "n2"]) == 0
    before, after = (np.asarray(Image.open(path)).astype(int) for path in (plain, drawn))
    assert before.shape == after.shape == (360, 640, 3)
    assert np.abs(before - after).max(axis=2)[100:200, 240:400].max() > 60
    assert main(["lesson", "preview", str(noted), str(drawn), "--at", "9999", "--overwrite"]) != 0
    assert "no picture at 9999" in capsys.readouterr().err
    assert main(["lesson", "draw", str(noted), "n2", "--clear"]) == 0
    assert main(["lesson", "preview", str(noted), str(drawn), "--note", "n2", "--overwrite"]) == 0
    assert np.array_equal(np.asarray(Image.open(drawn)), np.asarray(Image.open(plain)))


def test_one_recording_of_all_notes_is_cut_at_its_pauses(noted: Path, tmp_path: Path, as_json: AsJson) -> None:
    parts = [voice(tmp_path / f"{n}.wav", seconds=seconds) for n, seconds in enumerate((2.5, 1.6, 1.2))]
    whole = tmp_path / "all.wav"
    frames = []
    for part in parts:
        with wave.open(str(part), "rb") as file:
            frames.append(file.readframes(file.getnframes()))
    with wave.open(str(whole), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(22_050)
        file.writeframes(b"".join(frames))
    assert main(["lesson", "voice", str(noted), "--whole", str(whole)]) == 0
    said = [note["speaking_s"] for note in as_json("lesson", "plan", noted)["notes"]]
    assert said == pytest.approx([2.5, 1.6, 1.2], abs=0.25)  # breath before and after is kept
    whole.unlink()
    assert main(["lesson", "plan", str(noted)]) == 6


@pytest.mark.slow
def test_the_film_has_everything_at_its_time(noted: Path, tmp_path: Path, as_json: AsJson) -> None:
    spoken = voice(tmp_path / "n2.wav", seconds=3.0)
    film = tmp_path / "lesson.mp4"
    assert main(["lesson", "voice", str(noted), "n2", "--file", str(spoken)]) == 0
    choices = [
        "--hot-lap",
        "no",
        "--before",
        "1",
        "--after",
        "1",
        "--intro",
        "2",
        "--closing",
        "2",
        "--captions",
        "both",
    ]
    assert main(["lesson", "set", str(noted), *choices, "--slow-pictures", "repeat"]) == 0
    plan = as_json("lesson", "plan", noted)
    assert main(["lesson", "film", str(noted), str(film), "--quality", "draft"]) == 0
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []
    made = open_recording(film)
    assert len(made.frames) == round(plan["length_s"] * 60 + 0.4999)
    assert made.audio is not None
    _check_sound(film, plan)
    _check_captions_and_chapters(film, plan)


def _check_sound(film: Path, plan: dict[str, Any]) -> None:
    made = open_recording(film)
    samples = np.concatenate(list(read_sound(made, 0, made.frames.end_s)), axis=1).T
    assert made.audio is not None
    rate = made.audio.rate_hz
    # EBU R 128: -23.0 LUFS +-0.5, measured by pyloudnorm after ITU-R BS.1770-4.
    assert pyloudnorm.Meter(rate).integrated_loudness(samples) == pytest.approx(-23.0, abs=0.5)
    second = next(note for note in plan["notes"] if note["key"] == "n2")

    def tone(begin_s: float, end_s: float) -> float:
        part = samples[round(begin_s * rate) : round(end_s * rate), 0]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size)))
        hz = np.fft.rfftfreq(part.size, 1 / rate)
        near = np.abs(hz - 300) < 6
        around = (np.abs(hz - 300) < 60) & (np.abs(hz - 300) > 15)
        return float(spectrum[near].max() / np.median(spectrum[around]))

    assert tone(second["begin_s"] + 0.2, second["begin_s"] + 2.8) > 10 * tone(
        second["begin_s"] - 3.0, second["begin_s"] - 0.2
    )


def _check_captions_and_chapters(film: Path, plan: dict[str, Any]) -> None:
    command = ["ffprobe", "-v", "error", "-show_chapters", "-show_streams", "-of", "json", str(film)]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
    assert [stream["codec_name"] for stream in told["streams"]][:3] == ["h264", "aac", "mov_text"]
    chapters = told["chapters"]
    assert chapters[0]["start_time"] == "0.000000"
    assert len(chapters) >= 3
    packets = subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(film), "-map", "0:s", "-f", "srt", "-"], check=True, capture_output=True
    ).stdout.decode()
    for note in plan["notes"]:
        minutes, rest = divmod(round(note["begin_s"] * 1000) // 1000, 60)
        assert f"00:{minutes:02d}:{rest:02d}," in packets


def test_nothing_is_written_over_a_file(noted: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    film = tmp_path / "lesson.mp4"
    film.write_bytes(b"dear")
    assert main(["lesson", "film", str(noted), str(film)]) == 7
    assert film.read_bytes() == b"dear"
    assert "exists already" in capsys.readouterr().err


def test_speech_over_an_earlier_lesson_becomes_notes_at_its_places(
    noted: Path, tmp_path: Path, as_json: AsJson, capsys: pytest.CaptureFixture[str]
) -> None:
    plan = as_json("lesson", "plan", noted)
    saved = tmp_path / "plan.json"
    saved.write_text(json.dumps(plan), "utf-8")
    third = next(note for note in plan["notes"] if note["key"] == "n3")
    begin = round(third["begin_s"] * 1000) + 1200  # a note begins up to a second before its place
    at = f"00:{begin // 60000:02d}:{begin // 1000 % 60:02d},{begin % 1000:03d}"
    srt = tmp_path / "talk.srt"
    srt.write_text(
        f"1\n00:00:01,000 --> 00:00:02,000\nOn the card.\n\n2\n{at} --> {at[:-3]}999\nNow the throttle.\n", "utf-8"
    )
    # The plan in use has changed meanwhile: only the saved one leads back to the place.
    assert main(["lesson", "set", str(noted), "--hot-lap", "no", "--corner-speed", "1/3"]) == 0
    capsys.readouterr()
    assert main(["notes", "import", str(noted), str(srt), "--over-plan", str(saved)]) == 0
    told = capsys.readouterr()
    assert "made 1 notes from 1 of 2 captions" in told.out
    assert "On the card" in told.err
    notes = {note["key"]: note for note in as_json("notes", "list", noted)}
    assert notes["n4"]["lap_distance_m"] == pytest.approx(notes["n3"]["lap_distance_m"], abs=25)
    assert main(["notes", "import", str(noted), str(srt), "--over-lesson"]) == 0
    assert "made 0 notes" in capsys.readouterr().out  # as it is planned now, that time is past the lap
    saved.write_text("{}", "utf-8")
    assert main(["notes", "import", str(noted), str(srt), "--over-plan", str(saved)]) == 8
