"""Pictures: the ramp survives a grey printer, words find room, files are whole, repeatable and of their kind."""

from __future__ import annotations

import json
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from syncview.errors import OutputError, SyncviewError
from syncview.lesson.pictures import draw_corner, draw_map, look
from syncview.lesson.pictures.free_places import Box, Paper
from syncview.lesson.pictures.lap_map import BY_POSITION, bent_line, course_of
from syncview.lesson.session import Session, session_of
from syncview.media_file import MediaFile
from syncview.project import Project
from syncview.track.circuit_file import read_circuit

SAMPLE = Path(__file__).parents[2] / "sample_media"


@pytest.fixture(scope="module")
def project() -> Project:
    from syncview.media_file import fingerprint

    size, mark = fingerprint(SAMPLE / "session.csv")
    return Project(MediaFile("none.mp4", 1, "x"), MediaFile("session.csv", size, mark))


@pytest.fixture(scope="module")
def session(project: Project) -> Session:
    return session_of(project, SAMPLE / "p.syncview.json", circuit=read_circuit(SAMPLE / "circuit.toml"))


@pytest.fixture(scope="module")
def plain(project: Project) -> Session:
    return session_of(replace(project, units="imperial"), SAMPLE / "p.syncview.json")


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    shares = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def test_the_pace_ramp_grows_lighter_all_the_way() -> None:
    """So that faster is lighter on a grey printer and for all kinds of colour vision."""
    from matplotlib.colors import to_hex

    shades = [luminance(to_hex(look.pace_ramp()(share))) for share in np.linspace(0, 1, 101)]
    assert (np.diff(shades) > 0).all()
    assert (shades[-1] + 0.05) / (shades[0] + 0.05) > 10


@pytest.mark.parametrize("colour", [look.INK, look.QUIET, look.THROTTLE, look.BRAKE_WORDS])
def test_words_are_readable_on_paper(colour: str) -> None:
    """WCAG 2.2, 1.4.3 asks 4.5:1 of text; 1.4.11 asks 3:1 of signs."""
    assert 1.05 / (luminance(colour) + 0.05) >= 4.5
    assert 1.05 / (luminance(look.BRAKE) + 0.05) >= 3


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_kinds_are_told_by_the_suffix_and_repeatable(session: Session, tmp_path: Path, suffix: str) -> None:
    lap = session.lap(2)
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    for path in (first, second):
        draw_map(session, lap, path)
    opening = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}[suffix]
    assert first.read_bytes().startswith(opening)
    assert first.read_bytes() == second.read_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == [first.name, second.name]


def test_the_map_shows_what_it_promises(session: Session, tmp_path: Path) -> None:
    draw_map(session, session.lap(2), tmp_path / "map.png")
    with Image.open(tmp_path / "map.png") as opened:
        picture = np.asarray(opened.convert("RGB")).astype(int)
    for colour, least in ((look.BRAKE, 9 * 150), (look.THROTTLE, 9 * 100), (look.INK, 5000)):
        own = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)])
        assert (np.abs(picture - own).max(axis=2) < 12).sum() > least, colour
    edge = np.concatenate([picture[:4].reshape(-1, 3), picture[:, :4].reshape(-1, 3)])
    assert (edge == 255).all(), "nothing is cut off"


@pytest.mark.parametrize("number", [3, 4, 7])
def test_traces_of_usual_flat_and_double_corners(session: Session, plain: Session, tmp_path: Path, number: int) -> None:
    for name, each in (("a.png", session), ("b.png", plain)):
        draw_corner(each, each.lap(2), number, tmp_path / name, against=each.lap(1))
        with Image.open(tmp_path / name) as opened:
            assert opened.size == (1760, 1216)


def test_missing_channels_are_left_out(session: Session, tmp_path: Path) -> None:
    bare = replace(session, facts=replace(session.facts, brake=None, throttle=None, gear=None, steering_rad=None))
    draw_corner(bare, bare.lap(2), 1, tmp_path / "bare.svg")
    assert (tmp_path / "bare.svg").stat().st_size > 10_000


def test_names_in_any_script_do_no_harm(session: Session, tmp_path: Path) -> None:
    named = replace(session.circuit, name="鈴の丘 Größe") if session.circuit is not None else None
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        draw_map(replace(session, circuit=named), session.lap(2), tmp_path / "map.png")


def test_bad_outputs_are_refused(session: Session, tmp_path: Path) -> None:
    (tmp_path / "old.png").write_text("precious")
    lap = session.lap(2)
    with pytest.raises(OutputError, match=r"“\.jpg”"):
        draw_map(session, lap, tmp_path / "map.jpg")
    with pytest.raises(OutputError, match="exists"):
        draw_map(session, lap, tmp_path / "old.png")
    with pytest.raises(SyncviewError, match=r"no corner 44. Corners are: 1, 2"):
        draw_corner(session, lap, 44, tmp_path / "c.png")
    assert [path.name for path in tmp_path.iterdir()] == ["old.png"]


def test_a_line_drawn_from_bends_closes() -> None:
    """A circle of 50 m radius: its diameter is 100 m; then one whose sensor reads 3 % too little still closes."""
    lap_m = np.linspace(0, 2 * np.pi * 50, 158)
    for factor in (1.0, 0.97):
        x, y = bent_line(np.full(314, factor / 50), lap_m)
        assert np.hypot(x[-1] - x[0], y[-1] - y[0]) < 0.01
        assert np.ptp(x) == pytest.approx(100, abs=0.6)


def test_a_lap_without_position_is_drawn_from_the_circuit_or_from_its_bends(session: Session, plain: Session) -> None:
    blind = replace(session, track=replace(session.track, line=None))
    assert course_of(blind).made_from == BY_POSITION
    alone = course_of(replace(plain, track=replace(plain.track, line=None)))
    assert "no position" in alone.made_from
    sighted = course_of(plain)
    size = [np.hypot(np.ptp(c.x), np.ptp(c.y)) for c in (alone, sighted)]
    assert size[0] == pytest.approx(size[1], rel=0.15)


def test_words_take_the_first_free_place() -> None:
    paper = Paper(200, 100, np.array([[50.0, 50.0]]), 2.0)
    assert paper.best([Box(45, 45, 20, 10), Box(60, 45, 20, 10)]) == 1
    assert paper.best([Box(60, 45, 20, 10), Box(62, 47, 20, 10), Box(90, 45, 20, 10)]) == 2
    assert paper.best([Box(195, 45, 20, 10), Box(120, 45, 20, 10)]) == 1
    assert Box(0, 0, 10, 10).overlap(Box(5, 5, 10, 10)) == 25


def test_the_command(tmp_path: Path, project: Project, capsys: pytest.CaptureFixture[str]) -> None:
    from syncview.cli import main
    from syncview.project import save

    path = tmp_path / "p.syncview.json"
    save(replace(project, log=replace(project.log, path=str(SAMPLE / "session.csv"))), path)
    assert main(["picture", str(path), str(tmp_path / "c.pdf"), "--corner", "1", "--against", "3"]) == 0
    assert main(["picture", str(path), str(tmp_path / "c.gif")]) == 7
    assert main(["picture", str(path), str(tmp_path / "d.png"), "--lap", "9"]) == 4
    assert "Timed laps are: 1, 2, 3" in capsys.readouterr().err
    assert main(["consistency", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [lap["stands"] for lap in found["laps"]] == [True] * 3
    best = found["best_sections"]
    assert best["time_ms"] <= min(lap["time_ms"] for lap in found["laps"])
    assert sum(section["time_s"] for section in best["sections"]) == pytest.approx(best["time_ms"] / 1000, abs=0.0015)
    assert main(["consistency", str(path)]) == 0
    assert "upper bound of the pace, driven by nobody" in capsys.readouterr().out
    assert main(["consistency", str(path), "--facts", "3"]) == 0
    assert "slowest.speed_mps" in capsys.readouterr().out
    assert main(["consistency", str(path), "--facts", "4"]) == 1
    assert "no corner 4 to compare" in capsys.readouterr().err
