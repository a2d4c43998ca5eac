"""Words of the list, its shapes and its broken lines."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest
from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QFont, QFontMetricsF, QImage, QPainter

from syncview.desk import theme
from syncview.desk.notes import words
from syncview.desk.notes.listing import ListedNote, Speaking
from syncview.desk.notes.painting import draw_shape, wrapped
from syncview.desk.notes.verdict_lines import NoteCheck, OffBy, VerdictLine
from syncview.notes.note import Note

if TYPE_CHECKING:
    from PyQt6.QtWidgets import QApplication

    from syncview.notes.check import Outcome

ROW = ListedNote(Note("n1", 412.0, "Brake"), None, 86.0, Speaking(Fraction(21, 5), "estimate"), opens_corner=True)
WRONG = VerdictLine("disagree", "third", "second is the lowest", OffBy("gears", -1.0, ""), 0, 5)
UNSURE = VerdictLine("cannot tell", "75 %", "which pedal is not said", None, 0, 4)


def test_places_and_speaking_times() -> None:
    assert words.place(ROW, "metric") == "412 m · 86 m before the apex"
    # 1 yd = 0.9144 m (NIST SP 811): 412 m are 450.6 yd, 86 m are 94.05 yd.
    assert words.place(ROW, "imperial") == "451 yd · 94 yd before the apex"
    assert words.place(replace(ROW, to_apex_m=-30.4), "metric") == "412 m · 30 m past the apex"
    assert words.place(replace(ROW, to_apex_m=0.2), "metric") == "412 m · at the apex"
    assert words.place(replace(ROW, to_apex_m=None), "metric") == "412 m"
    assert words.speaking(ROW.speaking) == "spoken ≈ 4.2 s"
    assert words.speaking(Speaking(Fraction(4), "voice")) == "your voice 4.0 s"
    assert words.speaking(Speaking(None, "not measured")) == "your voice"


@pytest.mark.parametrize(
    ("off", "told"),
    [
        (OffBy("gears", -1.0, ""), "1 gear"),
        (OffBy("gears", 2.0, ""), "2 gears"),
        (OffBy("speed", -17.8, "km/h"), "18 km/h"),
        (OffBy("time", 0.124, "s"), "0.12 s"),
        (OffBy("pressure", 5.23, "bar"), "5.2 bar"),
        (OffBy("pressure", 72.6, "psi"), "73 psi"),
        (OffBy("share", 18.0, "%"), "18 %"),
    ],
)
def test_amounts(off: OffBy, told: str) -> None:
    assert words.amount(off) == told


def test_a_note_in_words_says_all_that_is_seen() -> None:
    row = replace(ROW, note=replace(ROW.note, origin="draft", hold_s=3.0))
    told = words.row_in_words(row, NoteCheck((WRONG, UNSURE)), "metric")
    for part in ("n1", "412 m", "draft", "Brake", "≈ 4.2 s", "stops 3 s", "“third” disagrees by 1 gear: second",
                 "1 cannot be told"):  # fmt: skip
        assert part in told
    empty = replace(ROW, note=replace(ROW.note, text="…"))
    assert words.summary((empty, replace(row, note=replace(row.note, key="n2"))), {"n2": NoteCheck((WRONG,))}) == (
        "2 notes · 1 without words · 1 disagrees with the data"
    )


def test_each_verdict_has_a_shape_of_its_own(qapp: QApplication) -> None:
    """Without any colour they still differ: in a tenth of the pixels of the largest at least."""
    assert qapp is not None
    masks = []
    outcomes: tuple[Outcome, ...] = ("agree", "disagree", "cannot tell")
    for outcome in outcomes:
        image = QImage(24, 24, QImage.Format.Format_ARGB32)
        image.fill(0)
        painter = QPainter(image)
        draw_shape(painter, outcome, QRectF(2, 2, 20, 20), theme.DARK)
        painter.end()
        masks.append({(x, y) for x in range(24) for y in range(24) if image.pixelColor(x, y).alpha() > 127})
    for i, one in enumerate(masks):
        for other in masks[i + 1 :]:
            assert len(one ^ other) > 0.1 * max(len(one), len(other))


def test_lines_keep_all_words_and_fit(qapp: QApplication) -> None:
    assert qapp is not None
    font = QFont()
    text = "Brake at the \N{CHEQUERED FLAG} board \N{RACING CAR} and wait for the wheel\n\nThen " + "long" * 40
    lines = wrapped(text, font, 150)
    assert "".join(lines).replace(" ", "") == "".join(text.split())
    assert all(QFontMetricsF(font).horizontalAdvance(line) <= 151 for line in lines)
    assert "" in lines, "an empty line stays one"
    cut = wrapped(text, font, 150, most=3)
    assert len(cut) == 3
    assert cut[:2] == lines[:2]
    assert cut[2].endswith("…")
    assert wrapped("short", font, 150, most=3) == ["short"]
