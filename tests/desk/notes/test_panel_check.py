"""The check beside the notes, and drafts from the data, in the panel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt

from tests.desk.notes.test_panel import check_of, drive_to, notes, put

if TYPE_CHECKING:
    from pytestqt.qtbot import QtBot

    from syncview.desk.notes.panel import NotesPanel
    from syncview.desk.state import DeskState


# The check


def test_a_wrong_claim_is_told_at_once_in_words_and_shape(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot
) -> None:
    """The sample's first corner: second gear, 72 km/h at its slowest (as `syncview corners` prints)."""
    assert desk_state.session is not None
    apex_m = desk_state.session.corners[0].apex_m
    drive_to(desk_state, apex_m - 5)
    panel.drop_note()
    qtbot.keyClicks(panel.editor.text, "Second gear. Apex at 90 km/h.")
    qtbot.waitUntil(lambda: check_of(panel, "n1") is not None, timeout=10_000)
    outcomes = [(told.outcome, told.words) for told in panel.editor.verdicts.told]
    assert outcomes[0][0] == "disagree"
    assert "disagrees by 18 km/h: 72 km/h" in outcomes[0][1]
    assert outcomes[1][0] == "agree"
    assert "agrees" in outcomes[1][1]
    marks = panel.editor.text.extraSelections()
    assert [mark.cursor.selectedText() for mark in marks] == ["90 km/h"]
    assert "1 disagrees with the data" in panel.summary.text()
    assert "disagrees by 18 km/h" in panel.editor.accessibleName()
    for _ in range(len("90 km/h.")):
        qtbot.keyClick(panel.editor.text, Qt.Key.Key_Backspace)
    qtbot.keyClicks(panel.editor.text, "72 km/h.")
    qtbot.waitUntil(lambda: (check := check_of(panel, "n1")) is not None and not check.wrong, timeout=10_000)
    assert panel.editor.text.extraSelections() == []


def test_signs_beyond_the_first_plane_do_not_shift_the_marks(
    panel: NotesPanel, desk_state: DeskState, qtbot: QtBot
) -> None:
    assert desk_state.session is not None
    put(desk_state, (desk_state.session.corners[0].apex_m, "\N{CHEQUERED FLAG}\N{RACING CAR} Apex at 90 km/h."))
    panel.select("n1")
    qtbot.waitUntil(lambda: check_of(panel, "n1") is not None, timeout=10_000)
    assert [m.cursor.selectedText() for m in panel.editor.text.extraSelections()] == ["90 km/h"]


def test_verdicts_of_other_words_are_not_shown(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.session is not None
    put(desk_state, (desk_state.session.corners[0].apex_m, "Apex at 90 km/h."))
    panel.select("n1")
    qtbot.waitUntil(lambda: check_of(panel, "n1") is not None, timeout=10_000)
    panel.editor.text.setPlainText("Apex at 91 km/h.")
    assert check_of(panel, "n1") is None
    assert [told.words for told in panel.editor.verdicts.told] == ["checking…"]


# Drafts


def test_drafts_for_all_corners_and_for_one(panel: NotesPanel, desk_state: DeskState, qtbot: QtBot) -> None:
    assert desk_state.session is not None
    corner = desk_state.session.corners[1]
    put(desk_state, (corner.entry_m, "Mine"))
    assert panel.draft_all is not None
    with qtbot.waitSignal(panel.drafter.drafted, timeout=20_000):
        panel.draft_all.trigger()
    assert len(notes(desk_state)) == len(desk_state.session.corners)
    assert [note.text for note in notes(desk_state) if note.origin == "coach"] == ["Mine"]
    desk_state.history.undo()
    assert len(notes(desk_state)) == 1
    panel.select("n1")
    panel._name_corner()
    assert panel.draft_one is not None
    assert panel.draft_one.text() == f"Only corner {corner.number}"
    with qtbot.waitSignal(panel.drafter.drafted, timeout=20_000):
        panel.draft_one.trigger()
    assert [note.origin for note in notes(desk_state)].count("draft") == 1
    assert len(notes(desk_state)) == 2
    drafted = next(note for note in notes(desk_state) if note.origin == "draft")
    assert desk_state.selected_note == drafted.key
    assert "draft" in panel.editor.place.text()


def test_the_corner_at_the_playhead_is_meant_without_a_note(panel: NotesPanel, desk_state: DeskState) -> None:
    assert desk_state.session is not None
    drive_to(desk_state, desk_state.session.corners[4].apex_m)
    assert panel.corner_meant() == desk_state.session.corners[4].number
