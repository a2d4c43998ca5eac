"""The saved document: whole or old, never half; read back as it was; faults named by place."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncview.clock.clock_map import ClockMap
from syncview.clock.marks import Mark
from syncview.errors import ProjectError
from syncview.media_file import MediaFile
from syncview.notes.note import Note
from syncview.project import FORMAT, SCHEMA, Project, SavedClock, load, save

FILE = MediaFile("a/b.mp4", 12, "ab")
numbers = st.floats(allow_nan=False, allow_infinity=False, width=32)
names = st.text(min_size=1, max_size=20)
projects = st.builds(
    Project,
    recording=st.builds(MediaFile, names, st.integers(0, 2**50), names),
    log=st.just(FILE),
    roles=st.dictionaries(names, names, max_size=3),
    column_units=st.dictionaries(names, names, max_size=3),
    units=st.sampled_from(["metric", "imperial"]),
    marks=st.lists(st.builds(Mark, numbers, st.none() | st.integers(0, 99)), max_size=3).map(tuple),
    clock=st.none()
    | st.builds(
        SavedClock,
        clock=st.builds(ClockMap, numbers, st.floats(0.9, 1.1), numbers, st.floats(0, 1), st.floats(0, 1)),
        sure=st.booleans(),
        basis=names,
        doubts=st.lists(names, max_size=2).map(tuple),
        accepted=st.booleans(),
    ),
    lap=st.none() | st.integers(0, 99),
    notes=st.lists(st.tuples(st.floats(0, 1e5), names), max_size=4).map(
        lambda items: tuple(Note(f"n{i}", d, t) for i, (d, t) in enumerate(sorted(items)))
    ),
    notes_made=st.integers(0, 10**6),
    draft_template=st.text(max_size=40),
    conditions=st.dictionaries(names, names, max_size=3),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
@given(project=projects)
def test_what_is_saved_is_loaded(tmp_path: Path, project: Project) -> None:
    path = tmp_path / "p.json"
    save(project, path)
    assert load(path) == project


def test_the_document_is_readable_and_numbered(tmp_path: Path) -> None:
    save(Project(FILE, FILE, notes=(Note("n1", 3.0, "Bremse spät – ça va"),)), tmp_path / "p.json")
    text = (tmp_path / "p.json").read_text("utf-8")
    assert "Bremse spät – ça va" in text
    assert (json.loads(text)["format"], json.loads(text)["schema"]) == (FORMAT, SCHEMA)
    assert text.count("\n") > 20


@pytest.mark.parametrize(
    ("place", "value", "message"),
    [
        (("notes", 0, "lap_distance_m"), "far", r"notes\[0\].*lap_distance_m"),
        (("notes", 0, "origin"), "ghost", "origin"),
        (("units",), "furlongs", "units"),
        (("clock", "clock", "rate"), -1.0, "not a clock"),
        (("lap",), "two", "lap"),
        (("schema",), 99, "newer syncview"),
        (("schema",), None, "schema"),
        (("format",), "other", "not a project document"),
    ],
)
def test_faults_are_named_by_place(tmp_path: Path, place: tuple[str | int, ...], value: object, message: str) -> None:
    path = tmp_path / "p.json"
    save(Project(FILE, FILE, clock=SavedClock(ClockMap(0.0), True, "x"), notes=(Note("n1", 3.0, "x"),)), path)
    document = json.loads(path.read_text("utf-8"))
    inner = document
    for step in place[:-1]:
        inner = inner[step]
    inner[place[-1]] = value
    path.write_text(json.dumps(document), "utf-8")
    with pytest.raises(ProjectError, match=message) as caught:
        load(path)
    assert "p.json" in str(caught.value)


def test_two_notes_with_one_key_are_refused(tmp_path: Path) -> None:
    save(Project(FILE, FILE, notes=(Note("n1", 3.0, "x"), Note("n1", 4.0, "y"))), tmp_path / "p.json")
    with pytest.raises(ProjectError, match="two notes have the same key"):
        load(tmp_path / "p.json")


def test_a_save_that_fails_leaves_the_old_document(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "p.json"
    old = Project(FILE, FILE, lap=1)
    save(old, path)

    def full(*_: object, **__: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    with pytest.raises(ProjectError, match=r"cannot be saved.*no space left"):
        save(replace(old, lap=2), path)
    monkeypatch.undo()
    assert load(path) == old
    assert [p.name for p in tmp_path.iterdir()] == ["p.json"]


def test_this_schemas_document_as_it_was_written_first(tmp_path: Path) -> None:
    """A document of schema 1 as a file: later versions must go on reading it."""
    kept = Path(__file__).parent / "projects" / "schema_1.syncview.json"
    project = load(kept)
    assert project.clock is not None
    assert project.clock.clock.rate == pytest.approx(1.0000387)
    assert [note.key for note in project.notes] == ["n1", "n3"]
    save(project, tmp_path / "again.json")
    assert load(tmp_path / "again.json") == project
