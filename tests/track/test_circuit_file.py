"""Circuit files: read back as written, comments kept, faults named by place."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncview.errors import OutputError
from syncview.track.circuit import Circuit, CircuitError, faults_in
from syncview.track.circuit_file import circuit_of, read_circuit, write_changes, write_new
from syncview.track.corner_edits import add_marker, remove_marker, rename
from syncview.track.markers import Marker
from tests.track.made_circuits import POSITION, made

BOARD = Marker("b100-2", "board", 120.0, "100 board", "left", 2)


@pytest.fixture
def circuit() -> Circuit:
    return made(2)[2]


@pytest.fixture
def file(circuit: Circuit, tmp_path: Path) -> Path:
    path = tmp_path / "c.toml"
    write_new(circuit, path, overwrite=False)
    return path


def same(a: Circuit, b: Circuit) -> bool:
    for one, other in ((a.line, b.line),):
        assert (one is None) == (other is None)
        if one is not None and other is not None:
            assert np.array_equal(one.lat_deg, other.lat_deg)
            assert np.array_equal(one.lon_deg, other.lon_deg)
    return (a.name, a.lap_length_m, a.corners, a.markers, a.start_line) == (
        b.name, b.lap_length_m, b.corners, b.markers, b.start_line
    )  # fmt: skip


def test_what_is_written_is_read(circuit: Circuit, file: Path) -> None:
    assert same(read_circuit(file), circuit)


def test_a_circuit_without_position_keeps_how_it_bends(tmp_path: Path) -> None:
    circuit = made(2, without=POSITION)[2]
    write_new(circuit, tmp_path / "c.toml", overwrite=False)
    back = read_circuit(tmp_path / "c.toml")
    assert back.line is None
    assert back.curvature_1pm is not None
    assert circuit.curvature_1pm is not None
    assert np.abs(back.curvature_1pm - circuit.curvature_1pm).max() < 1e-5


def test_the_line_is_as_long_as_geodesics_between_its_points(circuit: Circuit) -> None:
    """geographiclib, WGS 84; a chord of 4 m in a bend of 16 m radius is 0.3 % short, over the lap it is 0.05 %."""
    assert circuit.line is not None
    ring = zip(circuit.line.lat_deg, circuit.line.lon_deg, np.roll(circuit.line.lat_deg, -1),
               np.roll(circuit.line.lon_deg, -1), strict=True)  # fmt: skip
    length_m = sum(Geodesic.WGS84.Inverse(a, b, c, d)["s12"] for a, b, c, d in ring)
    assert length_m == pytest.approx(circuit.lap_length_m, rel=5e-4)


def test_the_line_read_back_is_the_line_that_was_driven(circuit: Circuit) -> None:
    line, own = circuit.reference_line(), made(2)[1].track.line
    assert own is not None
    at_m, off_m = line.place_of(*own.plane.to_geodetic(own.x_m, own.y_m))
    assert np.abs(off_m).max() < 0.1
    gaps = (at_m - own.distance_m + 500) % circuit.lap_length_m - 500
    assert np.abs(gaps).max() < 0.3


def test_comments_order_and_foreign_spacing_survive_changes(file: Path) -> None:
    text = file.read_text("utf-8").replace("number = 3\n", "number = 3   # the fast one\n")
    text = text.replace("[start_line]", "# measured in spring\n[start_line]")
    file.write_text(text, "utf-8")
    changed = rename(add_marker(read_circuit(file), BOARD), 1, "Häfen “Eck”")
    write_changes(changed, file)
    now = file.read_text("utf-8")
    assert "number = 3   # the fast one" in now
    assert "# measured in spring\n[start_line]" in now
    assert now.index("[[marker]]") < now.index("[start_line]")
    assert same(read_circuit(file), changed)
    before, after = text.splitlines(), now.splitlines()
    assert [line for line in before if line not in after] == ['name = ""'] or len(set(before) - set(after)) == 0


def test_removing_the_last_marker_restores_the_file(circuit: Circuit, file: Path) -> None:
    text = file.read_text("utf-8")
    write_changes(add_marker(circuit, BOARD), file)
    assert file.read_text("utf-8") != text
    write_changes(remove_marker(read_circuit(file), BOARD.key), file)
    assert tomllib.loads(file.read_text("utf-8")) == tomllib.loads(text)


words = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(str.strip)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
@given(name=words, markers=st.lists(
    st.builds(Marker, words, words, st.integers(0, 9000).map(lambda n: n / 10), words,
              st.sampled_from(["left", "right", "across", None]), st.sampled_from([None, 1, 2])),
    max_size=4, unique_by=lambda m: m.key))  # fmt: skip
def test_any_words_come_back(tmp_path: Path, name: str, markers: list[Marker]) -> None:
    path = tmp_path / "c.toml"
    bare = replace(made(2, without=POSITION)[2], name=name)
    full = replace(bare, markers=tuple(markers))
    write_new(full, path, overwrite=True)
    assert read_circuit(path).markers == full.markers
    assert read_circuit(path).name == name
    write_new(bare, path, overwrite=True)
    write_changes(full, path)
    assert read_circuit(path).markers == full.markers


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("number = 2", "nubmer = 2", r"corner in place 2: the key “nubmer” is not known; is “number” meant"),
        ("number = 2", "number = 7", r"the 2nd \[\[corner\]\] has number 7"),
        ('side = "', 'side = "far ', r"corner 1: “side” is “far .*must be left or right"),
        ("lap_length_m = ", "lap_length_m = 1", r"lap_length_m is 1\d+\.\d, but \[line\] is"),
        ("schema = 1", "schema = 9", r"newer syncview"),
        ("schema = 1", 'schema = "x"', r"“schema” is not a number"),
        ("syncview circuit", "something", r"not a circuit file"),
        ("[start_line]", "[startline]", r"the file: the key “startline” is not known; is “start_line” meant"),
        ("heading_deg = ", "heading_deg = 9", r"\[start_line\] heads 9\d+"),
        ("flat = false", "flat = 0", r"corner 1: “flat” must be true or false"),
        ("entry_m = ", "entry_m = 9999", r"corner 1: entry_m is 9999\S+, outside the lap of"),
        ("entry_m = ", "entry_m = nan #", r"“entry_m” is not a finite number"),
        ("name = ", "name = [", r"not a TOML file \(.*line \d+"),
        ("points = [", "points = [1, ", r"\[line\]: point 1 must be \[latitude, longitude\]"),
    ],
)
def test_faults_are_named_by_place(file: Path, old: str, new: str, message: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    broken = text.replace(old, new, 1)
    if "syncview circuit" in old:
        broken = text.replace('format = "syncview circuit"', 'format = "something"')
    file.write_text(broken, "utf-8")
    with pytest.raises(CircuitError, match=message) as caught:
        read_circuit(file)
    assert str(file) in str(caught.value)


def test_contradictions_are_named(circuit: Circuit) -> None:
    first, second = circuit.corners[:2]

    def faults(**changes: object) -> str:
        return "; ".join(faults_in(replace(circuit, **changes)))  # type: ignore[arg-type]

    into = replace(first, exit_m=round(second.entry_m + 12.5, 1))
    assert "corners 1 and 2 overlap by 12.5 m" in faults(corners=(into, *circuit.corners[1:]))
    late = replace(first, apex_m=first.exit_m + 1, apexes=(first.exit_m + 1,))
    assert "corner 1: entry, apex and exit do not follow" in faults(corners=(late, *circuit.corners[1:]))
    assert "marker “b100-2”: at_m is 99999.0, outside" in faults(markers=(replace(BOARD, at_m=99999.0),))
    assert "two markers “b100-2”" in faults(markers=(BOARD, BOARD))
    assert "there is no corner 77" in faults(markers=(replace(BOARD, corner=77),))
    assert "must have either" in faults(line=None)
    assert "no [start_line]" in faults(start_line=None)
    assert "no lap is shorter" in faults(lap_length_m=float("nan"))
    line = circuit.line
    assert line is not None
    open_line = replace(line, lat_deg=line.lat_deg[:-60], lon_deg=line.lon_deg[:-60])
    assert "[line] does not close: its last point is" in faults(line=open_line)
    with_hole = replace(
        line, lat_deg=np.delete(line.lat_deg, slice(9, 30)), lon_deg=np.delete(line.lon_deg, slice(9, 30))
    )
    assert "behind point 9" in faults(line=with_hole)


def test_nothing_half_written(circuit: Circuit, file: Path, tmp_path: Path) -> None:
    text = file.read_text("utf-8")
    with pytest.raises(OutputError, match="exists"):
        write_new(circuit, file, overwrite=False)
    with pytest.raises(CircuitError):
        write_changes(replace(circuit, markers=(replace(BOARD, at_m=-1.0),)), file)
    assert file.read_text("utf-8") == text
    assert [path.name for path in tmp_path.iterdir()] == ["c.toml"]


def test_what_is_no_text_is_named(tmp_path: Path) -> None:
    with pytest.raises(CircuitError, match="no such file"):
        read_circuit(tmp_path / "none.toml")
    (tmp_path / "film.toml").write_bytes(bytes(range(256)))
    with pytest.raises(CircuitError, match="not UTF-8"):
        read_circuit(tmp_path / "film.toml")
    with pytest.raises(CircuitError, match="not a TOML file"):
        circuit_of("a" + "[" * 5000, where="x")
