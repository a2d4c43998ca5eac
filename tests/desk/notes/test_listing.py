"""The list of notes and the lines of the check, without a window."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from syncview.desk.notes.changes import NO_WORDS, drop, say
from syncview.desk.notes.listing import key_after, listed, neighbour
from syncview.desk.notes.verdict_lines import NoteCheck, lines_of, off_by, still_fits
from syncview.lesson.checking import CheckedNote, check_notes
from syncview.media_file import MediaFile
from syncview.notes.check import Verdict
from syncview.notes.claims import Claim
from syncview.notes.note import Note, Voice, add
from syncview.shown_units import Units

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.notes.claims import Quantity


def with_notes(session: Session, *at: tuple[float, str]) -> Session:
    notes: tuple[Note, ...] = ()
    for number, (place_m, text) in enumerate(at, 1):
        notes = add(notes, number, lap_distance_m=place_m, text=text)
    return replace(session, project=replace(session.project, notes=notes, notes_made=len(notes)))


def test_notes_stand_under_their_corners_in_lap_order(sample_session: Session) -> None:
    first, second = sample_session.corners[0], sample_session.corners[1]
    session = with_notes(
        sample_session, (second.apex_m, "B"), (first.exit_m - 1, "A2"), (first.entry_m - 50, "A1"), (1.0, "Straight")
    )
    rows = listed(session.project, session, None)
    assert [(row.note.text, row.corner and row.corner.number, row.opens_corner) for row in rows] == [
        ("Straight", None, True), ("A1", 1, True), ("A2", 1, False), ("B", 2, True),
    ]  # fmt: skip
    assert rows[1].to_apex_m == pytest.approx(first.apex_m - first.entry_m + 50, abs=0.01)
    assert rows[2].to_apex_m == pytest.approx(first.apex_m - first.exit_m + 1, abs=0.01)
    assert (rows[2].to_apex_m or 0.0) < 0
    assert rows[3].to_apex_m == pytest.approx(0, abs=0.01)


def test_without_a_session_the_notes_are_there_all_the_same(sample_session: Session) -> None:
    session = with_notes(sample_session, (10.0, "A"), (500.0, "B"))
    rows = listed(session.project, None, None)
    assert [(row.corner, row.to_apex_m, row.opens_corner) for row in rows] == [(None, None, True), (None, None, False)]


def test_speaking_time_is_an_estimate_until_a_voice_is_measured(sample_session: Session) -> None:
    # 6 words ("brake at the one hundred board") at 150 words a minute: the worked example of `speaking_s`.
    session = with_notes(sample_session, (250.0, "Brake at the 100 board"))
    (row,) = listed(session.project, session, None)
    assert row.speaking.said_by == "estimate"
    assert row.speaking.seconds == Fraction(12, 5)
    spoken = say(session.project, "n1", Voice(MediaFile("v.wav", 1, "f")))
    (row,) = listed(spoken, session, None)
    assert (row.speaking.seconds, row.speaking.said_by) == (None, "not measured")
    empty, _key = drop(sample_session.project, 1.0)
    assert empty.notes[0].text == NO_WORDS
    assert listed(empty, session, None)[0].speaking.seconds == 0


def test_from_note_to_note() -> None:
    notes = [Note(key, i * 1.0, "x") for i, key in enumerate("abc")]
    assert [neighbour(notes, key, 1) for key in ("a", "c", None)] == ["b", "c", "a"]
    assert [neighbour(notes, key, -1) for key in ("b", "a", None)] == ["a", "a", "c"]
    assert neighbour([], "a", 1) is None
    assert [key_after(notes, key) for key in "abc"] == ["b", "c", "b"]
    assert key_after(notes[:1], "a") is None


def test_lines_say_by_how_much(sample_session: Session) -> None:
    """The sample's first corner is driven in second gear (truth of the sample's recipe)."""
    apex_m = sample_session.corners[0].apex_m
    session = with_notes(sample_session, (apex_m - 5, "Down to fourth gear. Apex at 90 km/h."))
    (checked,) = check_notes(session, session.lap())
    check = lines_of(checked, "metric")
    assert check.count("disagree") == 2
    gear, speed = check.wrong
    assert gear.off_by is not None
    assert gear.off_by.measure == "gears"
    assert gear.off_by.value == -2
    assert speed.said == "Apex at 90 km/h" or "90 km/h" in speed.said
    assert speed.off_by is not None
    measured_kmh = float(speed.why.split(" km/h")[0])
    assert speed.off_by.value == pytest.approx(measured_kmh - 90, abs=0.5)
    assert checked.note.text[speed.begin : speed.end].replace("\n", " ") == speed.said


@pytest.mark.parametrize(
    ("quantity", "unit", "off", "units", "value", "label"),
    [
        # 1 mile = 1609.344 m, 1 yd = 0.9144 m, 1 psi = 6894.757 Pa (NIST SP 811, appendix B.8)
        ("speed", "m/s", 10.0, "metric", 36.0, "km/h"),
        ("speed", "m/s", 0.44704, "imperial", 1.0, "mph"),
        ("board", "m", -9.144, "imperial", -10.0, "yd"),
        ("board", "", 30.0, "metric", 30.0, "m"),
        ("brake", "1", 0.18, "metric", 18.0, "%"),
        ("brake_pressure", "Pa", 500_000.0, "metric", 5.0, "bar"),
        ("brake_pressure", "Pa", 6894.757, "imperial", 1.0, "psi"),
        ("lap_time", "s", 0.12, "metric", 0.12, "s"),
        ("corrections", "1", 2.0, "metric", 2.0, ""),
    ],
)
def test_differences_in_shown_units(
    quantity: Quantity, unit: str, off: float, units: Units, value: float, label: str
) -> None:
    off_by_it = off_by(Verdict(Claim(quantity, 0, 1, unit=unit), "disagree", "", off_by=off), units)
    assert off_by_it is not None
    assert off_by_it.value == pytest.approx(value, rel=1e-6)
    assert off_by_it.label == label


def test_what_agrees_is_off_by_nothing() -> None:
    assert off_by(Verdict(Claim("speed", 0, 1, unit="m/s"), "agree", "", off_by=1.0), "metric") is None
    assert off_by(Verdict(Claim("flat", 0, 1), "disagree", ""), "metric") is None


def test_a_check_is_about_the_words_and_the_place() -> None:
    note = Note("n1", 10.0, "Second gear")
    checked = CheckedNote(note, "", ())
    assert lines_of(checked, "metric") == NoteCheck(())
    assert still_fits(checked, replace(note, hold_s=3.0))
    assert not still_fits(checked, replace(note, text="Third gear"))
    assert not still_fits(checked, replace(note, lap_distance_m=11.0))
