"""Speech at the right corners: merged, cleaned only when asked, originals kept, nothing made twice, nothing lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.notes.fillers import without_fillers
from syncview.notes.note import LONGEST_NOTE, Notes, edit
from syncview.notes.speech import Heard, ImportOptions, Place, notes_from_captions
from syncview_codecs.captions.cue import Cue


def place_at(media_s: float) -> Place | None:
    """Ten metres a second from 10 s on; laps of 1000 m, two of them."""
    driven_m = 10 * (media_s - 10)
    return Place(1 + int(driven_m // 1000), driven_m % 1000) if 0 <= driven_m < 2000 else None


def corner_of(lap_distance_m: float) -> int | None:
    """Corner 1 from 100 to 300 m with its approach, corner 2 from 300 to 500 m."""
    return 1 if 100 <= lap_distance_m < 300 else 2 if 300 <= lap_distance_m < 500 else None


def heard(*cues: Cue, options: ImportOptions | None = None, existing: Notes = ()) -> Heard:
    return notes_from_captions(cues, place_at, next_key=1, corner_of=corner_of, existing=existing, options=options)


def test_captions_about_one_corner_become_one_note() -> None:
    found = heard(
        Cue(21_000, 23_000, "Brake at the\nhundred."),
        Cue(25_000, 27_000, "Second gear."),
        Cue(41_000, 44_000, "Next one."),
    )
    assert [(n.lap_distance_m, n.text) for n in found.notes] == [
        (110.0, "Brake at the hundred. Second gear."), (310.0, "Next one."),
    ]  # fmt: skip
    assert found.notes[0].original == "Brake at the hundred.\nSecond gear."
    assert found.notes[1].original == ""
    assert found.captions_used == 3


def test_a_caption_across_a_border_goes_where_most_of_it_lies() -> None:
    # 38 to 44 s is 280 to 340 m: 20 m in corner 1, 40 m in corner 2; its note stands where corner 2 begins.
    (note,) = heard(Cue(38_000, 44_000, "Now the left.")).notes
    assert 300 <= note.lap_distance_m < 304
    (note,) = heard(Cue(34_000, 42_000, "Still the right.")).notes
    assert note.lap_distance_m == 240.0


def test_captions_at_no_corner_and_of_other_laps_stay_apart() -> None:
    found = heard(Cue(70_000, 71_000, "One."), Cue(75_000, 76_000, "Two."), Cue(125_000, 126_000, "Again."))
    assert [n.text for n in found.notes] == ["One.", "Two.", "Again."]
    found = heard(Cue(25_000, 26_000, "Lap one."), Cue(125_000, 126_000, "Lap two."), options=ImportOptions(lap=2))
    assert [n.text for n in found.notes] == ["Lap two."]
    assert found.left_out == ("“Lap one.” at 25.00 s is spoken over lap 1",)


def test_a_note_for_each_caption_on_request() -> None:
    cues = (Cue(21_000, 23_000, "A."), Cue(25_000, 27_000, "B."))
    assert [n.lap_distance_m for n in heard(*cues, options=ImportOptions(per_caption=True)).notes] == [110.0, 150.0]


def test_imported_twice_is_told_and_not_doubled() -> None:
    cues = (Cue(21_000, 23_000, "Um, brake."), Cue(25_000, 27_000, "Second."), Cue(41_000, 44_000, "Next."))
    first = heard(*cues, options=ImportOptions(clean=True))
    assert first.notes[0].text == "Brake. Second."
    again = heard(*cues, existing=first.notes)
    assert again.notes == ()
    assert again.known == ("“Um, brake. Second.” at 110 m", "“Next.” at 310 m")
    changed = edit(first.notes, "n2", text="Something else")
    assert heard(*cues, existing=changed).notes == (), "what was edited since is known by its original"
    assert len(heard(Cue(25_000, 27_000, "Second, really."), existing=first.notes).notes) == 1


def test_only_clean_changes_words_and_the_originals_stay() -> None:
    cue = Cue(21_000, 23_000, "So, um, brake at the the hundred, you know, hard.")
    assert heard(cue).notes[0].text == cue.text
    (note,) = heard(cue, options=ImportOptions(clean=True)).notes
    assert (note.text, note.original) == ("Brake at the hundred, hard.", cue.text)


def test_a_caption_of_fillers_alone_keeps_its_words() -> None:
    assert heard(Cue(21_000, 23_000, "Um."), options=ImportOptions(clean=True)).notes[0].text == "Um."


def test_more_than_a_note_holds_becomes_several() -> None:
    words = "word " * 900
    cues = [Cue(21_000 + 100 * i, 21_050 + 100 * i, words) for i in range(5)]
    found = heard(*cues)
    assert len(found.notes) == 3
    assert all(len(note.text) <= LONGEST_NOTE for note in found.notes)
    assert sum(note.text.count("word") for note in found.notes) == 5 * 900, "nothing is lost"


@pytest.mark.parametrize(
    ("said", "cleaned"),
    [
        ("Uh, brake here", "Brake here"),
        ("brake, um, hard", "Brake, hard"),
        ("Brake um hard.", "Brake hard."),
        ("Okay, so, down to second.", "Down to second."),
        ("Turn so late that it hurts.", "Turn so late that it hurts."),
        ("Do it like this, right to the kerb.", "Do it like this, right to the kerb."),
        ("It is, like, flat.", "It is, flat."),
        ("Right, left, right.", "Left, right."),
        ("Use the the kerb and and go.", "Use the kerb and go."),
        ("Again again and again.", "Again again and again."),
        ("The umbrella stand, err on the safe side.", "The umbrella stand, err on the safe side."),
        ("Well done there.", "Well done there."),
    ],
)  # fmt: skip
def test_fillers(said: str, cleaned: str) -> None:
    assert without_fillers(said) == cleaned


@given(
    st.text(max_size=60) | st.lists(st.sampled_from(["um", ",", "so", "the", "Brake", ".", "like", "é"])).map(" ".join)
)
def test_cleaning_only_leaves_out(text: str) -> None:
    """Its signs are a subsequence of the text's, but for capitals and blanks."""
    left = iter("".join(text.split()).casefold())
    assert all(sign in left for sign in "".join(without_fillers(text).split()).casefold())
