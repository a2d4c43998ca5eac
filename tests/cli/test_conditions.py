"""The conditions card: from the log, else as said; both unit systems; faults named; a picture that fits."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from syncview.cli import main
from tests.cli.conftest import SAMPLE

Run = Callable[..., Any]


def test_the_log_is_read_and_the_rest_is_said(project: Path, as_json: Run, truth: dict[str, Any]) -> None:
    rows = as_json(
        "conditions", project, "--set", "fuel=3 US gal", "--set", "Set-up=soft front bar", "--set", "Helper=Ada"
    )
    by_name = {row["name"]: row for row in rows}
    assert [*by_name] == ["track_temperature", "air_temperature", "fuel", "setup", "helper"]
    # 3 US gal = 11.36 L (NIST SP 811 B.8: 1 US gallon = 3.785 412 E-03 m³).
    assert (by_name["fuel"]["metric"], by_name["fuel"]["imperial"]) == ("11.36 L", "3 US gal")
    start_s, end_s = truth["laps"][1]["start_log_s"], truth["laps"][2]["start_log_s"]
    frame = pd.read_csv(SAMPLE / "session.csv")
    lap = frame[(frame["time [s]"] >= start_s) & (frame["time [s]"] < end_s)]
    median = float(np.median(lap["track temperature [degC]"]))
    assert by_name["track_temperature"]["metric"] == f"{median:.1f} °C"
    assert "median of lap 2" in by_name["track_temperature"]["source"]
    assert as_json("conditions", project) == rows, "it was saved"


def test_the_coachs_word_stands_and_the_logs_is_told(project: Path, as_json: Run) -> None:
    rows = as_json("conditions", project, "--set", "track=79 F")
    track = rows[0]
    # 79 °F = 26.1 °C (79 - 32) / 1.8, NIST SP 811 B.9.
    assert (track["metric"], track["imperial"]) == ("26.1 °C", "79 °F")
    assert track["source"].startswith("said; the log has 31.")
    assert as_json("conditions", project, "--unset", "track")[0]["source"].startswith("log")


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("fuel=12 buckets", "“buckets” is not a unit that is known"),
        ("fuel=12", "“12” has no unit"),
        ("fuel=12 °C", "fuel cannot be in °C"),
        ("air=1.8 bar", "air cannot be in bar"),
        ("weather=", "not of the form NAME=VALUE"),
        ("=dry", "not of the form NAME=VALUE"),
        ("../x=dry", "cannot be the name"),
        ("tyres=" + "x" * 301, "do not fit the card"),
    ],
)
def test_faults_are_named_and_nothing_is_changed(
    project: Path, option: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = project.read_text("utf-8")
    assert main(["conditions", str(project), "--set", option]) in (1, 8)
    assert words in capsys.readouterr().err
    assert project.read_text("utf-8") == before


def test_unset_what_was_not_said(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["conditions", str(project), "--unset", "fuel"]) == 8
    assert "nothing was said of “fuel”" in capsys.readouterr().err


def test_words_are_allowed_for_quantities(project: Path, as_json: Run) -> None:
    rows = as_json("conditions", project, "--set", "fuel=half a tank")
    assert next(row for row in rows if row["name"] == "fuel")["imperial"] == "half a tank"


def test_more_entries_than_a_card_holds(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = [word for i in range(21) for word in ("--set", f"entry {i}=x")]
    assert main(["conditions", str(project), *options]) == 8
    assert "more than 20 entries" in capsys.readouterr().err
    assert not json.loads(project.read_text("utf-8")).get("conditions")


def test_the_picture(project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from PIL import Image

    card = tmp_path / "card.png"
    words = ["conditions", str(project), "--picture", str(card)]
    assert main([*words, "--set", "weather=" + "long words about the sky " * 12]) == 0
    assert "“Weather” is too long for the picture and was cut there" in capsys.readouterr().err
    with Image.open(card) as picture:
        assert (picture.size, picture.mode) == ((1920, 1080), "RGB")
    assert main(words) == 7
    assert "exists" in capsys.readouterr().err
    assert main([*words, "--overwrite"]) == 0
    assert main(["conditions", str(project), "--picture", str(tmp_path / "card.jpg")]) == 7
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("words", [["check"], ["conditions"], ["notes", "template"], ["notes", "draft"]])
def test_help(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main([*words, "--help"])
    assert done.value.code == 0
    assert "usage: syncview" in capsys.readouterr().out
