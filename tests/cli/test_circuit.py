"""`syncview circuit`: made, edited and used as a coach would type it, on the sample."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from syncview.cli import main
from syncview.track.circuit_file import read_circuit
from tests.cli.conftest import SAMPLE
from tests.cli.test_bad_input import fails, new

Run = Callable[..., Any]


@pytest.fixture
def made(project: Path, tmp_path: Path) -> Path:
    """A circuit file of the sample's laps."""
    file = tmp_path / "holm.toml"
    assert main(["circuit", "make", str(project), str(file), "--name", "Ostrel Holm"]) == 0
    return file


def circuit(*words: object) -> int:
    return main(["circuit", *map(str, words)])


def test_make_use_leave(
    project: Path, made: Path, truth: dict[str, Any], as_json: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    listed = as_json("circuit", "list", made)
    assert listed["name"] == "Ostrel Holm"
    assert [c["side"] for c in listed["corners"]] == [c["side"] for c in truth["corners"]]
    assert circuit("rename", made, 3, "Anchor") == 0
    used = as_json("circuit", "use", project, made)
    assert abs(used["shift_m"]) < 1.0
    assert not used["laps_begin_elsewhere_now"]
    names = [c["corner"]["name"] for c in as_json("corners", project)["corners"]]
    assert names[2] == "Anchor"
    document = json.loads(project.read_text("utf-8"))
    assert document["circuit"]["path"] == "holm.toml"
    assert circuit("rename", made, 1, "Lantern") == 0, "an edited file is read anew, with another fingerprint"
    assert as_json("corners", project)["corners"][0]["corner"]["name"] == "Lantern"
    assert circuit("leave", project) == 0
    assert as_json("corners", project)["corners"][2]["corner"]["name"] == ""
    assert "uses no circuit file" in fails(capsys, 1, "circuit", "leave", project)


def test_markers_by_place_corner_position_and_recording(
    project: Path, made: Path, truth: dict[str, Any], as_json: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    """Boards of the recipe, by their position; where the car passes them in the recording is another witness."""
    board = next(b for b in truth["boards"] if b["corner"] == 1 and b["distance_m"] == 100)
    where = f"--position={board['lat']},{board['lon']}"
    assert circuit("add-marker", made, "--key", "b1", "--kind", "board", where, "--words", "100 board") == 0
    assert circuit("add-marker", made, "--key", "b2", "--kind", "board", "--before-corner", 3, "--metres", 100) == 0
    assert circuit("add-marker", made, "--key", "oak", "--kind", "tree", "--at", 12.5, "--side", "left") == 0
    onset = truth["laps"][1]["corners"]["1"]["brake_onset"]
    passed_s = truth["clock"]["rate"] * onset["log_s"] + truth["clock"]["offset_s"]
    assert circuit("add-marker", made, "--key", "rec", "--kind", "board", "--media", passed_s,
                   "--project", project) == 0  # fmt: skip
    markers = {m["key"]: m for m in as_json("circuit", "list", made)["markers"]}
    assert [m.key for m in read_circuit(made).markers] == sorted(markers, key=lambda k: markers[k]["at_m"])
    assert markers["b1"]["at_m"] == pytest.approx(board["station_m"], abs=1.0), "the straight runs along the line"
    entry_m = read_circuit(made).corners[2].entry_m
    assert markers["b2"] == {"key": "b2", "kind": "board", "at_m": pytest.approx(entry_m - 100), "side": None,
                             "words": "100 board", "corner": 3}  # fmt: skip
    assert markers["rec"]["at_m"] == pytest.approx(onset["station_m"], abs=2.0)
    assert circuit("remove-marker", made, "oak") == 0
    assert "no marker “oak”" in fails(capsys, 6, "circuit", "remove-marker", made, "oak")
    assert "--metres" in fails(capsys, 1, "circuit", "add-marker", made, "--key", "x", "--kind", "board",
                               "--before-corner", 3)  # fmt: skip
    assert "--project" in fails(capsys, 1, "circuit", "add-marker", made, "--key", "x", "--kind", "b", "--media", 9)
    assert "LAT,LON" in fails(capsys, 1, "circuit", "add-marker", made, "--key", "x", "--kind", "b",
                              "--position=45")  # fmt: skip


def test_brakes_are_counted_from_the_board(project: Path, made: Path, truth: dict[str, Any], as_json: Run) -> None:
    """The recipe's own braking points and boards, both as stations of the centre line on the opening straight."""
    for board in (b for b in truth["boards"] if b["corner"] == 1):
        words = f"{board['distance_m']} board"
        where = f"--position={board['lat']},{board['lon']}"
        circuit("add-marker", made, "--key", words, "--kind", "board", "--words", words, "--corner", 1, where)
    circuit("use", project, made)
    for lap in (1, 2, 3):
        onset = truth["laps"][lap - 1]["corners"]["1"]["brake_onset"]
        found = as_json("corners", project, "--lap", lap, "--facts", 1)["corners"][0]
        past = {m["distance_m"]: onset["station_m"] - m["station_m"] for m in truth["boards"] if m["corner"] == 1}
        nearest = int(found["markers"]["brake"]["words"].split()[0])
        assert found["facts"]["brake.past_marker_m"]["value"] == pytest.approx(past[nearest], abs=1.5)
        assert abs(past[nearest]) == min(abs(gap_m) for gap_m in past.values() if gap_m > -15)


def test_corners_are_merged_split_and_moved(made: Path, as_json: Run, capsys: pytest.CaptureFixture[str]) -> None:
    before = as_json("circuit", "list", made)["corners"]
    assert circuit("merge", made, 7, "--name", "Cormorant") == 0
    merged = as_json("circuit", "list", made)["corners"]
    assert len(merged) == len(before) - 1
    assert merged[6]["name"] == "Cormorant"
    assert len(merged[6]["apexes"]) == 2
    assert circuit("split", made, 7, "--at", before[6]["exit_m"], "--name", "two") == 0
    assert [c["name"] for c in as_json("circuit", "list", made)["corners"][6:8]] == ["Cormorant", "two"]
    assert circuit("move", made, 4, "--entry", before[3]["entry_m"] + 5, "--not-flat") == 0
    fourth = as_json("circuit", "list", made)["corners"][3]
    assert (fourth["entry_m"], fourth["flat"]) == (before[3]["entry_m"] + 5, False)
    text = made.read_text("utf-8")
    assert "turns left and corner 6 turns right" in fails(capsys, 6, "circuit", "merge", made, 5)
    assert "overlap" in fails(capsys, 6, "circuit", "move", made, 1, "--exit", before[1]["entry_m"] + 9)
    assert "nothing was changed" in fails(capsys, 6, "circuit", "move", made, 1, "--entry", -3)
    assert "no corner 40" in fails(capsys, 6, "circuit", "rename", made, 40, "x")
    assert made.read_text("utf-8") == text


def test_notes_stay_on_the_ground_when_laps_begin_elsewhere(
    made: Path, as_json: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A log whose counter steps 400 m behind the start line, placed on the circuit of the first."""
    frame = pd.read_csv(SAMPLE / "session.csv")
    column = next(name for name in frame if str(name).startswith("lap distance"))
    run_m = frame[column].to_numpy()
    late = (run_m < 400) & (frame["lap"] > frame["lap"].iloc[0])
    frame.loc[late, "lap"] -= 1
    frame = frame.drop(columns=[column])
    frame.to_csv(tmp_path / "late.csv", index=False)
    other = tmp_path / "other.syncview.json"
    assert (
        main(["new", str(other), "--recording", str(SAMPLE / "session.mp4"), "--log", str(tmp_path / "late.csv")]) == 0
    )
    assert main(["notes", "add", str(other), "The church", "--at", "1600"]) == 0
    capsys.readouterr()
    assert circuit("use", other, made) == 0
    said = capsys.readouterr().out
    shift_m = float(re.search(r"lap starts lie (\d+) m behind the circuit's start line, where laps begin now", said)[1])  # type: ignore[index]
    assert abs(shift_m - 400) < 12, "the counter was made to step by an odometer that drives another line"
    assert "1 notes have another lap distance" in said
    (note,) = as_json("notes", "list", other)
    length_m = read_circuit(made).lap_length_m
    assert note["lap_distance_m"] == pytest.approx((1600 + 400) % length_m, abs=2.0)
    times = [lap["time_ms"] for lap in as_json("laps", other)["laps"] if lap["timed"]]
    assert times == pytest.approx([59812, 58507, 59342], abs=30), "the lap times of the start line, by position"
    assert circuit("leave", other) == 0
    (note,) = as_json("notes", "list", other)
    assert note["lap_distance_m"] == pytest.approx(1600, abs=1.0)


def test_bad_circuit_files(project: Path, made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, before = made.read_text("utf-8"), project.read_text("utf-8")
    assert "exists" in fails(capsys, 7, "circuit", "make", project, made)
    assert "no such file" in fails(capsys, 6, "circuit", "use", project, tmp_path / "none.toml")
    elsewhere = tmp_path / "elsewhere.toml"
    moved = text.replace(", -30.", ", -31.").replace(", -29.", ", -30.").replace("lon = -30.", "lon = -31.")
    elsewhere.write_text(moved.replace("lon = -29.", "lon = -30."), "utf-8")
    said = fails(capsys, 6, "circuit", "use", project, elsewhere)
    assert "only 0% of the lap lies within 15 m of the circuit's line" in said
    assert "driven elsewhere, or on another layout" in said
    overlapping = tmp_path / "overlap.toml"
    exit_m = f"exit_m = {read_circuit(made).corners[0].exit_m}"
    overlapping.write_text(text.replace(exit_m, f"exit_m = {read_circuit(made).corners[1].entry_m + 20}", 1), "utf-8")
    assert "corners 1 and 2 overlap by 20.0 m" in fails(capsys, 6, "circuit", "use", project, overlapping)
    assert project.read_text("utf-8") == before
    assert circuit("use", project, made) == 0
    made.unlink()
    assert "circuit use mine.syncview.json FILE" in fails(capsys, 6, "corners", project)
    assert circuit("leave", project) == 0
    assert main(["corners", str(project)]) == 0


def test_a_log_that_does_not_count_laps(made: Path, as_json: Run, tmp_path: Path) -> None:
    """Its laps begin where its position crosses the circuit's start line."""
    frame = pd.read_csv(SAMPLE / "session.csv")
    frame = frame.drop(columns=[name for name in frame if str(name).startswith("lap")])
    frame.to_csv(tmp_path / "uncounted.csv", index=False)
    assert main([str(word) for word in new(tmp_path, SAMPLE / "session.mp4", tmp_path / "uncounted.csv")]) == 0
    assert circuit("use", tmp_path / "p", made) == 0
    times = [lap["time_ms"] for lap in as_json("laps", tmp_path / "p")["laps"] if lap["timed"]]
    assert times == pytest.approx([59812, 58507, 59342], abs=40)


def test_every_action_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    actions = ("make", "use", "leave", "list", "add-marker", "remove-marker", "rename", "merge", "split", "move")
    for words in ([], *([action] for action in actions)):
        with pytest.raises(SystemExit) as done:
            main(["circuit", *words, "--help"])
        assert done.value.code == 0
        assert "usage: syncview circuit" in capsys.readouterr().out
