"""What keys mean on the strip."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from PyQt6.QtCore import Qt

from syncview.desk.plan.values import next_speed, snapped_hold, snapped_speed

if TYPE_CHECKING:
    from syncview.desk.plan.pieces import Piece

HOLD_STEP_S = Fraction(1, 2)
"""Up and down make a hold longer or shorter by this."""
KEYS = frozenset({
    Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Return, Qt.Key.Key_Enter,
    Qt.Key.Key_Delete, Qt.Key.Key_Backspace, Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_Plus, Qt.Key.Key_Minus,
    Qt.Key.Key_0,
})  # fmt: skip


def stepped_to(key: Qt.Key, chosen: int | None, numbers: Sequence[int]) -> int | None:
    """The piece that a key goes to, of the ones that keys step through; None when there is none."""
    if not numbers:
        return None
    if key == Qt.Key.Key_Home or (key == Qt.Key.Key_Right and chosen is None):
        return numbers[0]
    if key == Qt.Key.Key_End or chosen is None:
        return numbers[-1]
    if key == Qt.Key.Key_Right:
        return next((one for one in numbers if one > chosen), numbers[-1])
    return next((one for one in reversed(numbers) if one < chosen), numbers[0])


def keyed_value(piece: Piece, key: Qt.Key) -> Fraction:
    """What a key would pin a piece to: Enter what it is, up and down a step more or less."""
    step = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(key, 0)
    if piece.kind == "hold":
        return snapped_hold(float(piece.length_s + step * HOLD_STEP_S))
    return next_speed(piece.speed, step) if step else snapped_speed(float(piece.speed))
