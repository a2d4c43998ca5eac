"""`syncview check` and `export --check` on the sample, whose talk is true in every word."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from syncview.cli import main
from tests.cli.conftest import SAMPLE

Run = Callable[..., Any]


@pytest.fixture
def talked(project: Path) -> Path:
    """The sample's project with the coach's talk, a note for each caption."""
    assert main(["notes", "import", str(project), str(SAMPLE / "talk.srt"), "--per-caption"]) == 0
    return project


def claims(found: Any) -> list[Any]:
    return [claim for note in found["notes"] for claim in note["claims"]]


def test_nothing_in_the_true_talk_disagrees(talked: Path, as_json: Run) -> None:
    found = as_json("check", talked, "--strict")
    assert found["disagree"] == 0
    assert len(found["notes"]) == 14
    outcomes = [claim["outcome"] for claim in claims(found)]
    assert outcomes.count("agree") >= 20


def test_nor_when_it_is_merged_by_corner(project: Path, as_json: Run) -> None:
    assert main(["notes", "import", str(project), str(SAMPLE / "talk.srt")]) == 0
    notes = as_json("notes", "list", project)
    corners = [note["corner"] for note in notes if note["corner"]]
    assert len(corners) == len(set(corners)), "one note for each corner"
    assert len(notes) < 14
    assert as_json("check", project, "--strict")["disagree"] == 0


def test_boards_are_known_from_the_circuit_file(talked: Path, as_json: Run) -> None:
    circuit = SAMPLE / "circuit.toml"
    assert main(["circuit", "use", str(talked), str(circuit)]) == 0
    found = as_json("check", talked, "--strict")
    boards = [claim for claim in claims(found) if claim["quantity"] == "board"]
    # The truth knows where the boards stand and where lap 2 brakes: 17.7 m past the first hundred, just before the
    # fifty at corner 3, past the hundred at corner 5.
    assert [(claim["marker"], claim["outcome"]) for claim in boards] == [
        ("100", "agree"), ("50", "agree"), ("100", "agree"),
    ]  # fmt: skip


def test_what_is_wrong_is_named_with_by_how_much(
    project: Path, as_json: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "Down to third, 95 km/h at the apex, brake 110 m before the apex."
    assert main(["notes", "add", str(project), text, "--corner", "1"]) == 0
    found = as_json("check", project, "--strict", code=9)
    by_kind = {claim["quantity"]: claim for claim in claims(found)}
    assert {kind: claim["outcome"] for kind, claim in by_kind.items()} == {
        "gear": "disagree", "speed": "disagree", "from_apex": "agree",
    }  # fmt: skip
    # The truth has 71.8 km/h at the slowest of corner 1 on lap 2, in second.
    assert by_kind["speed"]["off_by"] * 3.6 == pytest.approx(71.8 - 95, abs=0.5)
    assert main(["check", str(project)]) == 0, "without --strict it only tells"
    printed = capsys.readouterr().out
    assert "DISAGREES  “95 km/h”: 72 km/h slowest" in printed
    assert "3 claims in 1 notes; 1 agree, 2 disagree, 0 cannot be told" in printed
    assert as_json("check", project, "--within-speed-kmh", "30", "--strict", code=9)["disagree"] == 1


def test_every_draft_agrees(project: Path, as_json: Run) -> None:
    assert main(["notes", "draft", str(project)]) == 0
    found = as_json("check", project, "--strict")
    outcomes = [claim["outcome"] for claim in claims(found)]
    assert outcomes.count("agree") == len(outcomes) >= 60
    # The early-braking first lap is another lap: what holds for lap 2 does not hold there.
    assert as_json("check", project, "--lap", "1")["disagree"] > 0


def test_export_is_refused_before_anything_is_written(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["notes", "add", str(project), "Down to fourth.", "--corner", "3"]) == 0
    out = tmp_path / "out"
    assert main(["export", str(project), str(out), "captions", "--check"]) == 9
    printed = capsys.readouterr().err
    assert "n1: “Down to fourth” but second is the lowest" in printed
    assert "one claim of the notes disagrees with lap 2; nothing was written" in printed
    assert not out.exists()
    assert main(["notes", "edit", str(project), "n1", "--text", "Down to second."]) == 0
    assert main(["export", str(project), str(out), "captions", "--check"]) == 0
    assert (out / "lap-2.srt").exists()


def test_bad_tolerances(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(project), "--within-length-m", "-1"]) == 1
    assert "--within-length-m cannot be -1" in capsys.readouterr().err


def test_templates(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "mine.txt"
    mine.write_text("{% if gear_down_to %}gear {{ gear_down_to }}{% else %}no change{% endif %}", "utf-8")
    assert main(["notes", "template", str(project), "--set", str(mine)]) == 0
    capsys.readouterr()
    assert main(["notes", "template", str(project), "--show"]) == 0
    assert capsys.readouterr().out.strip() == mine.read_text("utf-8")
    assert main(["notes", "draft", str(project)]) == 0
    assert "Gear 2." in capsys.readouterr().out
    mine.write_text("{{ brake_speed | speed }}", "utf-8")  # corner 4 is flat: nothing to print there
    assert main(["notes", "template", str(project), "--set", str(mine)]) == 8
    printed = capsys.readouterr().err
    assert "line 1: brake_speed is not known here: not braked (corner 4)" in printed
    assert "gear {{ gear_down_to }}" in json.loads(project.read_text("utf-8"))["draft_template"], "the old one stays"
    mine.write_text("{% for x in range(99999999) %}{% endfor %}", "utf-8")
    assert main(["notes", "template", str(project), "--set", str(mine)]) == 8
    assert main(["notes", "template", str(project), "--set", str(tmp_path / "none")]) == 1
    assert main(["notes", "template", str(project), "--reset"]) == 0
    assert json.loads(project.read_text("utf-8"))["draft_template"] == ""
    capsys.readouterr()
    assert main(["notes", "template", str(project), "--values"]) == 0
    assert "brake_before_apex" in capsys.readouterr().out


def test_drafts_can_be_read_in_the_time_the_corner_lasts(
    project: Path, as_json: Run, capsys: pytest.CaptureFixture[str]
) -> None:
    """180 words a minute (BBC Subtitle Guidelines, 4), counted here by hand, against the corner's own time."""
    spans = {span["corner"]["number"]: span for span in as_json("corners", project)["corners"]}
    for speed in (0.25, 0.5):
        assert main(["notes", "draft", str(project), "--speed", str(speed)]) == 0
        assert "takes" not in capsys.readouterr().err
        for note in as_json("notes", "list", project):
            span = spans[int(note["corner"].split()[1])]
            lasts_s = (span["end_log_s"] - span["begin_log_s"]) / speed
            assert len(note["text"].split()) / 3.0 <= lasts_s, note
    assert main(["notes", "draft", str(project), "--speed", "1"]) == 0
    assert "s at 1 of full speed" in capsys.readouterr().err
    assert main(["notes", "draft", str(project), "--speed", "0"]) == 1


def test_importing_twice_makes_nothing_twice(project: Path, as_json: Run, capsys: pytest.CaptureFixture[str]) -> None:
    talk = str(SAMPLE / "talk.srt")
    assert main(["notes", "import", str(project), talk, "--clean"]) == 0
    before = as_json("notes", "list", project)
    capsys.readouterr()
    assert main(["notes", "import", str(project), talk]) == 0
    printed = capsys.readouterr()
    assert "made 0 notes from 14 of 14 captions" in printed.out
    assert "among the notes already" in printed.err
    assert as_json("notes", "list", project) == before


def test_a_note_of_ten_thousand_characters(project: Path, as_json: Run, capsys: pytest.CaptureFixture[str]) -> None:
    long = ("Brake at 72 km/h. " * 600)[:10_000].strip()
    assert main(["notes", "add", str(project), long, "--corner", "1"]) == 0
    (note,) = as_json("check", project)["notes"]
    assert note["text"] == long
    assert len(note["claims"]) > 500
    assert main(["notes", "add", str(project), long + " and more", "--corner", "1"]) == 8
    assert "longer than 10000" in capsys.readouterr().err
