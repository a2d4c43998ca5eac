"""The main job on the sample, against the truth that its recipe knows."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from syncview.cli import main
from syncview.media.reading import read_frames
from syncview.media.recording import open_recording
from tests.cli.conftest import SAMPLE

Run = Callable[..., Any]


def test_the_clock_is_right_within_a_frame_from_start_to_end(
    project: Path, truth: dict[str, Any], as_json: Run
) -> None:
    found = as_json("align", project)
    assert found["sure"]
    clock, true = found["clock"], truth["clock"]
    end_log_s = (truth["recording"]["duration_s"] - true["offset_s"]) / true["rate"]
    begin_log_s = -true["offset_s"] / true["rate"]
    for name, log_s in (("start", begin_log_s), ("middle", (begin_log_s + end_log_s) / 2), ("end", end_log_s)):
        error_s = clock["rate"] * log_s + clock["offset_s"] - (true["rate"] * log_s + true["offset_s"])
        assert abs(error_s) <= 0.016, name
        assert abs(error_s) <= clock["half_width_95_s"][name], f"{name}: the stated uncertainty does not hold"


def test_lap_starts_in_the_recording_have_small_residuals(project: Path, truth: dict[str, Any], as_json: Run) -> None:
    found = as_json("align", project)["lap_starts"]
    assert [start["lap"] for start in found] == [start["lap"] for start in truth["lap_starts"]]
    for ours, true in zip(found, truth["lap_starts"], strict=True):
        assert ours["media_s"] == pytest.approx(true["media_s"], abs=0.016)
        assert abs(ours["evidence_s"]) < 0.016


def test_lap_times_are_the_truth_within_two_ms(project: Path, truth: dict[str, Any], as_json: Run) -> None:
    found = as_json("laps", project)
    times = [lap["time_ms"] for lap in found["laps"] if lap["timed"]]
    assert times == pytest.approx(truth["lap_times_ms"], abs=2)
    assert found["best"] == found["taught"] == 1 + int(np.argmin(truth["lap_times_ms"]))
    untimed = [lap["remark"] for lap in found["laps"] if not lap["timed"]]
    assert len(untimed) == 2
    assert "out-lap" in untimed[0]
    assert "in-lap" in untimed[1]


def test_all_corners_are_found_in_order_and_on_the_right_side(
    project: Path, truth: dict[str, Any], as_json: Run
) -> None:
    found = as_json("corners", project)["corners"]
    assert [c["corner"]["side"] for c in found] == [c["side"] for c in truth["corners"]]
    flat = [c["corner"]["number"] for c in found if c["corner"]["flat"]]
    assert flat == [c["number"] for c in truth["corners"] if "kink" in c["kind"]]


@pytest.mark.parametrize("lap", [1, 2, 3])
def test_brake_onset_speed_and_gears_are_the_truth(
    project: Path, truth: dict[str, Any], as_json: Run, lap: int
) -> None:
    found = as_json("corners", project, "--lap", lap)["corners"]
    true_lap = next(entry for entry in truth["laps"] if entry["lap"] == lap)["corners"]
    for corner in found:
        facts, true = corner["facts"], true_lap[str(corner["corner"]["number"])]
        if true["brake_onset"] is None:
            assert facts["brake.distance_m"]["value"] is None
            continue
        off_s = facts["brake.log_s"]["value"] - true["brake_onset"]["log_s"]
        assert abs(off_s) * true["brake_onset"]["speed_kmh"] / 3.6 < 3.0  # metres
        assert facts["brake.peak"]["value"] * 100 == pytest.approx(true["peak_brake_pct"], abs=2)
        assert facts["slowest.speed_mps"]["value"] * 3.6 == pytest.approx(true["min_speed_kmh"], abs=0.5)
        assert facts["gears.lowest"]["value"] == true["gear_min"]


def test_notes_are_written_changed_and_carried_over(project: Path, as_json: Run) -> None:
    assert main(["notes", "add", str(project), "Brake at the board", "--corner", "1"]) == 0
    assert main(["notes", "add", str(project), "Look up the hill", "--at", "800"]) == 0
    assert main(["notes", "edit", str(project), "n2", "--text", "Look far up the hill", "--at", "810"]) == 0
    first, second = as_json("notes", "list", project)
    assert (first["key"], first["corner"], first["text"]) == ("n1", "Corner 1", "Brake at the board")
    assert (second["lap_distance_m"], second["text"]) == (810.0, "Look far up the hill")
    assert main(["notes", "remove", str(project), "n1"]) == 0
    assert main(["notes", "add", str(project), "A new one", "--media", "70.0"]) == 0
    assert {note["key"] for note in as_json("notes", "list", project)} == {"n2", "n3"}, "a key is never used twice"


def test_a_transcript_becomes_notes_where_the_car_was(project: Path, as_json: Run) -> None:
    assert main(["notes", "import", str(project), str(SAMPLE / "talk.srt"), "--per-caption"]) == 0
    notes = as_json("notes", "list", project)
    assert len(notes) == 14
    # The hairpin is spoken about from its braking zone on; the truth knows when lap 2 brakes for it.
    hairpin = next(note for note in notes if "hairpin" in note["text"])
    assert hairpin["corner"] == "Corner 3"
    assert all(note["origin"] == "import" for note in notes)


def test_drafts_fill_the_corners_without_a_note_and_leave_the_others(project: Path, as_json: Run) -> None:
    assert main(["notes", "add", str(project), "Mine", "--corner", "3"]) == 0
    assert main(["notes", "draft", str(project)]) == 0
    notes = as_json("notes", "list", project)
    assert sorted(note["corner"] for note in notes) == sorted(f"Corner {n}" for n in range(1, 11))
    assert [note["text"] for note in notes if note["corner"] == "Corner 3"] == ["Mine"]
    before = {note["key"] for note in notes}
    assert main(["notes", "draft", str(project), "--lap", "1"]) == 0
    again = as_json("notes", "list", project)
    assert len(again) == len(notes)
    assert {n["key"] for n in again} & before == {"n1"}, "new drafts replace old ones"


def test_captions_and_chapters_of_two_laps_show_the_same_notes_at_their_own_times(
    project: Path, truth: dict[str, Any], tmp_path: Path
) -> None:
    import srt

    assert main(["notes", "add", str(project), "Brake now", "--corner", "3", "--lap", "2"]) == 0
    places = {}
    for lap in (1, 2):
        assert main(["export", str(project), str(tmp_path / "out"), "captions", "chapters", "--lap", str(lap)]) == 0
        (cue,) = srt.parse((tmp_path / "out" / f"lap-{lap}.srt").read_text("utf-8"))
        assert cue.content == "Brake now"
        places[lap] = cue.start.total_seconds()
    for lap in (1, 2):
        entry = next(e for e in truth["laps"] if e["lap"] == lap)
        # Both laps pass the place where lap 2 begins to brake; films begin 3 s before their lap.
        film_s = entry["corners"]["3"]["brake_onset"]["log_s"] - entry["start_log_s"] + 3.0
        assert places[lap] == pytest.approx(film_s, abs=1.5)
    listing = (tmp_path / "out" / "lap-2-chapters.txt").read_text("utf-8").splitlines()
    assert listing[0].startswith("0:00 Lap 2")
    assert len(listing) >= 3


@pytest.mark.slow
def test_the_film_holds_the_lap_its_sound_and_its_chapters(
    project: Path, truth: dict[str, Any], tmp_path: Path
) -> None:
    film = tmp_path / "lap.mp4"
    assert main(["render", str(project), str(film), "--quality", "draft"]) == 0
    probe = json.loads(
        subprocess.run(
            ["ffprobe", "-v", "error", "-show_streams", "-show_chapters", "-show_format", "-of", "json", str(film)],
            capture_output=True, check=True, text=True,
        ).stdout
    )  # fmt: skip
    kinds = [stream["codec_type"] for stream in probe["streams"]]
    assert kinds.count("video") == kinds.count("audio") == 1
    lap_s = truth["lap_times_ms"][1] / 1000
    assert float(probe["format"]["duration"]) == pytest.approx(lap_s + 6.0, abs=0.1)
    starts = [float(chapter["start_time"]) for chapter in probe["chapters"]]
    assert starts[0] == 0.0
    assert len(starts) >= 3
    assert min(np.diff(starts)) >= 9.0
    assert not list(tmp_path.glob(".*part*"))


@pytest.mark.slow
def test_the_demo_makes_every_product(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], truth: dict[str, Any]
) -> None:
    assert main(["demo", str(tmp_path / "demo"), "--quality", "draft"]) == 0
    lesson = tmp_path / "demo" / "lesson"
    names = sorted(path.name for path in lesson.iterdir())
    assert [n for n in names if n.startswith("lap-2-") and n.endswith(".mp4")] == [
        f"lap-2-{corner['number']:02d}-{corner['name'].replace(' ', '-')}.mp4" for corner in truth["corners"]
    ]
    assert (tmp_path / "demo" / "map.png").is_file()
    text = [".srt", ".vtt", ".ttml", *(f"-chapters.{suffix}" for suffix in ("txt", "ffmeta", "vtt", "json"))]
    assert {stem + suffix for stem in ("lap-2", "lesson") for suffix in (".mp4", *text)} <= set(names)
    assert {"lesson-plan.json", "lesson.otio", "lesson.edl"} <= set(names)
    printed = capsys.readouterr().out
    assert all(str(lesson / name) in printed for name in names)


@pytest.mark.slow
def test_copies_hold_the_recordings_own_pictures(project: Path, tmp_path: Path) -> None:
    assert main(["notes", "add", str(project), "Brake now", "--corner", "3"]) == 0
    assert main(["export", str(project), str(tmp_path / "raw"), "film", "clips", "--copy", "--quality", "draft"]) == 0
    clips = sorted((tmp_path / "raw").glob("lap-2-*.mp4"))
    assert len(clips) == 10
    source, film = open_recording(SAMPLE / "session.mp4"), open_recording(tmp_path / "raw" / "lap-2.mp4")
    assert film.frames.media_s(0) == 0
    # The lap's first picture, bit by bit: 3 s before the lap, which begins at 66.808 s (the sample's truth).
    begin = source.frames.index_at(66.808 - 3.0)
    wanted, made = (
        next(iter(read_frames(recording, at, at + 1)))[1].to_ndarray()
        for recording, at in ((source, source.frames.media_s(begin)), (film, Fraction(0)))
    )
    assert np.array_equal(made, wanted)
    for clip in clips:
        streams = subprocess.run(
            ["ffprobe", "-v", "error", "-show_entries", "stream=codec_name", "-of", "csv=p=0", str(clip)],
            capture_output=True, check=True, text=True,
        ).stdout.split()  # fmt: skip
        assert streams[:2] == ["h264", "aac"]
