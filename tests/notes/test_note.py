"""The list of notes as plain values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.notes.note import LONGEST_NOTE, Note, NoteError, Notes, add, edit, remove
from syncview.notes.speech import ImportOptions, Place, notes_from_captions
from syncview_codecs.captions.cue import Cue


def notes() -> Notes:
    made = add((), 1, lap_distance_m=300, text="Brake")
    made = add(made, 2, lap_distance_m=100, text="Turn in", origin="draft")
    return add(made, 3, lap_distance_m=200, text="um, wait", origin="import")


def test_notes_are_kept_in_lap_order() -> None:
    assert [note.key for note in notes()] == ["n2", "n3", "n1"]


def test_editing_makes_a_note_the_coachs_and_keeps_what_was_imported() -> None:
    changed = edit(notes(), "n3", text="Wait")
    note = next(note for note in changed if note.key == "n3")
    assert (note.text, note.origin, note.original) == ("Wait", "coach", "um, wait")
    again = next(note for note in edit(changed, "n3", text="Wait!") if note.key == "n3")
    assert again.original == "um, wait"


def test_moving_keeps_words_and_origin() -> None:
    moved = edit(notes(), "n2", lap_distance_m=999.999)
    assert moved[-1] == Note("n2", 1000.0, "Turn in", "draft")


def test_removing_an_unknown_note_names_those_there_are() -> None:
    assert [note.key for note in remove(notes(), "n3")] == ["n2", "n1"]
    with pytest.raises(NoteError, match=r"no note “n9”.*n2, n3, n1"):
        remove(notes(), "n9")


@pytest.mark.parametrize("text", ["", " \n ", "x" * (LONGEST_NOTE + 1), "bell\x07", "nul\0"])
def test_words_that_cannot_be_a_note(text: str) -> None:
    with pytest.raises(NoteError):
        add((), 1, lap_distance_m=0, text=text)


@pytest.mark.parametrize("metres", [-1.0, float("nan"), float("inf")])
def test_places_that_are_none(metres: float) -> None:
    with pytest.raises(NoteError, match="not a lap distance"):
        add((), 1, lap_distance_m=metres, text="x")


@given(st.lists(st.floats(0, 1e5), max_size=30))
def test_order_holds_for_any_places(places: list[float]) -> None:
    made: Notes = ()
    for i, metres in enumerate(places, 1):
        made = add(made, i, lap_distance_m=metres, text="x")
    assert list(made) == sorted(made, key=lambda note: note.lap_distance_m)
    assert len({note.key for note in made}) == len(places)


def _place(media_s: float) -> Place | None:
    """Two laps of 60 s at 30 m/s from 10 s on."""
    lap, along = divmod(media_s - 10, 60)
    return Place(int(lap) + 1, along * 30) if 0 <= lap < 2 else None


def test_captions_become_notes_where_the_car_is() -> None:
    cues = [Cue(5_000, 6_000, "Out-lap"), Cue(20_000, 22_000, "Brake\n at the board"), Cue(80_000, 81_000, "Lap two")]
    heard = notes_from_captions(cues, _place, next_key=5)
    assert heard.notes == (
        Note("n5", 300.0, "Brake at the board", "import"),
        Note("n6", 300.0, "Lap two", "import"),
    )
    assert heard.left_out == ("“Out-lap” at 5.00 s is spoken outside the timed laps",)


def test_one_lap_may_be_chosen() -> None:
    cues = [Cue(20_000, 22_000, "First"), Cue(80_000, 81_000, "Second")]
    heard = notes_from_captions(cues, _place, next_key=1, options=ImportOptions(lap=2))
    assert [note.text for note in heard.notes] == ["Second"]
    assert "spoken over lap 1" in heard.left_out[0]
