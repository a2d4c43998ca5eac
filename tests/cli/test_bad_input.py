"""A user's mistakes: one clear sentence, an exit code that means something, nothing half-written."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from syncview.cli import main
from syncview.project import SCHEMA
from tests.cli.conftest import SAMPLE


def fails(capsys: pytest.CaptureFixture[str], code: int, *words: object) -> str:
    """Run a command that must fail with this code; its one sentence."""
    capsys.readouterr()
    assert main([str(word) for word in words]) == code
    printed = capsys.readouterr().err
    last = printed.strip().splitlines()[-1]
    assert last.startswith("syncview: ")
    assert "Traceback" not in printed
    return last


def new(folder: Path, recording: Path, log: Path) -> tuple[object, ...]:
    return ("new", folder / "p", "--recording", recording, "--log", log)


def test_missing_and_unreadable_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    film, log = SAMPLE / "session.mp4", SAMPLE / "session.csv"
    assert "no such file" in fails(capsys, 3, *new(tmp_path, tmp_path / "none.mp4", log))
    assert "no such file" in fails(capsys, 4, *new(tmp_path, film, tmp_path / "none.csv"))
    words = tmp_path / "words.mp4"
    words.write_text("this is not a film")
    assert "words.mp4" in fails(capsys, 3, *new(tmp_path, words, log))
    assert not (tmp_path / "p.syncview.json").exists()


def test_logs_that_cannot_be_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    film = SAMPLE / "session.mp4"
    log = tmp_path / "log.csv"
    log.write_text("speed [km/h],gear\n1,2\n3,4\n")
    assert "“time”" in fails(capsys, 4, *new(tmp_path, film, log))
    log.write_text("time [s],speed [km/h]\n2,2\n1,4\n")
    assert "line 3: time goes back" in fails(capsys, 4, *new(tmp_path, film, log))
    log.write_text("time [s],speed [furlong/week2]\n1,2\n2,4\n")
    assert "not known" in fails(capsys, 4, *new(tmp_path, film, log))
    assert not (tmp_path / "p.syncview.json").exists()


def test_a_recording_without_picture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import av
    import numpy as np

    path = tmp_path / "sound.m4a"
    with av.open(str(path), "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 48000), np.float32), format="fltp", layout="mono")
        frame.sample_rate = 48000
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    assert "sound.m4a" in fails(capsys, 3, *new(tmp_path, path, SAMPLE / "session.csv"))


def test_existing_outputs_are_kept(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    film = tmp_path / "mine.mp4"
    film.write_text("precious")
    assert "exists" in fails(capsys, 7, "render", project, film)
    assert film.read_text() == "precious"
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "lap-2.mp4").write_text("precious")
    assert "exists" in fails(capsys, 7, "export", project, folder)
    assert [path.name for path in folder.iterdir()] == ["lap-2.mp4"], "nothing is written beside it"
    assert "exists" in fails(capsys, 6, "new", project, "--recording", SAMPLE / "session.mp4", "--log", SAMPLE / "x")


def test_the_recording_itself_is_never_overwritten(
    own_sample: Path, capsys: pytest.CaptureFixture[str], project: Path
) -> None:
    film = own_sample / "session.mp4"
    document = json.loads(project.read_text("utf-8"))
    document["recording"]["path"] = str(film)
    project.write_text(json.dumps(document), "utf-8")
    size = film.stat().st_size
    assert "source" in fails(capsys, 7, "render", project, film, "--overwrite") or film.stat().st_size == size
    assert film.stat().st_size == size


def test_folders_that_cannot_be_written(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    assert "file" in fails(capsys, 7, "export", project, in_the_way, "captions")
    assert "file" in fails(capsys, 7, "export", project, in_the_way / "below", "chapters")
    assert "lap.mp4" in fails(capsys, 7, "render", project, tmp_path / "none" / "lap.mp4", "--quality", "draft")
    assert "no such folder" in fails(capsys, 6, *new(tmp_path / "none", SAMPLE / "session.mp4", SAMPLE / "session.csv"))


def test_a_foreign_log_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What engine, wheel and car did, in reverse order: another drive as far as sound and picture can tell."""
    frame = pd.read_csv(SAMPLE / "session.csv")
    for column in ("engine speed [rpm]", "yaw rate [deg/s]", "lateral acceleration [g]", "steering angle [deg]"):
        frame[column] = frame[column].to_numpy()[::-1]
    frame.to_csv(tmp_path / "foreign.csv", index=False)
    project = tmp_path / "p.syncview.json"
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", tmp_path / "foreign.csv")]) == 0
    capsys.readouterr()
    assert main(["align", str(project)]) == 5
    printed = capsys.readouterr()
    assert "UNSURE" in printed.out
    assert "belong together" in printed.err
    assert "clock is unsure" in fails(capsys, 5, "export", project, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_another_pace_of_the_same_session_is_refused(tmp_path: Path) -> None:
    frame = pd.read_csv(SAMPLE / "session.csv")
    frame["time [s]"] = (frame["time [s]"] * 1.01).round(4)
    frame.to_csv(tmp_path / "slower.csv", index=False)
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", tmp_path / "slower.csv")]) == 0
    assert main(["align", str(tmp_path / "p.syncview.json")]) == 5


def test_a_log_that_ends_before_the_recording_begins_is_refused(tmp_path: Path) -> None:
    frame = pd.read_csv(SAMPLE / "session.csv")
    frame[frame["time [s]"] < 16].to_csv(tmp_path / "short.csv", index=False)
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", tmp_path / "short.csv")]) == 0
    assert main(["align", str(tmp_path / "p.syncview.json")]) == 5


def test_marks_settle_a_recording_without_sound(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    truth = json.loads((SAMPLE / "truth.json").read_text("utf-8"))
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", SAMPLE / "session.csv")]) == 0
    project = tmp_path / "p.syncview.json"
    marks = [round(start["media_s"] * 60) / 60 for start in truth["lap_starts"]]
    alone = ["--no-sound", "--no-picture"]
    assert main(["align", str(project), *alone, "--lap-start", f"{marks[1]:.4f}"]) == 5
    assert "say which" in capsys.readouterr().err
    assert main(["align", str(project), *alone, "--forget-marks", "--lap-start", f"2={marks[1]:.4f}"]) == 0
    assert main(["align", str(project), *alone, *(f"--lap-start={mark:.4f}" for mark in marks[::2])]) == 0
    clock = json.loads(project.read_text("utf-8"))["clock"]["clock"]
    assert clock["offset_s"] == pytest.approx(truth["clock"]["offset_s"], abs=0.016)


def test_a_contradicting_mark_is_said_and_nothing_is_averaged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", SAMPLE / "session.csv")]) == 0
    project = tmp_path / "p.syncview.json"
    assert main(["align", str(project), "--lap-start", "67.4"]) == 5
    assert "0.592 s later than the engine sound" in capsys.readouterr().err


def test_moved_media_are_found_again_or_asked_for(own_sample: Path, capsys: pytest.CaptureFixture[str]) -> None:
    project = own_sample / "p.syncview.json"
    assert main([str(word) for word in new(own_sample, own_sample / "session.mp4", own_sample / "session.csv")]) == 0
    assert json.loads(project.read_text("utf-8"))["log"]["path"] == "session.csv"
    (own_sample / "data").mkdir()
    (own_sample / "session.csv").rename(own_sample / "data" / "renamed.csv")
    assert main(["laps", str(project)]) == 0
    (own_sample / "data" / "renamed.csv").unlink()
    assert "relink" in fails(capsys, 6, "laps", project)
    assert main(["relink", str(project), "--log", str(SAMPLE / "session.csv")]) == 0
    assert main(["laps", str(project)]) == 0


def test_changed_media_are_noticed(own_sample: Path, capsys: pytest.CaptureFixture[str]) -> None:
    project, log = own_sample / "p.syncview.json", own_sample / "session.csv"
    assert main([str(word) for word in new(own_sample, own_sample / "session.mp4", log)]) == 0
    lines = log.read_text().splitlines()
    log.write_text("\n".join(lines[:-100]) + "\n")
    assert "has changed" in fails(capsys, 6, "laps", project)
    assert "another file" in fails(capsys, 6, "relink", project, "--log", log)
    assert main(["relink", str(project), "--log", str(log), "--changed"]) == 0
    assert main(["laps", str(project)]) == 0


def test_unknown_laps_corners_notes_and_products(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "Timed laps are: 1, 2, 3" in fails(capsys, 4, "corners", project, "--lap", 9)
    assert "no corner 44" in fails(capsys, 1, "corners", project, "--facts", 44)
    assert "no note “n7”" in fails(capsys, 8, "notes", "remove", project, "n7")
    assert "not a product" in fails(capsys, 1, "export", project, tmp_path / "out", "posters")
    assert "needs words" in fails(capsys, 8, "notes", "add", project, "  ", "--at", 5)
    assert "not on the lap" in fails(capsys, 1, "notes", "add", project, "x", "--at", 99999)
    assert "outside the recording" in fails(capsys, 5, "align", project, "--lap-start", "999")


def test_a_broken_project_is_named_and_left_alone(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = project.read_text("utf-8")
    for broken in ("{", "[]", '{"format": "else"}', text.replace(f'"schema": {SCHEMA}', '"schema": 99')):
        project.write_text(broken, "utf-8")
        assert "mine.syncview.json" in fails(capsys, 6, "laps", project)
        assert project.read_text("utf-8") == broken


def test_an_empty_transcript(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "talk.srt"
    path.write_text("")
    assert "talk.srt" in fails(capsys, 4, "notes", "import", project, path)
    shutil.copy(SAMPLE / "session.mp4", path)
    assert "talk.srt" in fails(capsys, 4, "notes", "import", project, path)


def test_every_command_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    for words in (
        [], ["new"], ["inspect"], ["align"], ["laps"], ["corners"], ["notes"], ["notes", "add"], ["notes", "import"],
        ["render"], ["export"], ["relink"], ["demo"], ["circuit"], ["consistency"], ["picture"],
    ):  # fmt: skip
        with pytest.raises(SystemExit) as done:
            main([*words, "--help"])
        assert done.value.code == 0
        assert "usage: syncview" in capsys.readouterr().out
