"""`syncview align` as a coach types it: marks on places, nudges, what is kept from call to call."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from syncview.cli import main
from tests.cli.conftest import SAMPLE
from tests.cli.test_bad_input import fails

BY_HAND = ("--no-sound", "--no-picture")
FRAME_S = 1 / 60


def offset_s(project: Path) -> float:
    return float(json.loads(project.read_text("utf-8"))["clock"]["clock"]["offset_s"])


def test_a_clock_is_nudged_later_and_earlier(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = offset_s(project)
    for by, seconds in (("1f", FRAME_S), ("-1f", -FRAME_S), ("+10ms", 0.01), ("-10ms", -0.01)):
        at = offset_s(project)
        assert main(["align", str(project), "--nudge", by]) == 0
        assert offset_s(project) - at == pytest.approx(seconds)
    assert offset_s(project) == pytest.approx(before)
    assert "is not a nudge" in fails(capsys, 1, "align", project, "--nudge", "-1")
    assert "Give --nudge alone" in fails(capsys, 1, "align", project, "--nudge", "1f", "--lap-start", "66.8")


def test_a_nudge_does_not_make_an_unsure_clock_sure(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["align", str(project), *BY_HAND, "--lap-start", "66.8"]) == 5
    capsys.readouterr()
    assert main(["align", str(project), "--nudge", "1f"]) == 5
    assert "add --accept to use it" in capsys.readouterr().err
    assert main(["align", str(project), "--nudge", "1f", "--accept"]) == 0


def test_a_marker_of_the_circuit_file_is_marked(
    project: Path, truth: dict[str, Any], as_json: Callable[..., Any], capsys: pytest.CaptureFixture[str]
) -> None:
    mark = "b100-1=69.73"
    said = fails(capsys, 1, "align", project, "--place", mark)
    assert "uses no circuit file" in said
    assert main(["circuit", "use", str(project), str(SAMPLE / "circuit.toml")]) == 0
    assert "b150-1, b100-1, b50-1" in fails(capsys, 1, "align", project, "--place", "b99=69.73")
    found = as_json("align", project, *BY_HAND, "--place", f"2/{mark}")
    assert found["sure"]
    assert found["clock"]["offset_s"] == pytest.approx(truth["clock"]["offset_s"], abs=0.05)


def test_a_mark_of_an_earlier_call_is_named_when_it_stands_in_the_way(
    project: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["align", str(project), *BY_HAND, "--lap-start", "2=66.81"]) == 0
    capsys.readouterr()
    assert main(["align", str(project), *BY_HAND, "--lap-start", "70"]) == 5
    assert "marks given earlier count, too (2=66.81); --forget-marks drops them" in capsys.readouterr().err
